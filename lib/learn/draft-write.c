/* SPDX-License-Identifier: MIT */
/* The draft of a vehicle file as text. */
#include "draft-internal.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "id-rule.h"
#include "j1939.h"
#include "nm-scheme.h"
#include "vehicle-reader.h"
#include "yaml-text.h"

/* Below it, a management that may have been seen is not worth a remark. */
#define WORTH_A_REMARK 0.3

/* One interface that was heard. */
struct part {
	uint8_t interface;
	char name[16];              /* as in the capture, made fit for a file */
	struct nod_draft_id **list; /* its IDs in order */
	size_t count;
	struct nod_nm_detection detection;
};

static int compare_ids(const void *a, const void *b)
{
	const struct nod_draft_id *x = *(struct nod_draft_id *const *)a;
	const struct nod_draft_id *y = *(struct nod_draft_id *const *)b;

	if (x->interface != y->interface)
		return x->interface < y->interface ? -1 : 1;
	return x->id < y->id ? -1 : x->id > y->id;
}

/* What a candump log may hold and a vehicle file may not becomes '_'. */
static void copy_name(char *to, const char *from)
{
	size_t i = 0;

	for (; from[i] && i < 15; i++)
		to[i] = isgraph((unsigned char)from[i]) ? from[i] : '_';
	to[i] = 0;
}

/* ---- comments ---- */

static void write_head(FILE *out)
{
	fputs("# A first vehicle file, made from a recording. Nothing in it is certain: name\n"
	      "# the modules, join or split the groups, and add fuses. IDs that are close\n"
	      "# together and were heard together are taken for one module's. Check it with\n"
	      "# `nodoff vehicle check`; a # makes a line a remark.\n"
	      "#\n"
	      "# vehicle: make, model, year\n"
	      "# limits: { key-off current: 50 mA }\n"
	      "# fuses:\n"
	      "#   F12: { family: mini, rating: 10 A, box: cabin }\n\n",
	      out);
}

/* Breaks a text into lines of remarks. */
static void write_remark(FILE *out, const char *text)
{
	const int room = 72; /* of 80 columns, behind the lead */
	int column = 0;

	while (*(text += strspn(text, " "))) {
		int length = (int)strcspn(text, " ");
		if (!column || column + 1 + length > room) {
			fputs(column ? "\n    #" : "    #", out);
			column = 0;
		}
		fprintf(out, " %.*s", length, text);
		column += 1 + length;
		text += length;
	}
	fputs(column ? "\n" : "", out);
}

static void print_period(char *buf, size_t size, const struct nod_sampler *sampler)
{
	struct nod_period p = nod_sampler_period(sampler);
	char time[NOD_TIME_TEXT];

	if (p.rhythm == NOD_RHYTHM_CYCLIC || p.rhythm == NOD_RHYTHM_MIXED)
		snprintf(buf, size, "%s%s", nod_duration_print(time, p.period),
			 p.rhythm == NOD_RHYTHM_MIXED ? " + events" : "");
	else
		snprintf(buf, size, "%s", p.rhythm == NOD_RHYTHM_ON_EVENT ? "on event" : "-");
}

/* "8 B  100 ms  1234 frames  00 11 22 ..": what one ID looks like. */
static void write_looks(FILE *out, const struct nod_draft_id *id)
{
	char length[12], period[NOD_TIME_TEXT + 12];

	if (id->shortest == id->longest)
		snprintf(length, sizeof(length), "%d B", id->longest);
	else
		snprintf(length, sizeof(length), "%d-%d B", id->shortest, id->longest);
	print_period(period, sizeof(period), &id->sampler);
	fprintf(out, "%-6s %-15s %8" PRIu64 " x ", length, period, id->frames);
	if (id->remote == id->frames)
		fputs(" remote frames", out);
	else
		for (int i = 0; i < id->example_length; i++)
			fprintf(out, " %02X", id->example[i]);
	fputs(id->longest > 8 ? " ..\n" : "\n", out);
}

/* The looks of all IDs of a kind and group, as remarks. */
static void write_remarks(FILE *out, const struct part *p, enum nod_draft_kind kind, unsigned group)
{
	char text[NOD_ID_TEXT];

	for (size_t i = 0; i < p->count; i++) {
		if (p->list[i]->kind != kind || p->list[i]->group != group)
			continue;
		fprintf(out, "    # %-8s  ", nod_id_print(text, p->list[i]->id));
		write_looks(out, p->list[i]);
	}
}

/* ---- networks ---- */

static bool is_sure(const struct part *p)
{
	return p->detection.layout.scheme != NOD_NM_UNKNOWN &&
	       p->detection.confidence >= NOD_DRAFT_SURE;
}

static void write_byte(FILE *out, const char *key, int byte)
{
	if (byte >= 0)
		fprintf(out, "      %s: %d\n", key, byte);
	else
		fprintf(out, "      %s: none\n", key);
}

static void write_layout(FILE *out, const struct nod_nm_layout *nm)
{
	struct nod_id_rule ids = {.first = nm->first_id, .last = nm->last_id};
	char text[NOD_ID_RULE_TEXT];

	if (!nod_nm_scheme_row(nm->scheme)->has_messages)
		return;
	fprintf(out, "      ids: %s\n", nod_id_rule_print(text, &ids));
	if (!nod_nm_scheme_row(nm->scheme)->has_bytes)
		return;
	write_byte(out, "node byte", nm->node_byte);
	write_byte(out, "control byte", nm->control_byte);
}

static void write_management(FILE *out, const struct part *p)
{
	const char *word = nod_nm_scheme_row(p->detection.layout.scheme)->word;
	char text[NOD_NM_REASON_TEXT + 40];

	if (p->detection.confidence >= WORTH_A_REMARK) {
		snprintf(text, sizeof(text), "%s, %.0f %% sure: %s", word,
			 p->detection.confidence * 100, p->detection.reason);
		write_remark(out, text);
	}
	if (!is_sure(p))
		return;
	fprintf(out, "    management:\n      scheme: %s\n", word);
	write_layout(out, &p->detection.layout);
}

static void write_network(FILE *out, const struct part *p)
{
	fputs("  ", out);
	nod_yaml_write(out, p->name);
	fputs(":\n    interfaces: [", out);
	nod_yaml_write(out, p->name);
	fputs("]\n    # bitrate: 500000\n    # sleeps within: 10 min\n    # quiet time: 2 s\n",
	      out);
	write_management(out, p);
}

/* ---- modules ---- */

static void begin_module(FILE *out, const struct part *p, const char *kind, const char *number)
{
	char name[40];

	snprintf(name, sizeof(name), "%s %s on %s", kind, number, p->name);
	fputs("  ", out);
	nod_yaml_write(out, name);
	fputs(":\n    networks: [", out);
	nod_yaml_write(out, p->name);
	fputs("]\n", out);
}

static bool has_group(const struct part *p, enum nod_draft_kind kind, unsigned group)
{
	for (size_t i = 0; i < p->count; i++)
		if (p->list[i]->kind == kind && p->list[i]->group == group)
			return true;
	return false;
}

/* Modules that network management or J1939 names by a number. */
static void write_numbered(FILE *out, const struct part *p, enum nod_draft_kind kind)
{
	bool unit = kind == NOD_DRAFT_UNIT;
	char number[4];

	for (unsigned group = 0; group <= 0xFF; group++) {
		if (!has_group(p, kind, group))
			continue;
		snprintf(number, sizeof(number), "%02X", group);
		begin_module(out, p, unit ? "unit" : "node", number);
		fprintf(out, "    %s: %s\n", unit ? "source address" : "node", number);
		const char *name = unit ? nod_j1939_address_name((uint8_t)group) : NULL;
		if (name)
			fprintf(out, "    # by the standard's list: %s\n", name);
		write_remarks(out, p, kind, group);
	}
}

static void write_loose(FILE *out, const struct part *p)
{
	unsigned group = 0;
	char text[NOD_ID_TEXT], number[12];

	for (size_t i = 0; i < p->count; i++) {
		const struct nod_draft_id *id = p->list[i];
		if (id->kind != NOD_DRAFT_LOOSE)
			continue;
		if (id->group != group) {
			group = id->group;
			snprintf(number, sizeof(number), "%u", group);
			begin_module(out, p, "group", number);
			fputs("    ids:\n", out);
		}
		fprintf(out, "    - %-8s  # ", nod_id_print(text, id->id));
		write_looks(out, id);
	}
}

static void write_testers(FILE *out, const struct part *p)
{
	if (!has_group(p, NOD_DRAFT_TESTER, 0))
		return;
	fprintf(out, "    # On %s a tester seems to ask, or modules to answer it; left out:\n",
		p->name);
	write_remarks(out, p, NOD_DRAFT_TESTER, 0);
}

static bool has_modules(const struct part *p)
{
	for (size_t i = 0; i < p->count; i++)
		if (p->list[i]->kind != NOD_DRAFT_TESTER)
			return true;
	return false;
}

static void write_modules(FILE *out, const struct part *parts, size_t count)
{
	bool any = false;

	for (size_t i = 0; i < count; i++)
		any |= has_modules(&parts[i]);
	fputs(any ? "\nmodules:\n" : "\n# modules:\n", out);
	fputs("    # of each ID: length, period, frames, bytes of the first one\n", out);
	for (size_t i = 0; i < count; i++) {
		write_numbered(out, &parts[i], NOD_DRAFT_UNIT);
		write_numbered(out, &parts[i], NOD_DRAFT_NODE);
		write_loose(out, &parts[i]);
		write_testers(out, &parts[i]);
	}
}

/* ---- all of it ---- */

static size_t split(struct nod_draft *draft, struct nod_draft_id **list,
		    const struct nod_interfaces *names, struct part *parts)
{
	size_t count = 0;

	for (uint32_t i = 0; i < draft->count; i++)
		list[i] = &draft->ids[i];
	qsort(list, draft->count, sizeof(struct nod_draft_id *), compare_ids);
	for (uint32_t i = 0; i < draft->count; i++) {
		struct part *p = &parts[count ? count - 1 : 0];
		if (!count || p->interface != list[i]->interface) {
			if (count == NOD_VEHICLE_NETWORKS_MAX)
				break;
			p = &parts[count++];
			*p = (struct part){.interface = list[i]->interface, .list = &list[i]};
			copy_name(p->name, names->names[p->interface]);
		}
		p->count++;
	}
	for (size_t i = 0; i < count; i++) {
		nod_nm_detect_result(draft->detect[parts[i].interface], &parts[i].detection);
		nod_draft_group(parts[i].list, parts[i].count, draft->detect[parts[i].interface],
				&parts[i].detection);
	}
	return count;
}

int nod_draft_write(struct nod_draft *draft, const struct nod_interfaces *names, FILE *out)
{
	struct part parts[NOD_VEHICLE_NETWORKS_MAX];

	if (!draft->count)
		return -ENODATA;
	struct nod_draft_id **list = calloc(draft->count, sizeof(struct nod_draft_id *));
	if (!list)
		return -ENOMEM;
	size_t count = split(draft, list, names, parts);
	write_head(out);
	if (draft->unlisted)
		fprintf(out, "# More than %d IDs: %" PRIu64 " frames of others are left out.\n\n",
			NOD_DRAFT_IDS_MAX, draft->unlisted);
	fputs("networks:\n", out);
	for (size_t i = 0; i < count; i++)
		write_network(out, &parts[i]);
	write_modules(out, parts, count);
	free(list);
	return ferror(out) ? -EIO : 0;
}
