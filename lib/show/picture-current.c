/* SPDX-License-Identifier: MIT */
/* The lower part of a picture: the current, its extremes as a band, its levels
 * as lines, on a scale by tens so that milliamps show beside amps. */
#include <math.h>
#include <stdio.h>

#include "current-trace.h"
#include "picture-internal.h"
#include "quantity.h"
#include "svg.h"

#define HEADING 28
#define HEIGHT 130
#define BOTTOM 10
#define FLOOR_UA 1e3 /* below: clamps show nothing. Chosen: 1 mA */

struct scale {
	double top, height, low, high; /* log10 of microamps */
};

double nod_picture_current_height(const struct nod_picture *p)
{
	return nod_timeline_currents(p->timeline) ? HEADING + HEIGHT + BOTTOM : 0;
}

static double y_of(const struct scale *s, double ua)
{
	double value = log10(fmax(ua, FLOOR_UA));

	return s->top +
	       s->height * (s->high - fmax(s->low, fmin(s->high, value))) / (s->high - s->low);
}

static struct scale scale_of(const struct nod_picture *p)
{
	const struct nod_timeline_current *c = nod_timeline_currents(p->timeline);
	double low = INFINITY, high = 0;

	for (size_t i = 0; i < nod_timeline_bins(p->timeline); i++) {
		if (!c[i].count)
			continue;
		low = fmin(low, (double)c[i].low);
		high = fmax(high, (double)c[i].high);
	}
	if (p->f->current && p->f->current->limit_ua > 0) { /* its line has to be in it, too */
		low = fmin(low, (double)p->f->current->limit_ua);
		high = fmax(high, (double)p->f->current->limit_ua);
	}
	struct scale s = {p->y, HEIGHT, floor(log10(fmax(low, FLOOR_UA))),
			  ceil(log10(fmax(high, 10 * FLOOR_UA)))};
	if (s.high <= s.low)
		s.high = s.low + 1;
	return s;
}

static void draw_scale_lines(struct nod_picture *p, const struct scale *s)
{
	for (int d = (int)s->low; d <= (int)s->high; d++) {
		double y = y_of(s, pow(10, d));
		nod_svg_line(p->out, p->axis.left, y, p->axis.left + p->axis.width, y, "grid");
	}
}

/* After the curve: on a phone they stand in it. */
static void draw_scale_texts(struct nod_picture *p, const struct scale *s)
{
	char text[32];

	for (int d = (int)s->low; d <= (int)s->high; d++) {
		double ua = pow(10, d), y = y_of(s, ua);
		snprintf(text, sizeof(text), ua < 999e3 ? "%.0f mA" : "%.0f A",
			 ua < 999e3 ? ua / 1e3 : ua / 1e6);
		if (p->narrow)
			nod_svg_text(p->out, p->axis.left + 2, y - 2, "start", "tick", text);
		else
			nod_svg_text(p->out, p->axis.left - 8, y + 3.5, "end", "tick", text);
	}
}

static double bin_x(const struct nod_picture *p, size_t bin)
{
	return nod_axis_x(&p->axis, nod_timeline_bin_begin(p->timeline, bin));
}

/* From `bin` on, the end of the run of bins with samples. Runs go on over bins
 * without a sample where the logger is just slower than the bins. */
static size_t run_end(const struct nod_picture *p, size_t bin)
{
	const struct nod_timeline_current *c = nod_timeline_currents(p->timeline);
	size_t bridge =
		(size_t)(nod_seconds(NOD_CURRENT_GAP_S).ns / nod_timeline_bin(p->timeline).ns) + 1;
	size_t last = bin;

	for (size_t i = bin; i < nod_timeline_bins(p->timeline) && i - last <= bridge; i++)
		if (c[i].count)
			last = i;
	return last + 1;
}

static void draw_run(struct nod_picture *p, const struct scale *s, size_t from, size_t to)
{
	const struct nod_timeline_current *c = nod_timeline_currents(p->timeline);
	char command = 'M';

	nod_svg_path_begin(p->out, "envelope");
	for (size_t i = from; i < to; i++)
		if (c[i].count) {
			nod_svg_point(p->out, command, bin_x(p, i), y_of(s, (double)c[i].high));
			nod_svg_point(p->out, 'L', bin_x(p, i + 1), y_of(s, (double)c[i].high));
			command = 'L';
		}
	for (size_t i = to; i-- > from;)
		if (c[i].count) {
			nod_svg_point(p->out, 'L', bin_x(p, i + 1), y_of(s, (double)c[i].low) + 1);
			nod_svg_point(p->out, 'L', bin_x(p, i), y_of(s, (double)c[i].low) + 1);
		}
	fputc('Z', p->out);
	nod_svg_path_end(p->out, NULL);
}

static void draw_envelope(struct nod_picture *p, const struct scale *s)
{
	const struct nod_timeline_current *c = nod_timeline_currents(p->timeline);
	size_t i = 0;

	while (i < nod_timeline_bins(p->timeline)) {
		if (!c[i].count) {
			i++;
			continue;
		}
		size_t end = run_end(p, i);
		draw_run(p, s, i, end);
		i = end;
	}
}

static void draw_levels(struct nod_picture *p, const struct scale *s)
{
	const struct nod_current_findings *c = p->f->current;
	char tip[200], value[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT], a[NOD_TIME_TEXT],
		b[NOD_TIME_TEXT];

	for (size_t i = 0; c && i < c->level_count; i++) {
		const struct nod_current_level *l = &c->levels[i];
		double x = nod_axis_x(&p->axis, l->from), end = nod_axis_x(&p->axis, l->to);
		nod_quantity_print(value, llround(l->ua), NOD_UNIT_AMPERE);
		snprintf(tip, sizeof(tip), "%s, give or take %s, from %s to %s", value,
			 nod_quantity_print(off, llround(l->uncertainty_ua), NOD_UNIT_AMPERE),
			 nod_picture_time(p, a, l->from), nod_picture_time(p, b, l->to));
		nod_svg_rect(p->out, x, y_of(s, l->ua) - 1.2, end - x, 2.4, "level", tip);
		if (end - x > 60)
			nod_svg_text(p->out, (x + end) / 2, y_of(s, l->ua) - 5, "middle",
				     "level-text", value);
	}
}

static void draw_limit(struct nod_picture *p, const struct scale *s)
{
	const struct nod_current_findings *c = p->f->current;
	char text[NOD_QUANTITY_TEXT + 8], value[NOD_QUANTITY_TEXT];

	if (!c || c->limit_ua <= 0)
		return;
	double y = y_of(s, (double)c->limit_ua);
	nod_svg_line(p->out, p->axis.left, y, p->axis.left + p->axis.width, y, "limit");
	snprintf(text, sizeof(text), "limit %s",
		 nod_quantity_print(value, c->limit_ua, NOD_UNIT_AMPERE));
	nod_svg_text(p->out, p->axis.left + p->axis.width, y - 3, "end", "limit-text", text);
}

void nod_picture_current(struct nod_picture *p)
{
	if (!nod_timeline_currents(p->timeline))
		return;
	nod_picture_heading(p, "battery current", HEADING);
	struct scale s = scale_of(p);
	draw_scale_lines(p, &s);
	draw_envelope(p, &s);
	draw_levels(p, &s);
	draw_limit(p, &s);
	draw_scale_texts(p, &s);
	p->y += HEIGHT + BOTTOM;
}
