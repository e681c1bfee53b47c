/* SPDX-License-Identifier: MIT */
#include "fuse-survey.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "hypergeometric.h"

/* Puts text in the arena. */
static const char *keep(struct nod_fuse_survey *s, const char *text)
{
	return nod_arena_printf(&s->arena, "%s", text);
}

static void *array(struct nod_fuse_survey *s, size_t count, size_t size)
{
	if (count > 1000000)
		return NULL;
	return nod_arena_alloc(&s->arena, (count ? count : 1) * size);
}

/* -- the lines ---------------------------------------------------------- */

static bool same_fuse(const struct nod_fuse_reading *a, const struct nod_fuse_reading *b)
{
	if (a->fuse != NOD_NONE || b->fuse != NOD_NONE)
		return a->fuse == b->fuse;
	return !a->unnamed && !b->unnamed && !strcasecmp(a->name, b->name);
}

static bool module_has_fuse(const struct nod_module *module, int fuse)
{
	for (size_t i = 0; i < module->fuse_count; i++)
		if (module->fuses[i] == fuse)
			return true;
	return false;
}

static bool line_find_modules(struct nod_fuse_survey *s, struct nod_fuse_line *line,
			      const struct nod_vehicle *vehicle)
{
	line->modules = array(s, vehicle->module_count, sizeof(int));
	if (!line->modules)
		return false;
	for (size_t i = 0; line->reading.fuse != NOD_NONE && i < vehicle->module_count; i++)
		if (module_has_fuse(&vehicle->modules[i], line->reading.fuse))
			line->modules[line->module_count++] = (int)i;
	return true;
}

static void line_find_current(struct nod_fuse_survey *s, struct nod_fuse_line *line,
			      const struct nod_vehicle *vehicle)
{
	const struct nod_fuse_reading *r = &line->reading;
	struct nod_fuse_resistance resistance;
	struct nod_error err = {""};
	int rc;

	if (r->fuse != NOD_NONE)
		rc = nod_fuse_resistance_of(&resistance, &vehicle->fuses[r->fuse], &err);
	else
		rc = nod_fuse_resistance_find(&resistance, r->name, r->family, r->rating_ma, &err);
	if (!rc)
		rc = nod_fuse_current(&line->current, r->uv, r->uncertainty_uv, &resistance, &err);
	line->known = !rc;
	line->refusal = keep(s, err.text);
}

static int compare_lines(const void *a, const void *b)
{
	const struct nod_fuse_line *x = a, *y = b;

	if (x->known != y->known)
		return x->known ? -1 : 1;
	if (x->known && x->current.ua != y->current.ua)
		return x->current.ua > y->current.ua ? -1 : 1;
	if (x->known && x->current.high_ua != y->current.high_ua)
		return x->current.high_ua > y->current.high_ua ? -1 : 1;
	return strverscmp(x->reading.name, y->reading.name); /* F2 before F10 */
}

static bool make_lines(struct nod_fuse_survey *s, const struct nod_vehicle *vehicle,
		       const struct nod_fuse_reading *readings, size_t count)
{
	s->lines = array(s, count, sizeof(*s->lines));
	if (!s->lines)
		return false;
	for (size_t i = 0; i < count; i++) {
		size_t j = 0;
		while (j < s->line_count && !same_fuse(&s->lines[j].reading, &readings[i]))
			j++;
		s->lines[j].reading = readings[i];
		if (j == s->line_count)
			s->line_count++;
	}
	for (size_t i = 0; i < s->line_count; i++) {
		struct nod_fuse_line *line = &s->lines[i];
		line_find_current(s, line, vehicle);
		if (!line_find_modules(s, line, vehicle))
			return false;
		s->known += line->known;
		s->carrying += line->known && line->current.state == NOD_FUSE_CARRIES;
	}
	qsort(s->lines, s->line_count, sizeof(*s->lines), compare_lines);
	return true;
}

/* -- what they have in common ------------------------------------------- */

static bool module_on_network(const struct nod_module *module, int network)
{
	for (size_t i = 0; i < module->network_count; i++)
		if (module->networks[i] == network)
			return true;
	return false;
}

static bool line_on_network(const struct nod_fuse_line *line, const struct nod_vehicle *vehicle,
			    int network)
{
	for (size_t i = 0; i < line->module_count; i++)
		if (module_on_network(&vehicle->modules[line->modules[i]], network))
			return true;
	return false;
}

static bool is_compared(const struct nod_fuse_line *line)
{
	return line->known && line->reading.fuse != NOD_NONE;
}

static bool carries(const struct nod_fuse_line *line)
{
	return line->current.state == NOD_FUSE_CARRIES;
}

/* Keeps one thing that fuses may share. Things that all or fewer than two of
 * the measured fuses have say nothing and are not compared. */
static void keep_common(struct nod_fuse_survey *s, struct nod_fuse_common *c)
{
	if (c->sharing < 2 || c->sharing == c->measured)
		return;
	s->compared++;
	if (c->both >= 2 &&
	    !nod_hypergeometric_tail(&c->chance, c->measured, c->sharing, c->carrying, c->both))
		s->common[s->common_count++] = *c;
}

/* Compares by a network or module: `index`. */
static void compare(struct nod_fuse_survey *s, const struct nod_vehicle *vehicle,
		    enum nod_fuse_tie tie, int index, const char *name)
{
	struct nod_fuse_common c = {.tie = tie, .name = name};

	for (size_t i = 0; i < s->line_count; i++) {
		const struct nod_fuse_line *line = &s->lines[i];
		if (!is_compared(line))
			continue;
		bool has = tie == NOD_TIE_NETWORK
				   ? line_on_network(line, vehicle, index)
				   : module_has_fuse(&vehicle->modules[index], line->reading.fuse);
		c.measured++;
		c.carrying += carries(line);
		c.sharing += has;
		c.both += carries(line) && has;
	}
	keep_common(s, &c);
}

static size_t count_ties(const struct nod_vehicle *vehicle)
{
	size_t ties = vehicle->network_count + vehicle->module_count;

	for (size_t i = 0; i < vehicle->fuse_count; i++)
		ties += 1 + vehicle->fuses[i].feed_count;
	return ties;
}

/* A box or a feed of a fuse, by its text. */
struct text_tie {
	enum nod_fuse_tie tie;
	const char *text;
	size_t fuse, place; /* place: in the map's order */
};

static int by_text(const void *a, const void *b)
{
	const struct text_tie *x = a, *y = b;
	int order = x->tie != y->tie ? (x->tie < y->tie ? -1 : 1) : strcasecmp(x->text, y->text);

	return order ? order : x->place < y->place ? -1 : x->place > y->place;
}

static size_t list_texts(const struct nod_vehicle *vehicle, struct text_tie *ties)
{
	size_t n = 0;

	for (size_t i = 0; i < vehicle->fuse_count; i++) {
		const struct nod_fuse *fuse = &vehicle->fuses[i];
		if (fuse->box) {
			ties[n] = (struct text_tie){NOD_TIE_BOX, fuse->box, i, n};
			n++;
		}
		for (size_t j = 0; j < fuse->feed_count; j++, n++)
			ties[n] = (struct text_tie){NOD_TIE_FEED, fuse->feeds[j], i, n};
	}
	qsort(ties, n, sizeof(*ties), by_text);
	return n;
}

/* What was measured of one fuse. */
struct fuse_count {
	unsigned measured, carrying;
};

static struct nod_fuse_common count_all(const struct nod_fuse_survey *s, struct fuse_count *counts)
{
	struct nod_fuse_common all = {0};

	for (size_t i = 0; i < s->line_count; i++) {
		const struct nod_fuse_line *line = &s->lines[i];
		if (!is_compared(line))
			continue;
		counts[line->reading.fuse].measured++;
		counts[line->reading.fuse].carrying += carries(line);
		all.measured++;
		all.carrying += carries(line);
	}
	return all;
}

/* Compares by boxes and feeds: those of one text stand together. */
static bool compare_texts(struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	struct text_tie *ties = array(s, count_ties(vehicle), sizeof(*ties));
	struct fuse_count *counts = array(s, vehicle->fuse_count, sizeof(*counts));

	if (!ties || !counts)
		return false;
	const struct nod_fuse_common all = count_all(s, counts);
	size_t count = list_texts(vehicle, ties);
	for (size_t i = 0, end; i < count; i = end) {
		struct nod_fuse_common c = all;
		c.tie = ties[i].tie;
		c.name = ties[i].text;
		for (end = i;
		     end < count && ties[end].tie == c.tie && !strcasecmp(ties[end].text, c.name);
		     end++) {
			if (end > i && ties[end].fuse == ties[end - 1].fuse)
				continue;
			c.sharing += counts[ties[end].fuse].measured;
			c.both += counts[ties[end].fuse].carrying;
		}
		keep_common(s, &c);
	}
	return true;
}

static int compare_common(const void *a, const void *b)
{
	const struct nod_fuse_common *x = a, *y = b;

	if (x->chance < y->chance || x->chance > y->chance)
		return x->chance < y->chance ? -1 : 1;
	if (x->tie != y->tie)
		return x->tie < y->tie ? -1 : 1;
	return strcmp(x->name, y->name);
}

static bool find_common(struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	s->common = array(s, count_ties(vehicle), sizeof(*s->common));
	if (!s->common)
		return false;
	for (size_t i = 0; i < vehicle->network_count; i++)
		compare(s, vehicle, NOD_TIE_NETWORK, (int)i, vehicle->networks[i].name);
	for (size_t i = 0; i < vehicle->module_count; i++)
		compare(s, vehicle, NOD_TIE_MODULE, (int)i, vehicle->modules[i].name);
	if (!compare_texts(s, vehicle))
		return false;
	for (size_t i = 0; i < s->common_count; i++) {
		double bound = s->common[i].chance * s->compared;
		s->common[i].corrected = bound < 1 ? bound : 1;
	}
	qsort(s->common, s->common_count, sizeof(*s->common), compare_common);
	return true;
}

/* -- the sum and the clamp ---------------------------------------------- */

static void compare_with_clamp(struct nod_fuse_survey *s, const int64_t *clamp_ua,
			       int64_t uncertainty_ua)
{
	for (size_t i = 0; i < s->line_count; i++) {
		if (!s->lines[i].known)
			continue;
		s->sum_low_ua += s->lines[i].current.low_ua;
		s->sum_high_ua += s->lines[i].current.high_ua;
	}
	if (!clamp_ua)
		return;
	int64_t ua = *clamp_ua < 0 ? -*clamp_ua : *clamp_ua;
	if (uncertainty_ua < NOD_CLAMP_DRIFT_UA)
		uncertainty_ua = NOD_CLAMP_DRIFT_UA;
	s->clamp_given = true;
	s->clamp_low_ua = ua > uncertainty_ua ? ua - uncertainty_ua : 0;
	s->clamp_high_ua = ua + uncertainty_ua;
	s->rest_low_ua = s->clamp_low_ua - s->sum_high_ua;
	s->rest_high_ua = s->clamp_high_ua - s->sum_low_ua;
	s->rest = s->rest_low_ua > 0    ? NOD_REST_MISSING
		  : s->rest_high_ua < 0 ? NOD_REST_EXCEEDED
					: NOD_REST_EXPLAINED;
}

static bool find_unmeasured(struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	s->unmeasured = array(s, vehicle->fuse_count, sizeof(int));
	if (!s->unmeasured)
		return false;
	for (size_t i = 0; i < vehicle->fuse_count; i++) {
		size_t j = 0;
		while (j < s->line_count && s->lines[j].reading.fuse != (int)i)
			j++;
		if (j == s->line_count)
			s->unmeasured[s->unmeasured_count++] = (int)i;
	}
	return true;
}

/* Bounds that keep every sum far from overflow: 1 MA is no car. */
#define LARGEST_CLAMP_UA INT64_C(1000000000000)

static int check(const struct nod_vehicle *vehicle, const struct nod_fuse_reading *readings,
		 size_t count, const int64_t *clamp_ua, int64_t uncertainty_ua,
		 struct nod_error *err)
{
	if (!count)
		return nod_error_set(err, EINVAL, "there are no fuse readings");
	if ((clamp_ua && (*clamp_ua > LARGEST_CLAMP_UA || *clamp_ua < -LARGEST_CLAMP_UA)) ||
	    uncertainty_ua > LARGEST_CLAMP_UA)
		return nod_error_set(err, EINVAL, "the clamp reading is not that of a car");
	for (size_t i = 0; i < count; i++)
		if (readings[i].fuse != NOD_NONE &&
		    (readings[i].fuse < 0 || (size_t)readings[i].fuse >= vehicle->fuse_count))
			return nod_error_set(err, EINVAL, "reading of a fuse that does not exist");
	return 0;
}

struct nod_fuse_survey *nod_fuse_survey_make(const struct nod_vehicle *vehicle,
					     const struct nod_fuse_reading *readings, size_t count,
					     const int64_t *clamp_ua, int64_t clamp_uncertainty_ua,
					     struct nod_error *err)
{
	int rc = check(vehicle, readings, count, clamp_ua, clamp_uncertainty_ua, err);
	struct nod_fuse_survey *s = rc ? NULL : calloc(1, sizeof(*s));

	if (!s) {
		errno = rc ? -rc : -nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	if (make_lines(s, vehicle, readings, count) && find_common(s, vehicle) &&
	    find_unmeasured(s, vehicle) && !s->arena.failed) {
		compare_with_clamp(s, clamp_ua, clamp_uncertainty_ua);
		return s;
	}
	nod_error_set(err, ENOMEM, "out of memory");
	nod_fuse_survey_free(s);
	errno = ENOMEM;
	return NULL;
}

void nod_fuse_survey_free(struct nod_fuse_survey *survey)
{
	if (!survey)
		return;
	nod_arena_free(&survey->arena);
	free(survey);
}

const char *nod_fuse_tie_name(enum nod_fuse_tie tie)
{
	static const char *const names[] = {"network", "module", "box", "feed"};
	return names[tie];
}

const char *nod_fuse_rest_name(enum nod_fuse_rest rest)
{
	static const char *const names[] = {"no-clamp", "explained", "missing", "exceeded"};
	return names[rest];
}
