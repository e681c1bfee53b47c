/* SPDX-License-Identifier: MIT */
/* An expectation against what was found. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "expectation-compare.h"
#include "quantity.h"

void nod_comparison_differ(struct nod_comparison *c, const struct nod_demand *demand,
			   const char *found, const char *remark)
{
	struct nod_difference *diff = &c->d->list[c->d->count++];

	diff->demand = demand;
	diff->found = found;
	diff->text = nod_arena_printf(&c->d->arena, "%s: expected %s, found %s%s", demand->label,
				      demand->text, *found ? found : "nothing", remark);
}

bool nod_demand_within(const struct nod_demand *d, int64_t found)
{
	switch (d->bound) {
	case NOD_BOUND_AT_MOST:
		return found <= d->value + d->tolerance;
	case NOD_BOUND_AT_LEAST:
		return found >= d->value - d->tolerance;
	case NOD_BOUND_EXACT:
		return found >= d->value - d->tolerance && found <= d->value + d->tolerance;
	default:
		return false;
	}
}

static bool is_culprit(const struct nod_suspect *s)
{
	return s->kind == NOD_SUSPECT_SENDER && s->probability >= 0.5;
}

const char *nod_expectation_culprits(const struct nod_findings *f, struct nod_arena *arena)
{
	const char *text = "";

	for (size_t i = 0; f->culprit != NOD_NONE && i < f->suspect_count; i++)
		if (is_culprit(&f->suspects[i]))
			text = nod_arena_printf(arena, "%s%s%s", text, *text ? "\n" : "",
						f->suspects[i].name);
	return *text ? text : NOD_NONE_NAMED;
}

/* The least likely of those named, or the likeliest sender when nobody is. */
static const struct nod_suspect *measured_suspect(const struct nod_findings *f)
{
	const struct nod_suspect *s = NULL;

	for (size_t i = 0; i < f->suspect_count; i++) {
		if (f->suspects[i].kind != NOD_SUSPECT_SENDER)
			continue;
		if (!s || (f->culprit != NOD_NONE && is_culprit(&f->suspects[i])))
			s = &f->suspects[i];
	}
	return s;
}

/* Rounded so that it meets the bound it is written behind. */
static const char *probability_text(struct nod_comparison *c, enum nod_demand_bound bound, double p)
{
	double percent = bound == NOD_BOUND_AT_LEAST  ? floor(100 * p)
			 : bound == NOD_BOUND_AT_MOST ? ceil(100 * p)
						      : 100 * p;

	return nod_arena_printf(&c->d->arena, bound == NOD_BOUND_EXACT ? "%.1f %%" : "%.0f %%",
				percent);
}

static const char *likeliest_remark(struct nod_comparison *c)
{
	const struct nod_suspect *s = measured_suspect(c->f);

	if (!s || c->f->culprit != NOD_NONE)
		return "";
	return nod_arena_printf(&c->d->arena, " (%s %.0f %%)", s->name, 100 * s->probability);
}

/* ---- who ---- */

static bool named(const char *names, const char *name)
{
	size_t length = strlen(name);

	for (const char *p = names; *p;) {
		size_t line = strcspn(p, "\n");
		if (line == length && !memcmp(p, name, length))
			return true;
		p += line + (p[line] == '\n');
	}
	return false;
}

/* "a\nb" as "a and b". */
static const char *as_list(struct nod_comparison *c, const char *names)
{
	const char *text = "";

	while (*names) {
		int line = (int)strcspn(names, "\n");
		text = nod_arena_printf(&c->d->arena, "%s%s%.*s", text, *text ? " and " : "", line,
					names);
		names += line + (names[line] == '\n');
	}
	return text;
}

/* All culprit lines together are one demand; the first of them stands for it. */
static void compare_culprits(struct nod_comparison *c, const struct nod_demand *first)
{
	const char *found = nod_expectation_culprits(c->f, &c->d->arena), *expected = "";
	bool same = true;

	for (size_t i = 0; i < c->x->count; i++) {
		const struct nod_demand *d = &c->x->demands[i];
		if (d->key != NOD_DEMAND_CULPRIT)
			continue;
		if (d < first)
			return;
		same = same && named(found, d->text);
		expected = nod_arena_printf(&c->d->arena, "%s%s%s", expected, *expected ? "\n" : "",
					    d->text);
	}
	if (same && strlen(found) == strlen(expected))
		return;
	nod_comparison_differ(c, first, found, "");
	c->d->list[c->d->count - 1].text = nod_arena_printf(
		&c->d->arena, "culprit: expected %s, found %s%s", as_list(c, expected),
		strcmp(found, NOD_NONE_NAMED) ? as_list(c, found) : "nobody named",
		likeliest_remark(c));
}

static void compare_role(struct nod_comparison *c, const struct nod_demand *d)
{
	const struct nod_findings *f = c->f;
	const char *found = f->culprit == NOD_NONE ? ""
						   : nod_role_name(f->suspects[f->culprit].role);

	if (strcmp(d->text, found))
		nod_comparison_differ(c, d, found, "");
}

static void compare_probability(struct nod_comparison *c, const struct nod_demand *d)
{
	const struct nod_suspect *s = measured_suspect(c->f);
	double p = s ? s->probability : 0;

	if (!nod_demand_within(d, llround(1e6 * p)))
		nod_comparison_differ(c, d, probability_text(c, d->bound, p),
				      s ? nod_arena_printf(&c->d->arena, " for %s", s->name) : "");
}

/* The network's first speaker in more than half of the unexplained wake-ups. */
static const char *usual_waker(const struct nod_findings *f)
{
	size_t total = 0;

	for (size_t i = 0; i < f->wake_count; i++)
		total += !*f->wakes[i].cause;
	for (size_t sender = 0; sender < f->sender_count; sender++) {
		size_t same = 0;
		for (size_t k = 0; k < f->wake_count; k++)
			same += !*f->wakes[k].cause && f->wakes[k].sender == (int)sender;
		if (2 * same > total)
			return f->senders[sender].name;
	}
	return "";
}

void nod_comparison_text(struct nod_comparison *c, const struct nod_demand *d, const char *found)
{
	if (strcmp(d->text, found))
		nod_comparison_differ(c, d, found, "");
}

/* ---- current ---- */

static void compare_current(struct nod_comparison *c, const struct nod_demand *d)
{
	/* Three digits are shown: half a percent is lost, and given back to bounds. */
	static const double toward[] = {1, 1.005, 0.995, 1};
	double ua, uncertainty;
	char buf[NOD_QUANTITY_TEXT];

	if (!nod_findings_rest_current(c->f, &ua, &uncertainty)) {
		nod_comparison_differ(c, d, "", ": no current at rest is known");
		return;
	}
	if (nod_demand_within(d, llround(ua)))
		return;
	nod_quantity_print(buf, llround(toward[d->bound] * ua), NOD_UNIT_AMPERE);
	nod_comparison_differ(c, d, nod_arena_printf(&c->d->arena, "%s", buf), "");
}

/* ---- all ---- */

static void compare(struct nod_comparison *c, const struct nod_demand *d)
{
	switch (d->key) {
	case NOD_DEMAND_VERDICT:
		nod_comparison_text(c, d, nod_verdict_name(c->f->verdict));
		break;
	case NOD_DEMAND_CULPRIT:
		compare_culprits(c, d);
		break;
	case NOD_DEMAND_ROLE:
		compare_role(c, d);
		break;
	case NOD_DEMAND_PROBABILITY:
		compare_probability(c, d);
		break;
	case NOD_DEMAND_WAKES_BY:
		nod_comparison_text(c, d, usual_waker(c->f));
		break;
	case NOD_DEMAND_QUIESCENT:
		compare_current(c, d);
		break;
	case NOD_DEMAND_SENTENCE:
		nod_comparison_text(c, d, c->f->sentence);
		break;
	case NOD_DEMAND_LOCKED:
	case NOD_DEMAND_VEHICLE:
	case NOD_DEMAND_KNOWN_MISS:
		break;
	default:
		nod_comparison_network(c, d);
		break;
	}
}

/* Marks the differences that are known, and notes known misses without one. */
static void apply_misses(struct nod_comparison *c)
{
	struct nod_differences *d = c->d;

	for (size_t i = 0; i < c->x->count; i++) {
		const struct nod_demand *miss = &c->x->demands[i];
		bool missed = false;
		if (miss->key != NOD_DEMAND_KNOWN_MISS)
			continue;
		for (size_t k = 0; k < d->count; k++)
			if (!strcmp(d->list[k].demand->label, miss->object)) {
				d->list[k].known = miss->text;
				missed = true;
			}
		if (!missed)
			d->healed[d->healed_count++] = miss;
	}
	for (size_t i = 0; i < d->count; i++)
		d->failures += !d->list[i].known;
}

struct nod_differences *nod_expectation_compare(const struct nod_expectation *x,
						const struct nod_findings *f)
{
	struct nod_differences *d = calloc(1, sizeof(*d));

	if (!d)
		return NULL;
	struct nod_comparison c = {x, f, d};
	d->list = nod_arena_alloc(&d->arena, (x->count + 1) * sizeof(*d->list));
	d->healed = nod_arena_alloc(&d->arena, (x->count + 1) * sizeof(*d->healed));
	if (d->list && d->healed) {
		for (size_t i = 0; i < x->count; i++)
			compare(&c, &x->demands[i]);
		apply_misses(&c);
	}
	if (d->arena.failed) {
		nod_differences_free(d);
		return NULL;
	}
	return d;
}

void nod_differences_free(struct nod_differences *d)
{
	if (!d)
		return;
	nod_arena_free(&d->arena);
	free(d);
}
