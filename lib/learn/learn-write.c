/* SPDX-License-Identifier: MIT */
/* What was learned, as lines for the vehicle file, and merged. */
#include "learn-internal.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "yaml-text.h"

/* ---- lines for the vehicle file ---- */

/* A remark broken into lines of 78 columns. */
void nod_learn_remark(FILE *out, const char *lead, const char *format, ...)
{
	char text[1000];
	size_t column = 0;
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	for (const char *word = text; *(word += strspn(word, " "));) {
		size_t length = strcspn(word, " ");
		if (column && strlen(lead) + column + 1 + length > 78) {
			fputc('\n', out);
			column = 0;
		}
		if (!column)
			fputs(lead, out);
		fprintf(out, " %.*s", (int)length, word);
		column += 1 + length;
		word += length;
	}
	fputc('\n', out);
}

/* Control characters of a journal would end a remark. */
const char *nod_learn_clean(char *buf, size_t size, const char *text)
{
	snprintf(buf, size, "%s", text);
	for (char *c = buf; *c; c++)
		if ((unsigned char)*c < 0x20 || *c == 0x7F)
			*c = ' ';
	return buf;
}

static bool is_line(const struct nod_learned_id *id)
{
	return id->confidence >= NOD_LEARN_SURE && !id->owner;
}

/* Each network once; true while `i` is the first ID of its network with a line. */
static bool first_of_network(const struct nod_learned_id *ids, size_t i)
{
	for (size_t k = 0; k < i; k++)
		if (is_line(&ids[k]) && !strcmp(ids[k].network, ids[i].network))
			return false;
	return is_line(&ids[i]);
}

static void write_networks(FILE *out, const struct nod_learned_id *ids, size_t count)
{
	const char *separator = "";

	fputs("    networks: [", out);
	for (size_t i = 0; i < count; i++)
		if (first_of_network(ids, i)) {
			fputs(separator, out);
			nod_yaml_write(out, ids[i].network);
			separator = ", ";
		}
	fputs("]\n", out);
}

/* "ids: [2A0, 2A8]" broken at 78 columns. */
static void write_ids(FILE *out, const struct nod_learned_id *ids, size_t count)
{
	char text[NOD_ID_TEXT];
	int column = 0;
	bool any = false;

	for (size_t i = 0; i < count; i++) {
		if (!is_line(&ids[i]) || ids[i].source_address >= 0)
			continue;
		if (any && column > 64) {
			fputs(",\n          ", out);
			column = 10;
		} else {
			column += fprintf(out, "%s", any ? ", " : "    ids: [");
		}
		column += fprintf(out, "%s", nod_id_print(text, ids[i].id));
		any = true;
	}
	fputs(any ? "]\n" : "", out);
}

static bool first_of_address(const struct nod_learned_id *ids, size_t i)
{
	for (size_t k = 0; k < i; k++)
		if (is_line(&ids[k]) && ids[k].source_address == ids[i].source_address)
			return false;
	return is_line(&ids[i]) && ids[i].source_address >= 0;
}

static void write_addresses(FILE *out, const struct nod_learned_id *ids, size_t count)
{
	bool any = false;

	for (size_t i = 0; i < count; i++)
		if (first_of_address(ids, i)) {
			fprintf(out, "%s%02X", any ? ", " : "    source address: [",
				(unsigned)ids[i].source_address);
			any = true;
		}
	fputs(any ? "]\n" : "", out);
}

static void write_whys(FILE *out, const struct nod_learned_id *ids, size_t count)
{
	char text[NOD_ID_TEXT], sure[16];

	for (size_t i = 0; i < count; i++) {
		const struct nod_learned_id *id = &ids[i];
		if (id->confidence < NOD_LEARN_PERHAPS)
			continue;
		snprintf(sure, sizeof(sure), "%.*f %%", id->confidence > 0.98 ? 1 : 0,
			 fmin(99.9, floor(id->confidence * 1000) / 10));
		nod_learn_remark(out, "    #", "%s: %s; %s%s%s%s", nod_id_print(text, id->id), sure,
				 id->why,
				 id->confidence < NOD_LEARN_SURE ? "; perhaps, not taken" : "",
				 id->conflict ? "; NOTE: "
				 : id->owner  ? "; the map has it right, as "
					      : "",
				 id->conflict ? id->conflict
				 : id->owner  ? id->owner
					      : "");
	}
}

/* Those that are only mentioned, in one remark. */
static void write_mentioned(FILE *out, const struct nod_learned_id *ids, size_t count)
{
	char list[900], text[NOD_ID_TEXT];
	size_t used = 0;

	for (size_t i = 0; i < count; i++) {
		if (ids[i].confidence >= NOD_LEARN_PERHAPS || used + 40 > sizeof(list))
			continue;
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s (%.0f %%)",
					 used ? ", " : "", nod_id_print(text, ids[i].id),
					 floor(ids[i].confidence * 100));
	}
	if (used)
		nod_learn_remark(out, "    #",
				 "Silent too, but perhaps only because others were: %s", list);
}

static size_t lines_in(const struct nod_learned_subject *s)
{
	size_t count = 0;

	for (size_t i = 0; i < s->id_count; i++)
		count += is_line(&s->ids[i]);
	return count;
}

/* "on F12" for what hangs on a fuse, else the name itself. */
static const char *module_name(char *buf, size_t size, const struct nod_learned_subject *s)
{
	char name[200];

	nod_learn_clean(name, sizeof(name), s->name);
	snprintf(buf, size, "%s%.70s", s->kind == NOD_LEARNED_FUSE ? "on " : "", name);
	return buf;
}

static void write_module_head(FILE *out, const char *name)
{
	fputs("  ", out);
	nod_yaml_write(out, name);
	fputs(":\n", out);
}

static void write_subject(FILE *out, const struct nod_learned_subject *s)
{
	char name[80], subject[200];

	nod_learn_clean(subject, sizeof(subject), s->name);
	nod_learn_remark(out, "  #",
			 "%s: isolated %u time%s, in %u of which something could be told.", subject,
			 s->isolations, s->isolations == 1 ? "" : "s", s->judged);
	if (!s->id_count)
		nod_learn_remark(out, "  #",
				 "Nothing that was heard hangs on it as far as can be seen.");
	if (lines_in(s)) {
		write_module_head(out, module_name(name, sizeof(name), s));
		write_networks(out, s->ids, s->id_count);
		write_ids(out, s->ids, s->id_count);
		write_addresses(out, s->ids, s->id_count);
		if (s->kind == NOD_LEARNED_FUSE) {
			fputs("    fuses: [", out);
			nod_yaml_write(out, s->name);
			fputs("]\n", out);
		}
	}
	write_whys(out, s->ids, s->id_count);
	write_mentioned(out, s->ids, s->id_count);
	fputc('\n', out);
}

static void write_group(FILE *out, const struct nod_learned_group *g)
{
	bool sure = g->confidence >= NOD_LEARN_SURE;
	char text[NOD_ID_TEXT];

	nod_learn_remark(out, "  #",
			 "%s: %.0f %%; %s. It may be several modules that are switched as one.",
			 g->name, floor(fmin(0.99, g->confidence) * 100), g->why);
	if (sure) {
		write_module_head(out, g->name);
		write_networks(out, g->ids, g->id_count);
		write_ids(out, g->ids, g->id_count);
	}
	for (size_t i = 0; i < g->id_count && !sure; i++)
		fprintf(out, "    # perhaps %s on %s\n", nod_id_print(text, g->ids[i].id),
			g->ids[i].network);
	fputc('\n', out);
}

static bool has_lines(const struct nod_lesson *l)
{
	bool any = false;

	for (size_t i = 0; i < l->subject_count; i++)
		any |= lines_in(&l->subjects[i]) > 0;
	for (size_t i = 0; i < l->group_count; i++)
		any |= l->groups[i].confidence >= NOD_LEARN_SURE;
	return any;
}

int nod_lesson_write(const struct nod_lesson *l, FILE *out)
{
	nod_learn_remark(out, "#",
			 "Learned from %u recording%s, for you to put into the vehicle file under "
			 "`modules`, with better names. A remark says how sure each ID is and why.",
			 l->sessions, l->sessions == 1 ? "" : "s");
	if (!l->subject_count)
		nod_learn_remark(
			out, "#",
			"Nothing was isolated in them: mark \"isolated F12\" and \"refitted "
			"F12\" in the journal while recording.");
	fputs(has_lines(l) ? "modules:\n" : "# modules: nothing new\n", out);
	for (size_t i = 0; i < l->subject_count; i++)
		write_subject(out, &l->subjects[i]);
	for (size_t i = 0; i < l->group_count; i++)
		write_group(out, &l->groups[i]);
	nod_learn_write_inputs(out, l);
	return ferror(out) ? -EIO : 0;
}

/* ---- merged into a vehicle ---- */

static int network_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		if (!strcmp(vehicle->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}

/* Appends an item of `size` to an array that was made by malloc. */
static void *append(void *array, size_t *count, size_t size)
{
	char *more = realloc(*(void **)array, (*count + 1) * size);

	if (!more)
		return NULL;
	*(void **)array = more;
	memset(more + *count * size, 0, size);
	return more + (*count)++ * size;
}

static struct nod_module *module_named(struct nod_vehicle *vehicle, const char *name)
{
	int known = nod_vehicle_module_by_name(vehicle, name);

	if (known != NOD_NONE)
		return &vehicle->modules[known];
	char *copy = strdup(name);
	struct nod_module *m = copy ? append(&vehicle->modules, &vehicle->module_count, sizeof(*m))
				    : NULL;
	if (!m)
		free(copy);
	else
		m->name = copy;
	return m;
}

static int add_number(int **array, size_t *count, int number)
{
	for (size_t i = 0; i < *count; i++)
		if ((*array)[i] == number)
			return 0;
	int *place = append(array, count, sizeof(*place));
	if (!place)
		return -ENOMEM;
	*place = number;
	return 0;
}

/* A module without networks may sit on any: then none is added. */
static int add_id(const struct nod_vehicle *vehicle, struct nod_module *m, bool is_new,
		  const struct nod_learned_id *id)
{
	int network = network_by_name(vehicle, id->network);

	if (network != NOD_NONE && (is_new || m->network_count) &&
	    add_number(&m->networks, &m->network_count, network))
		return -ENOMEM;
	if (id->source_address >= 0)
		return add_number(&m->source_addresses, &m->source_address_count,
				  id->source_address);
	struct nod_id_rule *rule = append(&m->ids, &m->id_count, sizeof(*rule));
	if (!rule)
		return -ENOMEM;
	rule->first = rule->last = id->id;
	return 0;
}

static int merge_ids(struct nod_vehicle *vehicle, const char *name, const char *fuse,
		     const struct nod_learned_id *ids, size_t count)
{
	bool is_new = nod_vehicle_module_by_name(vehicle, name) == NOD_NONE;
	int number = fuse ? nod_vehicle_fuse_by_name(vehicle, fuse) : NOD_NONE;
	struct nod_module *m = module_named(vehicle, name);

	if (!m)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++)
		if (is_line(&ids[i]) && add_id(vehicle, m, is_new, &ids[i]))
			return -ENOMEM;
	return number == NOD_NONE ? 0 : add_number(&m->fuses, &m->fuse_count, number);
}

int nod_lesson_merge(const struct nod_lesson *l, struct nod_vehicle *vehicle)
{
	char name[80];

	for (size_t i = 0; i < l->subject_count; i++) {
		const struct nod_learned_subject *s = &l->subjects[i];
		if (lines_in(s) &&
		    merge_ids(vehicle, module_name(name, sizeof(name), s),
			      s->kind == NOD_LEARNED_FUSE ? s->name : NULL, s->ids, s->id_count))
			return -ENOMEM;
	}
	for (size_t i = 0; i < l->group_count; i++)
		if (l->groups[i].confidence >= NOD_LEARN_SURE &&
		    merge_ids(vehicle, l->groups[i].name, NULL, l->groups[i].ids,
			      l->groups[i].id_count))
			return -ENOMEM;
	return nod_vehicle_index(vehicle);
}
