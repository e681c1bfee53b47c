/* SPDX-License-Identifier: MIT */
/* The upper part of a picture: a lane for each network, what was not listened
 * to, wake-ups and marks. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "journal.h"
#include "picture-internal.h"
#include "svg.h"

#define LANE 24
#define BAND 16
#define ROW 20
#define WAKES_MANY 40 /* then their signs are narrower */
#define LABEL 12      /* above a lane, narrow */
#define WORD_WIDTH 46 /* room that "asleep" needs in its band */

static double lane_height(const struct nod_picture *p)
{
	return p->narrow ? LANE + LABEL : LANE;
}

double nod_picture_lanes_height(const struct nod_picture *p)
{
	return (double)p->f->network_count * lane_height(p);
}

static void band(struct nod_picture *p, nod_time from, nod_time to, const char *css_class,
		 const char *word)
{
	char tip[256], a[NOD_TIME_TEXT], b[NOD_TIME_TEXT], length[NOD_TIME_TEXT];
	double x = nod_axis_x(&p->axis, from), end = nod_axis_x(&p->axis, to);

	snprintf(tip, sizeof(tip), "%s from %s to %s (%s)", word, nod_picture_time(p, a, from),
		 nod_picture_time(p, b, to), nod_duration_print(length, nod_time_since(to, from)));
	nod_svg_rect(p->out, x, p->y + 3, end - x, BAND, css_class, tip);
	if (end - x > WORD_WIDTH) {
		char label_class[40];
		snprintf(label_class, sizeof(label_class), "word %s-word", css_class);
		nod_svg_text(p->out, (x + end) / 2, p->y + 3 + BAND - 4.5, "middle", label_class,
			     css_class[0] == 'u'   ? "not known"
			     : css_class[0] == 'l' ? "late"
						   : word);
	}
}

/* The part of a span that was late is drawn over it. */
static void awake_band(struct nod_picture *p, const struct nod_network_finding *n,
		       const struct nod_span_finding *s)
{
	nod_time to = s->open ? p->axis.to : s->to, from = s->from;

	for (size_t i = 0; i < n->late_count; i++) {
		const struct nod_late *late = &n->late[i];
		nod_time begin = late->from.ns > from.ns ? late->from : from;
		nod_time end = late->to.ns < to.ns ? late->to : to;
		if (begin.ns > end.ns || late->to.ns < from.ns)
			continue;
		if (begin.ns > from.ns)
			band(p, from, begin, "awake", "awake");
		band(p, begin, end, "late", "awake past the deadline");
		from = end;
	}
	if (from.ns < to.ns || from.ns == s->from.ns)
		band(p, from, to, "awake", "awake");
}

static void silence_after(struct nod_picture *p, const struct nod_network_finding *n, size_t i)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_time next = nod_span_silence_end(n, i, p->axis.to);

	if (s->open || next.ns <= s->to.ns)
		return;
	if (nod_time_is_set(s->hole_from)) {
		if (s->hole_from.ns > s->to.ns)
			band(p, s->to, s->hole_from, "asleep", "asleep");
		band(p, s->hole_from, s->hole_to, "unknown", "nobody seems to have listened");
		if (next.ns > s->hole_to.ns)
			band(p, s->hole_to, next, "asleep", "asleep");
		return;
	}
	/* The sleep that the state at the end speaks of may be too short to be one. */
	if (!s->silence_known || (i + 1 == n->span_count && n->state == NOD_STATE_UNKNOWN))
		band(p, s->to, next, "unknown", "silent, but not known to be asleep");
	else
		band(p, s->to, next, "asleep", "asleep");
}

static void lane(struct nod_picture *p, const struct nod_network_finding *n)
{
	double top = p->y;

	nod_picture_label(p, n->name, "label network", BAND + 6);
	if (!n->span_count)
		nod_svg_text(p->out, p->axis.left + 4, p->y + 3 + BAND - 4.5, "start", "word",
			     nod_network_state_name(n->state));
	for (size_t i = 0; i < n->span_count; i++)
		silence_after(p, n, i);
	for (size_t i = 0; i < n->span_count; i++)
		awake_band(p, n, &n->spans[i]);
	p->y = top + lane_height(p);
}

void nod_picture_lanes(struct nod_picture *p)
{
	for (size_t i = 0; i < p->f->network_count; i++)
		lane(p, &p->f->networks[i]);
}

/* ---- what was not listened to ---- */

static bool anything_missed(const struct nod_picture *p)
{
	bool lost = false;

	for (size_t i = 0; i < NOD_TIMELINE_BINS; i++)
		lost |= nod_timeline_losses(p->timeline)[i] > 0;
	return lost || nod_timeline_gap_count(p->timeline);
}

double nod_picture_listening_height(const struct nod_picture *p)
{
	return anything_missed(p) ? ROW + (p->narrow ? LABEL : 0) : 0;
}

static void losses(struct nod_picture *p)
{
	char tip[128], at[NOD_TIME_TEXT];

	for (size_t i = 0; i < nod_timeline_bins(p->timeline); i++) {
		uint32_t lost = nod_timeline_losses(p->timeline)[i];
		if (!lost)
			continue;
		nod_time begin = nod_timeline_bin_begin(p->timeline, i);
		double x = nod_axis_x(&p->axis, begin);
		snprintf(tip, sizeof(tip), "%u frames lost near %s", lost,
			 nod_picture_time(p, at, begin));
		nod_svg_rect(p->out, x, p->y + 4, 2, 12, "lost", tip);
	}
}

void nod_picture_listening(struct nod_picture *p)
{
	char tip[128], a[NOD_TIME_TEXT], b[NOD_TIME_TEXT];

	if (!anything_missed(p))
		return;
	double top = p->y;
	nod_picture_label(p, "not listened, lost", "label", ROW);
	for (size_t i = 0; i < nod_timeline_gap_count(p->timeline); i++) {
		const struct nod_timeline_gap *g = nod_timeline_gap(p->timeline, i);
		double x = nod_axis_x(&p->axis, g->from);
		snprintf(tip, sizeof(tip), "nobody listened from %s to %s",
			 nod_picture_time(p, a, g->from), nod_picture_time(p, b, g->to));
		nod_svg_rect(p->out, x, p->y + 4, nod_axis_x(&p->axis, g->to) - x, 12, "unknown",
			     tip);
	}
	losses(p);
	p->y = top + ROW + (p->narrow ? LABEL : 0);
}

/* ---- wake-ups and marks ---- */

double nod_picture_events_height(const struct nod_picture *p)
{
	double row = ROW + (p->narrow ? LABEL : 0);

	return (p->f->wake_count ? row : 0) + (p->f->mark_count ? row : 0);
}

/* A triangle: filled when nothing explains the wake-up. */
static void draw_wake(struct nod_picture *p, const struct nod_wake_finding *w)
{
	char tip[512], at[NOD_TIME_TEXT], id[NOD_ID_TEXT];
	double x = nod_axis_x(&p->axis, w->time), y = p->y + ROW - 3;
	double half = p->f->wake_count > WAKES_MANY ? 3 : 5;

	snprintf(tip, sizeof(tip), "wake-up of %s at %s: %s (%s) spoke first; %s%s",
		 p->f->networks[w->network].name, nod_picture_time(p, at, w->time),
		 nod_id_print(id, p->f->idents[w->ident].id), p->f->senders[w->sender].name,
		 *w->cause ? "explained by: " : "nothing noted explains it", w->cause);
	nod_svg_path_begin(p->out, *w->cause ? "wake explained" : "wake");
	nod_svg_point(p->out, 'M', x, y - 11);
	nod_svg_point(p->out, 'L', x + half, y);
	nod_svg_point(p->out, 'L', x - half, y);
	fputc('Z', p->out);
	nod_svg_path_end(p->out, tip);
}

static void wakes(struct nod_picture *p)
{
	double top = p->y;

	if (!p->f->wake_count)
		return;
	nod_picture_label(p, "wake-ups", "label", ROW);
	for (size_t i = 0; i < p->f->wake_count; i++)
		draw_wake(p, &p->f->wakes[i]);
	p->y = top + ROW + (p->narrow ? LABEL : 0);
}

static void marks(struct nod_picture *p)
{
	char tip[512], at[NOD_TIME_TEXT], number[24];
	double top = p->y, last = -100;

	if (!p->f->mark_count)
		return;
	nod_picture_label(p, "journal", "label", ROW);
	for (size_t i = 0; i < p->f->mark_count; i++) {
		const struct nod_mark_finding *m = &p->f->marks[i];
		double x = nod_axis_x(&p->axis, m->time);
		snprintf(tip, sizeof(tip), "%zu: %s %s at %s", i + 1,
			 nod_mark_kind_name((enum nod_mark_kind)m->kind), m->subject,
			 nod_picture_time(p, at, m->time));
		nod_svg_rect(p->out, x - 0.5, p->y + 2, 1, ROW - 4, "mark", tip);
		snprintf(number, sizeof(number), "%zu", i + 1);
		if (x - last > 14) {
			nod_svg_text(p->out, x + 2, p->y + ROW - 6, "start", "mark-number", number);
			last = x;
		}
	}
	p->y = top + ROW + (p->narrow ? LABEL : 0);
}

void nod_picture_events(struct nod_picture *p)
{
	wakes(p);
	marks(p);
}
