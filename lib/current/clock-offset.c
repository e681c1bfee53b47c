/* SPDX-License-Identifier: MIT */
#include "clock-offset.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "robust.h"

/* Where the step may lie, seen from the transition. A current rises with the
 * first frame; it falls when the modules power down, which is after the last
 * frame (network-management waits of up to 5 s, published example sets). The
 * rest is the clamp's filter and the second of a cell. Chosen. */
#define EARLY_NS (3 * NOD_NS_PER_S)
#define WAKE_LATE_NS (3 * NOD_NS_PER_S)
#define SLEEP_LATE_NS (8 * NOD_NS_PER_S)

/* Shifts this near are one and the same. */
#define SAME_SHIFT_NS (12 * NOD_NS_PER_S)
#define SHIFT_GRID_NS (NOD_NS_PER_S / 2)

/* A rival is dismissed when it meets fewer than this share of the steps of
 * the best, or when the recording contradicts it by this much more: a
 * transition that should show a step and does not counts 1, a step that should
 * have a transition and has none 0.5 to 3 by its size. Chosen. */
#define RIVAL_SHARE 0.5
#define RIVAL_CONTRADICTION 3.0

/* Known systematic lag: of a rise, and of a fall when there is nothing else. */
#define WAKE_LAG_S 0.5
#define SLEEP_LAG_S 5.0

struct search {
	const struct nod_offset_step *steps;
	const struct nod_transition *transitions;
	size_t step_count, transition_count;
	nod_time log_from, log_to, bus_from, bus_to;
	double typical_change;
};

struct score {
	int64_t shift;
	size_t matched;
	double against;
};

static double worth(const struct score *s)
{
	return (double)s->matched - s->against;
}

/* The step nearest to a transition, -1 for none. *from moves with time. */
static long nearest(const struct search *s, const struct nod_transition *t, int64_t shift,
		    size_t *from)
{
	int64_t late = t->wakes ? WAKE_LATE_NS : SLEEP_LATE_NS, best = INT64_MAX;
	long found = -1;

	while (*from < s->step_count && s->steps[*from].time.ns + shift < t->time.ns - EARLY_NS)
		(*from)++;
	for (size_t i = *from; i < s->step_count; i++) {
		int64_t lag = s->steps[i].time.ns + shift - t->time.ns;
		if (lag > late)
			break;
		int64_t distance = lag < 0 ? -lag : lag;
		if ((s->steps[i].change_ua > 0) == t->wakes && distance < best) {
			best = distance;
			found = (long)i;
		}
	}
	return found;
}

static bool covered(nod_time from, nod_time to, int64_t time, int64_t margin)
{
	return time >= from.ns + margin && time <= to.ns - margin;
}

/* Which transition each step meets: partner[i] is an index or -1. */
static struct score judge(const struct search *s, int64_t shift, int *partner)
{
	struct score score = {.shift = shift};
	size_t from = 0;

	for (size_t i = 0; i < s->step_count; i++)
		partner[i] = -1;
	for (size_t i = 0; i < s->transition_count; i++) {
		long step = nearest(s, &s->transitions[i], shift, &from);
		if (step >= 0)
			partner[step] = (int)i;
		else if (covered(s->log_from, s->log_to, s->transitions[i].time.ns - shift,
				 SLEEP_LATE_NS))
			score.against += 1;
	}
	for (size_t i = 0; i < s->step_count; i++) {
		double size = log2(1 + fabs(s->steps[i].change_ua) / s->typical_change);
		if (partner[i] >= 0)
			score.matched++;
		else if (covered(s->bus_from, s->bus_to, s->steps[i].time.ns + shift,
				 SLEEP_LATE_NS))
			score.against += fmin(fmax(size, 0.5), 3);
	}
	return score;
}

static int compare_shifts(const void *a, const void *b)
{
	int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
	return (x > y) - (x < y);
}

/* Every shift at which a step meets a transition of its sign. */
static size_t candidate_shifts(const struct search *s, int64_t *shifts)
{
	size_t n = 0, kept = 0;

	for (size_t i = 0; i < s->step_count; i++)
		for (size_t k = 0; k < s->transition_count; k++)
			if ((s->steps[i].change_ua > 0) == s->transitions[k].wakes)
				shifts[n++] = s->transitions[k].time.ns - s->steps[i].time.ns;
	qsort(shifts, n, sizeof(*shifts), compare_shifts);
	for (size_t i = 0; i < n; i++)
		if (!kept || shifts[i] - shifts[kept - 1] >= SHIFT_GRID_NS)
			shifts[kept++] = shifts[i];
	return kept;
}

static bool is_rival(const struct score *other, const struct score *best)
{
	return llabs(other->shift - best->shift) > SAME_SHIFT_NS &&
	       (double)other->matched >= RIVAL_SHARE * (double)best->matched &&
	       other->against - best->against < RIVAL_CONTRADICTION;
}

/* The offset from the pairs at the best shift: rises when there are enough of
 * them, for a current falls some time after its bus. */
static void settle(struct nod_clock_offset *result, const struct search *s, const int *partner)
{
	double values[NOD_OFFSET_STEPS], unsure = 0;
	size_t rises = 0, n = 0;

	for (size_t i = 0; i < s->step_count; i++)
		rises += partner[i] >= 0 && s->steps[i].change_ua > 0;
	for (size_t i = 0; i < s->step_count; i++) {
		if (partner[i] < 0 || (rises >= 2 && s->steps[i].change_ua < 0))
			continue;
		/* relative to the best shift, so that a double keeps the nanoseconds */
		values[n++] = (double)(s->transitions[partner[i]].time.ns - s->steps[i].time.ns -
				       result->offset.ns);
		unsure = fmax(unsure, (double)s->steps[i].unsure.ns);
	}
	double lag = (rises >= 2 ? WAKE_LAG_S : SLEEP_LAG_S) * 1e9;
	result->offset.ns += (int64_t)nod_median(values, n);
	double spread = nod_robust_sigma(values, n);
	result->uncertainty.ns = (int64_t)(2 * 1.2533 * spread / sqrt((double)n) + unsure + lag);
}

static void explain(struct nod_clock_offset *r)
{
	char text[NOD_TIME_TEXT], other[NOD_TIME_TEXT];

	switch (r->state) {
	case NOD_OFFSET_FOUND:
		snprintf(r->reason, sizeof(r->reason),
			 "%zu steps of the current meet a network falling asleep or waking when "
			 "%s is added to the logger's time, within %s",
			 r->matched, nod_duration_print(text, r->offset),
			 nod_duration_print(other, r->uncertainty));
		break;
	case NOD_OFFSET_TOO_LITTLE:
		snprintf(
			r->reason, sizeof(r->reason),
			"there are %zu steps of the current and %zu times a network fell asleep or "
			"woke; at least %d of each are needed",
			r->steps, r->transitions, NOD_OFFSET_LEAST_MATCHES);
		break;
	case NOD_OFFSET_NO_MATCH:
		snprintf(r->reason, sizeof(r->reason),
			 "at no offset do %d steps of the current meet a network falling asleep or "
			 "waking",
			 NOD_OFFSET_LEAST_MATCHES);
		break;
	case NOD_OFFSET_AMBIGUOUS:
		snprintf(r->reason, sizeof(r->reason),
			 "the recording fits an offset of %s as well as one of %s",
			 nod_duration_print(text, r->offset), nod_duration_print(other, r->rival));
		break;
	}
}

static void decide(struct nod_clock_offset *r, const struct search *s, int64_t *shifts,
		   struct score *scores, int *partner)
{
	size_t n = candidate_shifts(s, shifts), best = 0;
	const struct score *rival = NULL;

	for (size_t i = 0; i < n; i++) {
		scores[i] = judge(s, shifts[i], partner);
		if (worth(&scores[i]) > worth(&scores[best]))
			best = i;
	}
	r->matched = n ? scores[best].matched : 0;
	r->state = NOD_OFFSET_NO_MATCH;
	if (r->matched < NOD_OFFSET_LEAST_MATCHES || worth(&scores[best]) <= 0)
		return;
	for (size_t i = 0; i < n; i++)
		if (is_rival(&scores[i], &scores[best]) &&
		    (!rival || worth(&scores[i]) > worth(rival)))
			rival = &scores[i];
	judge(s, shifts[best], partner);
	r->offset.ns = shifts[best];
	settle(r, s, partner);
	r->state = rival ? NOD_OFFSET_AMBIGUOUS : NOD_OFFSET_FOUND;
	if (rival)
		r->rival.ns = rival->shift;
}

static double typical_change(const struct nod_offset_step *steps, size_t n)
{
	double values[NOD_OFFSET_STEPS];

	for (size_t i = 0; i < n; i++)
		values[i] = fabs(steps[i].change_ua);
	return fmax(nod_median(values, n), 1);
}

int nod_clock_offset_find(struct nod_clock_offset *result, const struct nod_offset_step *steps,
			  size_t step_count, nod_time log_from, nod_time log_to,
			  const struct nod_transition *transitions, size_t transition_count,
			  nod_time bus_from, nod_time bus_to)
{
	struct search s = {steps,    transitions, step_count, transition_count, log_from, log_to,
			   bus_from, bus_to,      1};

	*result = (struct nod_clock_offset){.state = NOD_OFFSET_TOO_LITTLE,
					    .offset = NOD_DURATION_NONE,
					    .uncertainty = NOD_DURATION_NONE,
					    .rival = NOD_DURATION_NONE,
					    .steps = step_count,
					    .transitions = transition_count};
	if (s.step_count > NOD_OFFSET_STEPS)
		s.step_count = NOD_OFFSET_STEPS;
	if (s.transition_count > NOD_OFFSET_TRANSITIONS)
		s.transition_count = NOD_OFFSET_TRANSITIONS;
	if (s.step_count >= NOD_OFFSET_LEAST_MATCHES &&
	    s.transition_count >= NOD_OFFSET_LEAST_MATCHES) {
		size_t pairs = s.step_count * s.transition_count;
		int64_t *shifts = calloc(pairs, sizeof(*shifts));
		struct score *scores = calloc(pairs, sizeof(*scores));
		int partner[NOD_OFFSET_STEPS];
		s.typical_change = typical_change(steps, s.step_count);
		if (shifts && scores)
			decide(result, &s, shifts, scores, partner);
		free(scores);
		free(shifts);
		if (!shifts || !scores)
			return -ENOMEM;
	}
	explain(result);
	if (result->state != NOD_OFFSET_FOUND)
		result->offset = result->uncertainty = NOD_DURATION_NONE;
	return 0;
}

/* Keeps the `room` largest, in no order. */
static void keep_step(struct nod_offset_step *steps, size_t *count, size_t room,
		      struct nod_offset_step step)
{
	size_t smallest = 0;

	if (*count < room) {
		steps[(*count)++] = step;
		return;
	}
	for (size_t i = 1; i < room; i++)
		if (fabs(steps[i].change_ua) < fabs(steps[smallest].change_ua))
			smallest = i;
	if (room && fabs(step.change_ua) > fabs(steps[smallest].change_ua))
		steps[smallest] = step;
}

static int compare_steps(const void *a, const void *b)
{
	const struct nod_offset_step *x = a, *y = b;
	return (x->time.ns > y->time.ns) - (x->time.ns < y->time.ns);
}

size_t nod_offset_steps_collect(struct nod_offset_step *steps, size_t room,
				const struct nod_current_findings *f)
{
	nod_duration half = {f->cell.ns / 2};
	size_t n = 0;

	for (size_t i = 0; i < f->step_count; i++)
		if (!f->steps[i].zeroing)
			keep_step(steps, &n, room,
				  (struct nod_offset_step){f->steps[i].time, f->steps[i].unsure,
							   f->steps[i].change_ua});
	for (size_t i = 0; i < f->pulse_count; i++) {
		const struct nod_current_pulse *p = &f->pulses[i];
		keep_step(steps, &n, room, (struct nod_offset_step){p->from, half, p->height_ua});
		keep_step(steps, &n, room, (struct nod_offset_step){p->to, half, -p->height_ua});
	}
	if (n)
		qsort(steps, n, sizeof(*steps), compare_steps);
	return n;
}
