#include "timeline-text.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "axis.h"
#include "journal.h"
#include "late.h"
#include "paragraph.h"
#include "quantity.h"

#define LABEL 20 /* columns for the name of a line, with the blank behind it */
#define SENDERS 16
#define MARKS_MAX 20 /* listed below; the rest is counted */
#define FLOOR_UA 1e3 /* below: clamps show nothing. Chosen: 1 mA */

enum sign { SIGN_NONE, SIGN_ASLEEP, SIGN_UNKNOWN, SIGN_AWAKE, SIGN_LATE, SIGNS };

/* What a column can hold, in both alphabets. */
struct signs {
	const char *lane[SIGNS];
	const char *level[9]; /* 0: nothing, then lowest to highest */
	const char *wake, *explained, *deadline, *lock, *tick;
};

static const struct signs utf8 = {
	.lane = {" ", "\xC2\xB7", "?", "\xE2\x96\x88", "\xE2\x96\x92"},
	.level = {" ", "\xE2\x96\x81", "\xE2\x96\x82", "\xE2\x96\x83", "\xE2\x96\x84",
		  "\xE2\x96\x85", "\xE2\x96\x86", "\xE2\x96\x87", "\xE2\x96\x88"},
	.wake = "\xE2\x96\xB2", .explained = "\xE2\x96\xB3",
	.deadline = "\xE2\x94\x8A", .lock = "\xE2\x94\x83", .tick = "\xE2\x95\xB5",
};

static const struct signs ascii = {
	.lane = {" ", ".", "?", "=", "#"},
	.level = {" ", "1", "2", "3", "4", "5", "6", "7", "8"},
	.wake = "^", .explained = "'", .deadline = ":", .lock = "|", .tick = "'",
};

struct drawing {
	FILE *out;
	const struct nod_findings *f;
	const struct nod_timeline *timeline;
	struct nod_axis axis; /* width: columns */
	const struct signs *signs;
	bool ascii;
	int columns; /* of the axis */
	const char **line; /* what stands in each column */
};

static int column_of(const struct drawing *d, nod_time time)
{
	int column = (int)nod_axis_x(&d->axis, time);

	return column < d->columns ? column : d->columns - 1;
}

static void clear_line(struct drawing *d)
{
	for (int i = 0; i < d->columns; i++)
		d->line[i] = " ";
}

/* A name, cut to its place, with nothing in it that a terminal acts on. */
static void print_label(const struct drawing *d, const char *name)
{
	int shown = 0;

	for (const char *c = name; *c; c++) {
		unsigned char u = (unsigned char)*c;
		bool more = (u & 0xC0) == 0x80;
		if (!more && shown == LABEL - 1)
			break;
		if (u < 0x20 || u == 0x7F || (u >= 0x80 && d->ascii))
			fputs(more && d->ascii ? "" : "?", d->out);
		else
			fputc(*c, d->out);
		shown += !more;
	}
	fprintf(d->out, "%*s", LABEL - shown, "");
}

static void print_line(struct drawing *d, const char *name)
{
	int last = d->columns;

	while (last && !strcmp(d->line[last - 1], " "))
		last--;
	print_label(d, last ? name : "");
	for (int i = 0; i < last; i++)
		fputs(d->line[i], d->out);
	fputc('\n', d->out);
}

/* ---- the axis ---- */

static void print_axis(struct drawing *d)
{
	char text[NOD_TIME_TEXT], *row = calloc(1, (size_t)d->columns + 1);
	nod_duration step = nod_axis_step(&d->axis, (unsigned)d->columns / 12 + 1);
	nod_time t = nod_axis_first_tick(&d->axis, step);
	int free_from = 0, end = 0;

	if (!row)
		return;
	memset(row, ' ', (size_t)d->columns);
	clear_line(d);
	for (; t.ns <= d->axis.to.ns; t = nod_time_after(t, step)) {
		int column = column_of(d, t);
		nod_duration since = nod_time_since(t, d->axis.zero);
		nod_axis_tick_text(text, since, step);
		d->line[column] = since.ns ? d->signs->tick : d->signs->lock;
		if (column < free_from || column + (int)strlen(text) > d->columns)
			continue;
		memcpy(row + column, text, strlen(text));
		end = column + (int)strlen(text);
		free_from = end + 1;
	}
	row[end] = 0;
	fprintf(d->out, "%-*s%s\n", end ? LABEL : 0, "", row);
	print_line(d, "");
	free(row);
}

static void print_deadlines(struct drawing *d)
{
	bool any = false;

	clear_line(d);
	for (size_t i = 0; i < d->f->network_count; i++) {
		size_t count;
		struct nod_late *late = nod_late_of(d->f, &d->f->networks[i], &count);
		for (size_t k = 0; k < count; k++)
			d->line[column_of(d, late[k].from)] = d->signs->deadline;
		any |= count > 0;
		free(late);
	}
	if (any)
		print_line(d, "settle deadline");
}

/* ---- networks ---- */

static void fill(const struct drawing *d, unsigned char *state, nod_time from, nod_time to,
		 enum sign sign)
{
	for (int i = column_of(d, from); i <= column_of(d, to); i++)
		if (state[i] < sign)
			state[i] = (unsigned char)sign;
}

static void fill_span(const struct drawing *d, unsigned char *state,
		      const struct nod_network_finding *n, size_t i, const struct nod_late *late,
		      size_t late_count)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_time to = s->open ? d->axis.to : s->to;
	nod_time next = i + 1 < n->span_count ? n->spans[i + 1].from : d->axis.to;
	bool known = s->silence_known &&
		     !(i + 1 == n->span_count && n->state == NOD_STATE_UNKNOWN);

	if (!s->open)
		fill(d, state, to, next, known ? SIGN_ASLEEP : SIGN_UNKNOWN);
	fill(d, state, s->from, to, SIGN_AWAKE);
	for (size_t k = 0; k < late_count; k++)
		if (late[k].from.ns <= to.ns && late[k].to.ns >= s->from.ns)
			fill(d, state, late[k].from.ns > s->from.ns ? late[k].from : s->from,
			     late[k].to.ns < to.ns ? late[k].to : to, SIGN_LATE);
}

static void print_network(struct drawing *d, const struct nod_network_finding *n,
			  unsigned char *state)
{
	size_t late_count;
	struct nod_late *late = nod_late_of(d->f, n, &late_count);

	memset(state, SIGN_NONE, (size_t)d->columns);
	for (size_t i = 0; i < n->span_count; i++)
		fill_span(d, state, n, i, late, late_count);
	for (int i = 0; i < d->columns; i++)
		d->line[i] = d->signs->lane[state[i]];
	if (!n->span_count)
		d->line[0] = nod_network_state_name(n->state);
	print_line(d, n->name);
	free(late);
}

static int print_networks(struct drawing *d)
{
	unsigned char *state = malloc((size_t)d->columns);

	if (!state)
		return -ENOMEM;
	for (size_t k = 0; k < d->f->network_count; k++)
		print_network(d, &d->f->networks[k], state);
	free(state);
	return 0;
}

static void print_missed(struct drawing *d)
{
	int64_t length = nod_timeline_bin(d->timeline).ns;
	bool any = nod_timeline_gap_count(d->timeline) > 0;

	clear_line(d);
	for (size_t i = 0; i < nod_timeline_gap_count(d->timeline); i++) {
		const struct nod_timeline_gap *g = nod_timeline_gap(d->timeline, i);
		for (int c = column_of(d, g->from); c <= column_of(d, g->to); c++)
			d->line[c] = d->signs->lane[SIGN_UNKNOWN];
	}
	for (size_t i = 0; i < nod_timeline_bins(d->timeline); i++)
		if (nod_timeline_losses(d->timeline)[i]) {
			nod_time at = nod_time_after(nod_timeline_origin(d->timeline),
						     (nod_duration){(int64_t)i * length});
			d->line[column_of(d, at)] = "!";
			any = true;
		}
	if (any)
		print_line(d, "not listened, lost");
}

/* ---- wake-ups and marks ---- */

static void print_wakes(struct drawing *d)
{
	clear_line(d);
	for (int unexplained = 0; unexplained < 2; unexplained++)
		for (size_t i = 0; i < d->f->wake_count; i++)
			if (*d->f->wakes[i].cause ? !unexplained : unexplained)
				d->line[column_of(d, d->f->wakes[i].time)] =
					unexplained ? d->signs->wake : d->signs->explained;
	if (d->f->wake_count)
		print_line(d, "wake-ups");
}

/* The letter under which a mark is listed. */
static const char *letter(size_t index)
{
	static const char letters[][2] = {"a", "b", "c", "d", "e", "f", "g", "h", "i", "j",
					  "k", "l", "m", "n", "o", "p", "q", "r", "s", "t"};

	return index < MARKS_MAX ? letters[index] : "+";
}

static void print_marks(struct drawing *d)
{
	clear_line(d);
	for (size_t i = d->f->mark_count; i-- > 0;)
		d->line[column_of(d, d->f->marks[i].time)] = letter(i);
	if (d->f->mark_count)
		print_line(d, "journal");
}

static void list_marks(struct drawing *d)
{
	char at[NOD_TIME_TEXT];

	if (d->f->mark_count)
		fputc('\n', d->out);
	for (size_t i = 0; i < d->f->mark_count && i < MARKS_MAX; i++) {
		const struct nod_mark_finding *m = &d->f->marks[i];
		char lead[64];
		nod_duration_print_seconds(at, nod_time_since(m->time, d->f->lock), 1);
		snprintf(lead, sizeof(lead), "  %s %10s s  ", letter(i), at);
		nod_paragraph_printf(d->out, lead, "%s%s%s",
				     nod_mark_kind_name((enum nod_mark_kind)m->kind),
				     *m->subject ? " " : "", m->subject);
	}
	if (d->f->mark_count > MARKS_MAX)
		fprintf(d->out, "  + and %zu more\n", d->f->mark_count - MARKS_MAX);
}

/* ---- senders ---- */

/* The bins that touch a column. */
static void bins_of(const struct drawing *d, int column, size_t *from, size_t *to)
{
	nod_time origin = nod_timeline_origin(d->timeline);
	int64_t length = nod_timeline_bin(d->timeline).ns;
	int64_t a = nod_time_since(nod_axis_time(&d->axis, column), origin).ns;
	int64_t b = nod_time_since(nod_axis_time(&d->axis, column + 1), origin).ns - 1;
	size_t used = nod_timeline_bins(d->timeline);

	*from = a > 0 ? (size_t)(a / length) : 0;
	*to = b > 0 ? (size_t)(b / length) + 1 : 1;
	if (*to > used || column + 1 == d->columns)
		*to = used;
}

static void print_sender(struct drawing *d, int sender)
{
	uint64_t counts[NOD_TIMELINE_BINS] = {0}, most = 1;
	size_t from, to;

	nod_timeline_add_sender(d->timeline, d->f, sender, counts);
	for (size_t i = 0; i < NOD_TIMELINE_BINS; i++)
		most = counts[i] > most ? counts[i] : most;
	for (int c = 0; c < d->columns; c++) {
		uint64_t highest = 0;
		bins_of(d, c, &from, &to);
		for (size_t i = from; i < to; i++)
			highest = counts[i] > highest ? counts[i] : highest;
		d->line[c] = d->signs->level[highest ? 1 + (int)(7.0 * (double)highest /
								 (double)most)
						     : 0];
	}
	print_line(d, d->f->senders[sender].name);
}

static void print_senders(struct drawing *d)
{
	int senders[SENDERS];
	size_t count = nod_timeline_senders(d->f, senders, SENDERS);

	if (count)
		fprintf(d->out, "\nwho sends when\n");
	for (size_t i = 0; i < count; i++)
		print_sender(d, senders[i]);
	if (d->f->sender_count > count)
		fprintf(d->out, "... and %zu senders more\n", d->f->sender_count - count);
}

/* ---- current ---- */

struct range {
	double low, high; /* log10 of microamps */
};

static struct range range_of(const struct drawing *d)
{
	const struct nod_timeline_current *c = nod_timeline_currents(d->timeline);
	struct range r = {99, 0};

	for (size_t i = 0; i < nod_timeline_bins(d->timeline); i++) {
		if (!c[i].count)
			continue;
		r.low = fmin(r.low, log10(fmax((double)c[i].low, FLOOR_UA)));
		r.high = fmax(r.high, log10(fmax((double)c[i].high, FLOOR_UA)));
	}
	if (r.high <= r.low)
		r.high = r.low + 1;
	return r;
}

static void print_extreme(struct drawing *d, const struct range *r, bool high)
{
	const struct nod_timeline_current *c = nod_timeline_currents(d->timeline);
	size_t from, to;

	clear_line(d);
	for (int k = 0; k < d->columns; k++) {
		double value = high ? -INFINITY : INFINITY;
		bins_of(d, k, &from, &to);
		for (size_t i = from; i < to; i++)
			if (c[i].count)
				value = high ? fmax(value, (double)c[i].high)
					     : fmin(value, (double)c[i].low);
		if (!isfinite(value))
			continue;
		double share = (log10(fmax(value, FLOOR_UA)) - r->low) / (r->high - r->low);
		d->line[k] = d->signs->level[1 + (int)(7 * share + 0.5)];
	}
	print_line(d, high ? "highest" : "lowest");
}

static void print_current(struct drawing *d)
{
	char low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	if (!nod_timeline_currents(d->timeline))
		return;
	struct range r = range_of(d);
	fprintf(d->out, "\nbattery current, %s %s to %s %s by tens\n", d->signs->level[1],
		nod_quantity_print(low, llround(pow(10, r.low)), NOD_UNIT_AMPERE),
		d->signs->level[8],
		nod_quantity_print(high, llround(pow(10, r.high)), NOD_UNIT_AMPERE));
	print_extreme(d, &r, true);
	print_extreme(d, &r, false);
}

static void print_key(const struct drawing *d)
{
	const struct signs *s = d->signs;
	char column[NOD_TIME_TEXT];
	nod_duration each = {nod_time_since(d->axis.to, d->axis.from).ns / d->columns};

	nod_paragraph_printf(d->out, "",
			     "%s awake  %s past its settle deadline  %s asleep  %s not known  %s "
			     "wake-up (%s explained)  %s settle deadline. A column is %s.",
			     s->lane[SIGN_AWAKE], s->lane[SIGN_LATE], s->lane[SIGN_ASLEEP],
			     s->lane[SIGN_UNKNOWN], s->wake, s->explained, s->deadline,
			     nod_duration_print(column, each));
}

int nod_timeline_print(FILE *out, const struct nod_findings *f, const struct nod_timeline *timeline,
		       struct nod_timeline_style style)
{
	int columns = style.columns < NOD_TIMELINE_COLUMNS_LEAST  ? NOD_TIMELINE_COLUMNS_LEAST
		      : style.columns > NOD_TIMELINE_COLUMNS_MOST ? NOD_TIMELINE_COLUMNS_MOST
								  : style.columns;
	struct drawing d = {out, f, timeline, nod_axis_of(f, 0, columns - LABEL),
			    style.ascii ? &ascii : &utf8, style.ascii, columns - LABEL, NULL};
	int status;

	d.line = calloc((size_t)d.columns, sizeof(*d.line));
	if (!d.line)
		return -ENOMEM;
	nod_paragraph_print(out, "", f->sentence);
	fputc('\n', out);
	print_axis(&d);
	status = print_networks(&d);
	print_deadlines(&d);
	print_missed(&d);
	print_wakes(&d);
	print_marks(&d);
	print_senders(&d);
	print_current(&d);
	list_marks(&d);
	fputc('\n', out);
	print_key(&d);
	free(d.line);
	return status ? status : ferror(out) ? -EIO : 0;
}
