/* SPDX-License-Identifier: MIT */
#include "picture.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "markup.h"
#include "moment-text.h"
#include "picture-internal.h"
#include "svg.h"
#include "when.h"

#define GUTTER 150 /* for labels beside the lanes */
#define MARGIN 12
#define AXIS_HEIGHT 34 /* two lines: how long after the lock, and the clock on the wall */
/* Characters of a label that fit: in the gutter, above a lane. */
#define LABEL_WIDE 25
#define LABEL_NARROW 56
#define LABEL_BYTES 240

void nod_picture_patterns(FILE *out)
{
	fputs("<svg width=\"0\" height=\"0\" class=\"patterns\" aria-hidden=\"true\"><defs>\n"
	      "<pattern id=\"p-late\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">"
	      "<rect width=\"6\" height=\"6\" class=\"late-ground\"/>"
	      "<path d=\"M0 6L6 0M-1 1L1 -1M5 7L7 5\" class=\"late-stroke\"/></pattern>\n"
	      "<pattern id=\"p-asleep\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">"
	      "<rect width=\"6\" height=\"6\" class=\"asleep-ground\"/>"
	      "<circle cx=\"3\" cy=\"3\" r=\".8\" class=\"asleep-dot\"/></pattern>\n"
	      "<pattern id=\"p-unknown\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\">"
	      "<rect width=\"8\" height=\"8\" class=\"unknown-ground\"/>"
	      "<path d=\"M0 0L8 8M0 8L8 0\" class=\"unknown-stroke\"/></pattern>\n"
	      "</defs></svg>\n",
	      out);
}

/* Text cut to so many characters, between UTF-8 characters, and marked as cut. */
static const char *cut_to(char buf[LABEL_BYTES], const char *text, int most)
{
	size_t bytes = 0;
	int shown = 0;

	for (; text[bytes] && bytes < LABEL_BYTES - 4; bytes++) {
		if (((unsigned char)text[bytes] & 0xC0) != 0x80 && ++shown > most)
			break;
		buf[bytes] = text[bytes];
	}
	snprintf(buf + bytes, LABEL_BYTES - bytes, "%s", text[bytes] ? "\xE2\x80\xA6" : "");
	return buf;
}

double nod_picture_label(struct nod_picture *p, const char *text, const char *css_class,
			 double height)
{
	char cut[LABEL_BYTES];

	if (p->narrow) {
		nod_svg_text(p->out, p->axis.left, p->y + 9, "start", css_class,
			     cut_to(cut, text, LABEL_NARROW));
		p->y += 12;
	} else {
		nod_svg_text(p->out, p->axis.left - 8, p->y + height / 2 + 3.5, "end", css_class,
			     cut_to(cut, text, LABEL_WIDE));
	}
	return p->y;
}

void nod_picture_heading(struct nod_picture *p, const char *text, double height)
{
	nod_svg_text(p->out, p->narrow ? p->axis.left : p->axis.left - 8, p->y + 13,
		     p->narrow ? "start" : "end", "part", text);
	p->y += height;
}

char *nod_picture_time(const struct nod_picture *p, char buf[NOD_TIME_TEXT], nod_time time)
{
	char text[NOD_TIME_TEXT];
	nod_duration since = nod_time_since(time, p->axis.zero);

	nod_duration_print(text, since);
	snprintf(buf, NOD_TIME_TEXT, "%s%.37s", since.ns < 0 ? "" : "+", text);
	return buf;
}

/* ---- the axis ---- */

static void draw_grid(struct nod_picture *p, double top, double bottom)
{
	char text[NOD_TIME_TEXT], clock[NOD_WHEN_TEXT];
	nod_duration step = nod_axis_step(&p->axis, p->narrow ? 5 : 10);
	nod_time t = nod_axis_first_tick(&p->axis, step);

	for (; t.ns <= p->axis.to.ns; t = nod_time_after(t, step)) {
		double x = nod_axis_x(&p->axis, t);
		nod_duration since = nod_time_since(t, p->axis.zero);
		nod_svg_line(p->out, x, top, x, bottom, since.ns ? "grid" : "lock-line");
		/* as wide as the clock is, it must not reach beyond the picture */
		const char *anchor = !p->narrow                              ? "middle"
				     : x < p->axis.left + 24                 ? "start"
				     : x > p->axis.left + p->axis.width - 24 ? "end"
									     : "middle";
		nod_svg_text(p->out, x, top - 18, anchor, since.ns ? "tick" : "tick lock",
			     nod_axis_tick_text(text, &p->axis, since, step));
		if (!p->f->clock_steps)
			nod_svg_text(p->out, x, top - 7, anchor, "tick",
				     nod_when_print_clock(clock, t, NULL));
	}
}

/* A line for every deadline that passed: through the whole picture, because what
 * is behind it is what counts. The same one of several networks is drawn once. */
static void draw_deadlines(struct nod_picture *p, double top, double bottom)
{
	for (size_t i = 0; i < p->f->network_count; i++) {
		size_t earlier = 0;
		while (earlier < i &&
		       p->f->networks[earlier].deadline.ns != p->f->networks[i].deadline.ns)
			earlier++;
		if (earlier < i)
			continue;
		const struct nod_late *late = p->f->networks[i].late;
		for (size_t k = 0; k < p->f->networks[i].late_count; k++) {
			double x = nod_axis_x(&p->axis, late[k].from);
			if (late[k].from.ns >= p->axis.from.ns)
				nod_svg_line(p->out, x, top, x, bottom, "deadline-line");
		}
	}
}

int nod_picture_write(FILE *out, const struct nod_findings *f, const struct nod_timeline *timeline,
		      double width)
{
	bool narrow = width < 500;
	double left = narrow ? MARGIN : GUTTER;
	struct nod_picture p = {
		.out = out,
		.f = f,
		.timeline = timeline,
		.axis = nod_axis_of(f, left, width - left - (narrow ? MARGIN : 30)),
		.narrow = narrow,
	};
	double height = AXIS_HEIGHT + nod_picture_lanes_height(&p) +
			nod_picture_listening_height(&p) + nod_picture_events_height(&p) +
			nod_picture_raster_height(&p) + nod_picture_current_height(&p);
	char from[NOD_TIME_TEXT], to[NOD_TIME_TEXT];

	nod_time_print(from,
		       nod_time_after((nod_time){0}, nod_time_since(p.axis.from, p.axis.zero)), 3);
	nod_time_print(to, nod_time_after((nod_time){0}, nod_time_since(p.axis.to, p.axis.zero)),
		       3);
	nod_markup(out,
		   "<div class=\"picture %s\" data-left=\"%s\" data-from=\"%s\" "
		   "data-to=\"%s\">\n",
		   narrow ? "narrow" : "wide", narrow ? "12" : "150", from, to);
	nod_svg_begin(out, width, height, "timeline",
		      "Timeline: networks, wake-ups, senders and current since lock");
	draw_grid(&p, AXIS_HEIGHT, height);
	draw_deadlines(&p, AXIS_HEIGHT, height);
	p.y = AXIS_HEIGHT;
	nod_picture_lanes(&p);
	nod_picture_listening(&p);
	nod_picture_events(&p);
	int status = nod_picture_raster(&p);
	nod_picture_current(&p);
	nod_svg_end(out);
	fputs("</div>\n", out);
	return p.starved ? -ENOMEM : status;
}

static void key(FILE *out, const char *css_class, const char *text)
{
	fputs("<span class=\"key\">", out);
	fputs("<svg viewBox=\"0 0 22 12\" width=\"22\" height=\"12\" aria-hidden=\"true\">", out);
	nod_svg_rect(out, 0, 0, 22, 12, css_class, NULL);
	nod_markup(out, "</svg> %s</span>\n", text);
}

static void key_line(FILE *out, const char *css_class, const char *text)
{
	fputs("<span class=\"key\">", out);
	fputs("<svg viewBox=\"0 0 22 12\" width=\"22\" height=\"12\" aria-hidden=\"true\">", out);
	nod_svg_line(out, 11, 0, 11, 12, css_class);
	nod_markup(out, "</svg> %s</span>\n", text);
}

void nod_picture_key(FILE *out, const struct nod_findings *f)
{
	fputs("<p class=\"keys\">\n", out);
	key(out, "awake", "awake");
	key(out, "late", "awake past the settle deadline");
	key(out, "asleep", "asleep");
	key(out, "unknown", "not known: nobody listened, or frames were lost");
	key_line(out, "lock-line", nod_moment_zero(f));
	key_line(out, "deadline-line", "settle deadline");
	nod_markup(out, "<span class=\"key\">\xE2\x96\xB2 wake-up that nothing noted explains, "
			"\xE2\x96\xB3 explained</span>\n");
	nod_markup(out, "<span class=\"key\">\xE2\x91\xA0 mark (see what was done)</span>\n");
	if (f->has_current)
		nod_markup(out, "<span class=\"key\">current: band from the lowest to the highest "
				"sample, line the level; the scale is by tens</span>\n");
	fputs("</p>\n", out);
}
