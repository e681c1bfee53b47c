/* SPDX-License-Identifier: MIT */
/* Who spoke when: a row for each sender, a bar where it sent, as high as it
 * sent much. Whatever was sent at all is at least one pixel. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "picture-internal.h"
#include "svg.h"

#define ROWS_WIDE 24
#define ROWS_NARROW 12
#define ROW_WIDE 15
#define ROW_NARROW 24
#define BAR 11
#define HEADING 18
#define COLUMNS_MOST (NOD_PICTURE_WIDE / 2)
#define COLUMN 2 /* units that one column of a row takes */
#define LEVELS 4
#define LEAST_BAR 0.3 /* of the row, for a single frame */

static size_t rows(struct nod_picture *p, int senders[ROWS_WIDE])
{
	size_t count = nod_timeline_senders(p->f, senders, p->narrow ? ROWS_NARROW : ROWS_WIDE);

	p->starved |= errno == ENOMEM;
	return count;
}

static double row_height(const struct nod_picture *p)
{
	return p->narrow ? ROW_NARROW : ROW_WIDE;
}

/* How many of the senders have spoken at all. */
static size_t speaking(struct nod_picture *p)
{
	size_t count = nod_timeline_speaking(p->f);

	p->starved |= errno == ENOMEM;
	return count;
}

double nod_picture_raster_height(struct nod_picture *p)
{
	int senders[ROWS_WIDE];
	size_t count = rows(p, senders);
	size_t more = speaking(p) > count;

	return count ? HEADING + (double)count * row_height(p) + (double)more * HEADING : 0;
}

static void tip_of(const struct nod_picture *p, int sender, char *tip, size_t size)
{
	uint64_t frames = 0, late = 0;
	nod_time last = NOD_TIME_NONE;
	char at[NOD_TIME_TEXT];

	for (size_t i = 0; i < p->f->ident_count; i++) {
		const struct nod_ident_finding *n = &p->f->idents[i];
		if (n->sender != sender)
			continue;
		frames += n->frames;
		late += n->frames_late;
		if (n->last.ns > last.ns)
			last = n->last;
	}
	snprintf(tip, size, "%s: %llu frames, %llu of them past the deadline, the last at %s",
		 p->f->senders[sender].name, (unsigned long long)frames, (unsigned long long)late,
		 nod_picture_time(p, at, last));
}

/* The frames by column of the picture: sums of the bins that begin in it, so that
 * nothing is left out. */
static void columns_of(const struct nod_picture *p, const uint64_t counts[NOD_TIMELINE_BINS],
		       uint64_t *sums, size_t columns, double width)
{
	for (size_t i = 0; i < nod_timeline_bins(p->timeline); i++) {
		nod_time begin = nod_timeline_bin_begin(p->timeline, i);
		double x = nod_axis_x(&p->axis, begin) - p->axis.left;
		size_t column = (size_t)((x + 0.01) / width);
		sums[column < columns ? column : columns - 1] += counts[i];
	}
}

static void draw_box(struct nod_picture *p, double from, double to, double height)
{
	double base = p->y + BAR + 1;

	nod_svg_point(p->out, 'M', from, base);
	nod_svg_point(p->out, 'V', 0, base - height);
	nod_svg_point(p->out, 'H', to, 0);
	nod_svg_point(p->out, 'V', 0, base);
	fputc('Z', p->out);
}

/* A column is COLUMN wide, or as wide as a bin. */
static double column_width(const struct nod_picture *p)
{
	double bin = (double)nod_timeline_bin(p->timeline).ns * p->axis.width /
		     (double)nod_time_since(p->axis.to, p->axis.from).ns;

	return fmin(fmax(COLUMN, bin), p->axis.width);
}

/* One box for each run of columns of equal height. */
static void draw_bars(struct nod_picture *p, const uint64_t *sums, size_t columns, double width)
{
	uint64_t most = 1;
	int level = 0;
	double from = 0;

	for (size_t i = 0; i < columns; i++)
		most = sums[i] > most ? sums[i] : most;
	for (size_t i = 0; i <= columns; i++) {
		double x = p->axis.left + fmin((double)i * width, p->axis.width);
		int now = i < columns && sums[i]
				  ? 1 + (int)((LEVELS - 1) * (double)sums[i] / (double)most)
				  : 0;
		if (now == level)
			continue;
		if (level)
			draw_box(p, from, x,
				 BAR * (LEAST_BAR + (1 - LEAST_BAR) * (level - 1) / (LEVELS - 1)));
		level = now;
		from = x;
	}
}

static bool is_named(const struct nod_picture *p, int sender)
{
	return p->f->culprit != NOD_NONE && p->f->suspects[p->f->culprit].sender == sender;
}

static void draw_row(struct nod_picture *p, int sender)
{
	uint64_t counts[NOD_TIMELINE_BINS] = {0}, sums[COLUMNS_MOST] = {0};
	double width = column_width(p);
	size_t columns = (size_t)ceil(p->axis.width / width);
	char tip[512], label[256];
	double top = p->y;
	bool named = is_named(p, sender);

	nod_timeline_add_sender(p->timeline, p->f, sender, counts);
	tip_of(p, sender, tip, sizeof(tip));
	snprintf(label, sizeof(label), "%s%.200s", named ? "\xE2\x96\xB6 " : "",
		 p->f->senders[sender].name);
	nod_picture_label(p, label, named ? "label named" : "label", row_height(p));
	if (p->narrow)
		p->y -= 3;
	nod_svg_path_begin(p->out, named ? "talk named" : "talk");
	columns_of(p, counts, sums, columns, width);
	draw_bars(p, sums, columns, width);
	nod_svg_path_end(p->out, tip);
	p->y = top + row_height(p);
}

int nod_picture_raster(struct nod_picture *p)
{
	int senders[ROWS_WIDE];
	size_t count = rows(p, senders), all = speaking(p);
	char more[80];

	if (!count)
		return 0;
	nod_picture_heading(p, "who sends when", HEADING);
	for (size_t i = 0; i < count; i++)
		draw_row(p, senders[i]);
	if (all > count) {
		snprintf(more, sizeof(more), "and %zu senders more", all - count);
		nod_svg_text(p->out, p->axis.left, p->y + HEADING - 6, "start", "tick", more);
		p->y += HEADING;
	}
	return 0;
}
