/* SPDX-License-Identifier: MIT */
#include "timeline-text.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "moment-text.h"
#include "paragraph.h"
#include "timeline-text-internal.h"
#include "when.h"

#define LABEL 20 /* columns for the name of a line, with the blank behind it */

static const struct nod_signs utf8 = {
	.lane = {" ", "\xC2\xB7", "?", "\xE2\x96\x88", "\xE2\x96\x92"},
	/* clang-format off */
	.level = {" ", "\xE2\x96\x81", "\xE2\x96\x82", "\xE2\x96\x83", "\xE2\x96\x84",
		  "\xE2\x96\x85", "\xE2\x96\x86", "\xE2\x96\x87", "\xE2\x96\x88"},
	.wake = "\xE2\x96\xB2",
	.explained = "\xE2\x96\xB3",
	.deadline = "\xE2\x94\x8A",
	.lock = "\xE2\x94\x83",
	.tick = "\xE2\x95\xB5",
};
/* clang-format on */

static const struct nod_signs ascii = {
	.lane = {" ", ".", "?", "=", "#"},
	.level = {" ", "1", "2", "3", "4", "5", "6", "7", "8"},
	.wake = "^",
	.explained = "'",
	.deadline = ":",
	.lock = "|",
	.tick = "'",
};

int nod_drawing_column(const struct nod_drawing *d, nod_time time)
{
	int column = (int)nod_axis_x(&d->axis, time);

	return column < d->columns ? column : d->columns - 1;
}

void nod_drawing_clear(struct nod_drawing *d)
{
	for (int i = 0; i < d->columns; i++)
		d->line[i] = " ";
}

/* A name, cut to its place, with nothing in it that a terminal acts on. */
static void print_label(const struct nod_drawing *d, const char *name)
{
	int shown = 0;

	for (size_t i = 0, length; name[i]; i += length, shown++) {
		for (length = 1; ((unsigned char)name[i + length] & 0xC0) == 0x80;)
			length++;
		if (shown == LABEL - 1)
			break;
		if (d->ascii && (unsigned char)name[i] >= 0x80)
			fputc('?', d->out);
		else
			nod_text_print(d->out, name + i, length);
	}
	fprintf(d->out, "%*s", LABEL - shown, "");
}

void nod_drawing_line(struct nod_drawing *d, const char *name)
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

/* One row of texts, each at its column where there is room for it. */
struct texts {
	char *row;
	int end;
};

static void put_text(const struct nod_drawing *d, struct texts *texts, int column, const char *text)
{
	int length = (int)strlen(text);

	if (!length || (texts->end && column <= texts->end) || column + length > d->columns)
		return;
	memcpy(texts->row + column, text, (size_t)length);
	texts->end = column + length;
}

static void print_texts(const struct nod_drawing *d, const struct texts *texts)
{
	if (texts->end)
		fprintf(d->out, "%-*s%.*s\n", LABEL, "", texts->end, texts->row);
}

/* How long after the lock, and below it the clock on the wall. */
static void print_ticks(struct nod_drawing *d, struct texts *since, struct texts *wall)
{
	char text[NOD_TIME_TEXT], clock[NOD_WHEN_TEXT];
	nod_duration step = nod_axis_step(&d->axis, (unsigned)d->columns / 12 + 1);
	nod_time t = nod_axis_first_tick(&d->axis, step);

	nod_drawing_clear(d);
	for (; t.ns <= d->axis.to.ns; t = nod_time_after(t, step)) {
		int column = nod_drawing_column(d, t);
		nod_duration after = nod_time_since(t, d->axis.zero);
		d->line[column] = after.ns ? d->signs->tick : d->signs->lock;
		put_text(d, since, column, nod_axis_tick_text(text, &d->axis, after, step));
		if (!d->f->clock_steps)
			put_text(d, wall, column, nod_when_print_clock(clock, t, NULL));
	}
	print_texts(d, since);
	print_texts(d, wall);
	nod_drawing_line(d, "");
}

static void print_axis(struct nod_drawing *d)
{
	size_t columns = (size_t)d->columns;
	char *rows = malloc(2 * columns);

	if (!rows) {
		d->starved = true;
		return;
	}
	memset(rows, ' ', 2 * columns);
	print_ticks(d, &(struct texts){rows, 0}, &(struct texts){rows + columns, 0});
	free(rows);
}

static void print_key(const struct nod_drawing *d)
{
	const struct nod_signs *s = d->signs;
	char column[NOD_TIME_TEXT];
	nod_duration each = {nod_time_since(d->axis.to, d->axis.from).ns / d->columns};

	nod_paragraph_printf(d->out, "",
			     "%s awake  %s past its settle deadline  %s asleep  %s not known  %s "
			     "wake-up (%s explained)  %s settle deadline. A column is %s.",
			     s->lane[NOD_SIGN_AWAKE], s->lane[NOD_SIGN_LATE],
			     s->lane[NOD_SIGN_ASLEEP], s->lane[NOD_SIGN_UNKNOWN], s->wake,
			     s->explained, s->deadline, nod_duration_print(column, each));
}

int nod_timeline_print(FILE *out, const struct nod_findings *f, const struct nod_timeline *timeline,
		       struct nod_timeline_style style)
{
	int columns = style.columns < NOD_TIMELINE_COLUMNS_LEAST  ? NOD_TIMELINE_COLUMNS_LEAST
		      : style.columns > NOD_TIMELINE_COLUMNS_MOST ? NOD_TIMELINE_COLUMNS_MOST
								  : style.columns;
	struct nod_drawing d = {out,
				f,
				timeline,
				nod_axis_of(f, 0, columns - LABEL),
				style.ascii ? &ascii : &utf8,
				style.ascii,
				columns - LABEL,
				NULL,
				false};
	int status;

	d.line = calloc((size_t)d.columns, sizeof(*d.line));
	if (!d.line)
		return -ENOMEM;
	d.starved |= !nod_moment_print_paragraph(out, "", f, f->sentence, NULL);
	fputc('\n', out);
	print_axis(&d);
	status = nod_drawing_networks(&d);
	nod_drawing_deadlines(&d);
	nod_drawing_missed(&d);
	nod_drawing_wakes(&d);
	nod_drawing_marks(&d);
	nod_drawing_senders(&d);
	nod_drawing_current(&d);
	nod_drawing_list_marks(&d);
	fputc('\n', out);
	print_key(&d);
	free(d.line);
	return status ? status : d.starved ? -ENOMEM : ferror(out) ? -EIO : 0;
}
