/* SPDX-License-Identifier: MIT */
#include "vehicle-report.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "id-rule.h"
#include "nm-scheme.h"
#include "paragraph.h"
#include "text-stream.h"
#include "vehicle-warnings.h"

/* Widest first column; chosen: leaves two thirds of a line for the rest. */
#define NAME_COLUMNS 24

/* A row of the table: its text is collected, then broken into lines. */
struct row {
	struct nod_text_stream stream;
	FILE *text;          /* of the stream */
	const char *between; /* what parts the next piece from the one before */
};

static bool row_begin(struct row *row)
{
	*row = (struct row){.between = ""};
	if (nod_text_stream_open(&row->stream))
		return false;
	row->text = row->stream.out;
	return true;
}

/* Starts a piece: "10 A", "cabin". */
static FILE *piece(struct row *row)
{
	fputs(row->between, row->text);
	row->between = ", ";
	return row->text;
}

/* 0 or -ENOMEM. */
static int row_end(struct row *row, FILE *out, const char *name, int width)
{
	char lead[NAME_COLUMNS + 40];
	int columns = nod_text_columns(name), bytes = (int)strlen(name);
	bool failed = nod_text_stream_close(&row->stream);

	if (columns > width) {
		fprintf(out, "  %s\n", name);
		name = "";
		columns = bytes = 0;
	}
	/* width is in columns, printf pads in bytes */
	snprintf(lead, sizeof(lead), "  %-*s  ", width + bytes - columns, name);
	nod_paragraph_print(out, lead,
			    failed             ? "(out of memory)"
			    : row->stream.size ? row->stream.text
					       : "-");
	free(row->stream.text);
	return failed ? -ENOMEM : 0;
}

static void wider(int *width, const char *name)
{
	int columns = nod_text_columns(name);

	if (columns > *width && columns <= NAME_COLUMNS && strlen(name) <= NAME_COLUMNS + 30)
		*width = columns;
}

/* ---- networks ---- */

static void write_scheme(FILE *out, const struct nod_nm_layout *nm)
{
	struct nod_id_rule ids = {.first = nm->first_id, .last = nm->last_id};
	char text[NOD_ID_RULE_TEXT];

	fputs(nod_nm_scheme_row(nm->scheme)->short_name, out);
	if (nm->ids_given)
		fprintf(out, " %s", nod_id_rule_print(text, &ids));
}

static int network_row(FILE *out, const struct nod_network *n, int width)
{
	char time[NOD_TIME_TEXT];
	struct row row;

	if (!row_begin(&row))
		return -ENOMEM;
	for (size_t i = 0; i < n->interface_count; i++)
		fprintf(piece(&row), "%s", n->interfaces[i]);
	if (n->bitrate)
		fprintf(piece(&row), "%" PRIu32 " bit/s", n->bitrate);
	if (n->data_bitrate)
		fprintf(piece(&row), "data %" PRIu32 " bit/s", n->data_bitrate);
	if (n->layer == NOD_LAYER_FAULT_TOLERANT)
		fputs("fault-tolerant", piece(&row));
	fprintf(piece(&row), "sleeps within %s%s", nod_duration_print_exact(time, n->sleeps_within),
		n->sleeps_within_given ? "" : " (default)");
	fprintf(piece(&row), "asleep after %s of silence%s",
		nod_duration_print_exact(time, n->quiet_time),
		n->quiet_time_given ? "" : " (default)");
	write_scheme(piece(&row), &n->nm);
	return row_end(&row, out, n->name, width);
}

/* ---- fuses ---- */

static bool hangs_on(const struct nod_module *module, int fuse)
{
	for (size_t i = 0; i < module->fuse_count; i++)
		if (module->fuses[i] == fuse)
			return true;
	return false;
}

/* As ratings are printed on fuses: "10 A", "7.5 A". */
static void write_rating(FILE *out, const char *before, int64_t ma)
{
	if (ma % 100)
		fprintf(out, "%s%" PRId64 " mA", before, ma);
	else if (ma % 1000)
		fprintf(out, "%s%" PRId64 ".%" PRId64 " A", before, ma / 1000, ma % 1000 / 100);
	else
		fprintf(out, "%s%" PRId64 " A", before, ma / 1000);
}

static int fuse_row(FILE *out, const struct nod_vehicle *v, int fuse, int width)
{
	const struct nod_fuse *f = &v->fuses[fuse];
	struct row row;

	if (!row_begin(&row))
		return -ENOMEM;
	if (f->family || f->rating_ma)
		fputs(f->family ? f->family : "", piece(&row));
	if (f->rating_ma)
		write_rating(row.text, f->family ? " " : "", f->rating_ma);
	if (f->box)
		fputs(f->box, piece(&row));
	row.between = row.between[0] ? ": " : "";
	for (size_t i = 0; i < v->module_count; i++)
		if (hangs_on(&v->modules[i], fuse))
			fputs(v->modules[i].name, piece(&row));
	for (size_t i = 0; i < f->feed_count; i++)
		fputs(f->feeds[i], piece(&row));
	for (size_t i = 0; i < f->caution_count; i++)
		fprintf(piece(&row), "caution: %s", f->cautions[i]);
	return row_end(&row, out, f->name, width);
}

/* ---- modules ---- */

static void write_ids(struct row *row, const struct nod_module *m)
{
	size_t single = 0, ranges = 0;

	for (size_t i = 0; i < m->id_count; i++) {
		bool one = !m->ids[i].mask && m->ids[i].first == m->ids[i].last;
		single += one;
		ranges += !one;
	}
	if (single)
		fprintf(piece(row), "%zu ID%s", single, single == 1 ? "" : "s");
	if (ranges)
		fprintf(piece(row), "%zu range%s of IDs", ranges, ranges == 1 ? "" : "s");
	for (size_t i = 0; i < m->node_count; i++)
		fprintf(piece(row), "node %02X", (unsigned)m->nodes[i]);
	for (size_t i = 0; i < m->source_address_count; i++)
		fprintf(piece(row), "source address %02X", (unsigned)m->source_addresses[i]);
}

static int module_row(FILE *out, const struct nod_vehicle *v, const struct nod_module *m, int width)
{
	struct row row;

	if (!row_begin(&row))
		return -ENOMEM;
	for (size_t i = 0; i < m->network_count; i++)
		fputs(v->networks[m->networks[i]].name, piece(&row));
	if (!m->network_count)
		fputs("any network", piece(&row));
	row.between = ": ";
	write_ids(&row, m);
	for (size_t i = 0; i < m->fuse_count; i++)
		fprintf(piece(&row), "%s", v->fuses[m->fuses[i]].name);
	if (m->place)
		fputs(m->place, piece(&row));
	if (m->gateway)
		fputs("gateway", piece(&row));
	for (size_t i = 0; i < m->caution_count; i++)
		fprintf(piece(&row), "caution: %s", m->cautions[i]);
	return row_end(&row, out, m->name, width);
}

/* ---- all of it ---- */

static void count(FILE *out, size_t n, const char *one, const char *more)
{
	fprintf(out, "%zu %s", n, n == 1 ? one : more);
}

struct warned {
	FILE *out;
	size_t count;
};

static void print_warning(void *context, unsigned line, const char *text)
{
	struct warned *w = context;
	char lead[40];

	if (!w->count++)
		fputs("\nAllowed, but worth a second look\n", w->out);
	snprintf(lead, sizeof(lead), "  line %u: ", line);
	nod_paragraph_print(w->out, line ? lead : "  ", text);
}

static void print_head(const struct nod_vehicle *v, FILE *out)
{
	size_t rules = 0, signals = 0;

	for (size_t i = 0; i < v->module_count; i++)
		rules += v->modules[i].id_count;
	nod_paragraph_print(out, "", v->title ? v->title : "No title");
	count(out, v->network_count, "network, ", "networks, ");
	count(out, v->fuse_count, "fuse, ", "fuses, ");
	count(out, v->module_count, "module, ", "modules, ");
	count(out, rules, "entry of IDs", "entries of IDs");
	for (size_t i = 0; i < v->message_count; i++)
		signals += v->messages[i].signal_count;
	if (v->message_count) {
		fputs(", ", out);
		count(out, v->message_count, "message, ", "messages, ");
		count(out, signals, "signal", "signals");
	}
	fputc('\n', out);
}

int nod_vehicle_report(const struct nod_vehicle *v, FILE *out)
{
	struct warned warned = {out, 0};
	int width = 6, status = 0;

	for (size_t i = 0; i < v->network_count; i++)
		wider(&width, v->networks[i].name);
	for (size_t i = 0; i < v->fuse_count; i++)
		wider(&width, v->fuses[i].name);
	for (size_t i = 0; i < v->module_count; i++)
		wider(&width, v->modules[i].name);
	print_head(v, out);
	fputs("\nNetworks\n", out);
	for (size_t i = 0; i < v->network_count; i++)
		status |= network_row(out, &v->networks[i], width);
	fputs(v->fuse_count ? "\nFuses, and what hangs on them\n" : "", out);
	for (size_t i = 0; i < v->fuse_count; i++)
		status |= fuse_row(out, v, (int)i, width);
	fputs(v->module_count ? "\nModules\n" : "", out);
	for (size_t i = 0; i < v->module_count; i++)
		status |= module_row(out, v, &v->modules[i], width);
	nod_vehicle_warn(v, print_warning, &warned);
	return status ? -ENOMEM : 0;
}
