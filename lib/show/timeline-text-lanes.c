/* SPDX-License-Identifier: MIT */
/* The upper lines of a timeline in text: networks, deadlines, what was not
 * listened to, wake-ups and marks. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "journal.h"
#include "moment-text.h"
#include "paragraph.h"
#include "timeline-text-internal.h"

#define MARKS_MAX 20 /* listed below; the rest is counted */

void nod_drawing_deadlines(struct nod_drawing *d)
{
	bool any = false;

	nod_drawing_clear(d);
	for (size_t i = 0; i < d->f->network_count; i++) {
		const struct nod_network_finding *n = &d->f->networks[i];
		for (size_t k = 0; k < n->late_count; k++)
			d->line[nod_drawing_column(d, n->late[k].from)] = d->signs->deadline;
		any |= n->late_count > 0;
	}
	if (any)
		nod_drawing_line(d, "settle deadline");
}

/* ---- networks ---- */

static void fill(const struct nod_drawing *d, unsigned char *state, nod_time from, nod_time to,
		 enum nod_sign sign)
{
	for (int i = nod_drawing_column(d, from); i <= nod_drawing_column(d, to); i++)
		if (state[i] < sign)
			state[i] = (unsigned char)sign;
}

static void fill_span(const struct nod_drawing *d, unsigned char *state,
		      const struct nod_network_finding *n, size_t i)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_time to = s->open ? d->axis.to : s->to;
	nod_time next = nod_span_silence_end(n, i, d->axis.to);
	bool known = s->silence_known && !(i + 1 == n->span_count && n->state == NOD_STATE_UNKNOWN);

	if (!s->open)
		fill(d, state, to, next,
		     known || nod_time_is_set(s->hole_from) ? NOD_SIGN_ASLEEP : NOD_SIGN_UNKNOWN);
	if (nod_time_is_set(s->hole_from))
		fill(d, state, s->hole_from, s->hole_to, NOD_SIGN_UNKNOWN);
	fill(d, state, s->from, to, NOD_SIGN_AWAKE);
	for (const struct nod_late *late = n->late; late < n->late + n->late_count; late++)
		if (late->from.ns <= to.ns && late->to.ns >= s->from.ns)
			fill(d, state, late->from.ns > s->from.ns ? late->from : s->from,
			     late->to.ns < to.ns ? late->to : to, NOD_SIGN_LATE);
}

static void print_network(struct nod_drawing *d, const struct nod_network_finding *n,
			  unsigned char *state)
{
	memset(state, NOD_SIGN_NONE, (size_t)d->columns);
	for (size_t i = 0; i < n->span_count; i++)
		fill_span(d, state, n, i);
	for (int i = 0; i < d->columns; i++)
		d->line[i] = d->signs->lane[state[i]];
	if (!n->span_count)
		d->line[0] = nod_network_state_name(n->state);
	nod_drawing_line(d, n->name);
}

int nod_drawing_networks(struct nod_drawing *d)
{
	unsigned char *state = malloc((size_t)d->columns);

	if (!state)
		return -ENOMEM;
	for (size_t k = 0; k < d->f->network_count; k++)
		print_network(d, &d->f->networks[k], state);
	free(state);
	return 0;
}

void nod_drawing_missed(struct nod_drawing *d)
{
	bool any = nod_timeline_gap_count(d->timeline) > 0;

	nod_drawing_clear(d);
	for (size_t i = 0; i < nod_timeline_gap_count(d->timeline); i++) {
		const struct nod_timeline_gap *g = nod_timeline_gap(d->timeline, i);
		for (int c = nod_drawing_column(d, g->from); c <= nod_drawing_column(d, g->to); c++)
			d->line[c] = d->signs->lane[NOD_SIGN_UNKNOWN];
	}
	for (size_t i = 0; i < nod_timeline_bins(d->timeline); i++)
		if (nod_timeline_losses(d->timeline)[i]) {
			nod_time at = nod_timeline_bin_begin(d->timeline, i);
			d->line[nod_drawing_column(d, at)] = "!";
			any = true;
		}
	if (any)
		nod_drawing_line(d, "not listened, lost");
}

/* ---- wake-ups and marks ---- */

void nod_drawing_wakes(struct nod_drawing *d)
{
	nod_drawing_clear(d);
	for (int unexplained = 0; unexplained < 2; unexplained++)
		for (size_t i = 0; i < d->f->wake_count; i++)
			if (*d->f->wakes[i].cause ? !unexplained : unexplained)
				d->line[nod_drawing_column(d, d->f->wakes[i].time)] =
					unexplained ? d->signs->wake : d->signs->explained;
	if (d->f->wake_count)
		nod_drawing_line(d, "wake-ups");
}

/* The letter under which a mark is listed. */
static const char *letter(size_t index)
{
	static const char letters[][2] = {"a", "b", "c", "d", "e", "f", "g", "h", "i", "j",
					  "k", "l", "m", "n", "o", "p", "q", "r", "s", "t"};

	return index < MARKS_MAX ? letters[index] : "+";
}

void nod_drawing_marks(struct nod_drawing *d)
{
	nod_drawing_clear(d);
	for (size_t i = d->f->mark_count; i-- > 0;)
		d->line[nod_drawing_column(d, d->f->marks[i].time)] = letter(i);
	if (d->f->mark_count)
		nod_drawing_line(d, "journal");
}

void nod_drawing_list_marks(struct nod_drawing *d)
{
	char at[NOD_MOMENT_TEXT];
	int width = nod_moment_cell_width(d->f, NULL);

	if (d->f->mark_count)
		fprintf(d->out, "\n    %*s\n", width, nod_moment_cell_heading(d->f));
	for (size_t i = 0; i < d->f->mark_count && i < MARKS_MAX; i++) {
		const struct nod_mark_finding *m = &d->f->marks[i];
		char lead[8 + NOD_MOMENT_TEXT];
		snprintf(lead, sizeof(lead), "  %s %*s  ", letter(i),
			 width < NOD_MOMENT_TEXT ? width : NOD_MOMENT_TEXT - 1,
			 nod_moment_print_cell(at, d->f, m->time, NULL));
		nod_paragraph_printf(d->out, lead, "%s%s%s%s",
				     nod_mark_kind_name((enum nod_mark_kind)m->kind),
				     *m->subject ? " " : "", m->subject,
				     m->inferred ? " (seen in the traffic, not entered)" : "");
	}
	if (d->f->mark_count > MARKS_MAX)
		fprintf(d->out, "  + and %zu more\n", d->f->mark_count - MARKS_MAX);
}
