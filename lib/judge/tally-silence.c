/* SPDX-License-Identifier: MIT */
/* How long each sender was silent, and how long it may be: who speaks once a minute has neither
 * stopped nor left others alone for not being heard since the last time. */
#include "weighing.h"

#include "track-take.h"

/* A sender counts as silent when it has missed this many of its periods, and
 * for at least this long: the last seconds before a sleep are a cascade in
 * which everybody stops, the holder perhaps first. Chosen. */
#define STOPPED_PERIODS 5

/* Intervals that are too few for a rhythm, and yet tell how long they are on average. Chosen. */
#define INTERVALS_LEAST 3

static bool is_cyclic(const struct nod_period *p)
{
	return p->rhythm == NOD_RHYTHM_CYCLIC || p->rhythm == NOD_RHYTHM_MIXED;
}

/* The interval that a message keeps to, of late if that is known; 0: none. */
static int64_t period_of(const struct nod_ident_finding *f)
{
	return is_cyclic(&f->after) ? f->after.period.ns
	       : f->after.rhythm == NOD_RHYTHM_UNKNOWN && is_cyclic(&f->before)
		       ? f->before.period.ns
		       : 0;
}

static unsigned add_intervals(const struct nod_sampler *s, int64_t *sum)
{
	for (unsigned i = 0; i < s->used; i++)
		*sum += s->us[i] * NOD_NS_PER_US;
	return s->used;
}

/* ... or, where there are few yet, that between its frames on average. */
static int64_t pace_of(const struct nod_ident *ident, const struct nod_ident_finding *f)
{
	int64_t period = period_of(f), sum = 0;
	unsigned count = add_intervals(&ident->settled, &sum);

	if (period || f->after.rhythm != NOD_RHYTHM_UNKNOWN ||
	    f->before.rhythm != NOD_RHYTHM_UNKNOWN)
		return period;
	count += ident->after ? add_intervals(&ident->after->intervals, &sum) : 0;
	return count < INTERVALS_LEAST ? 0 : sum / count;
}

static void tally_due(struct nod_tally *t, const struct nod_ident *ident,
		      const struct nod_ident_finding *f, nod_time last)
{
	int64_t pace = pace_of(ident, f);
	nod_duration due = {(int64_t)(NOD_DUE_PERIODS * (double)pace)};
	nod_duration stopped = {nod_later(STOPPED_PERIODS * pace, NOD_SILENT_MIN_NS)};

	t->paced |= period_of(f) > 0;
	t->due.ns = nod_later(t->due.ns, nod_time_after(last, due).ns);
	t->stopped.ns = nod_later(t->stopped.ns, nod_time_after(last, stopped).ns);
}

/* A sender is silent while none of its messages comes: no longer than the one that comes
 * most often is away. */
void nod_tally_silence(struct nod_weighing *w, struct nod_tally *t, const struct nod_ident *ident,
		       const struct nod_ident_finding *f, nod_time last)
{
	int64_t since = nod_time_since(w->end, last).ns;
	int64_t silence = nod_later(ident->pause, since);

	tally_due(t, ident, f, last);
	if (!ident->frames[NOD_PHASE_LATE] || (t->silence && t->silence <= silence))
		return;
	t->silence = silence;
	t->silent_frames = ident->frames[NOD_PHASE_LATE];
	t->pauses = ident->pauses + (since >= NOD_PAUSE_MIN_NS);
}
