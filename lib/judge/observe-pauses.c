/* SPDX-License-Identifier: MIT */
/* Evidence from pauses: who never stopped talking while all others fell silent, woke
 * and fell silent again.
 *
 * A node that hangs in ready sleep, or whose management has died, talks on without
 * asking for anything. The others go to sleep by their management, are woken by its
 * next frame, repeat their requests as the standard demands, and so on for ever: these
 * requests follow from a wake-up and are nobody's wish. */
#include "weighing.h"

#include "track-take.h"

/* Everybody else's longest silence is at least so many times longer. Fitted: true of 100
 * of 101 recordings of three third-party stacks. */
#define SHORTER 1.5

/* A sender whose longest silence is below this many of its own periods has never
 * paused; from there on it has. Chosen: jitter and one lost frame stay below. */
#define OWN_PERIODS 2.5

/* Frames after the deadline before anything is said. Chosen. */
#define FRAMES_LEAST 20

/* One pause can have another reason (an isolation, a sleep that was about to come);
 * from the third on they are a habit. Chosen. */
#define PAUSES_FULL 3

static bool was_here(const struct nod_tally *t)
{
	return t->frames_late && t->silence;
}

static bool never_paused(const struct nod_tally *t)
{
	return t->frames_late >= FRAMES_LEAST && t->fastest &&
	       (double)t->silence < OWN_PERIODS * (double)t->fastest;
}

/* Whether a silence this long is a pause, by its own rhythm: that of late, if it has become
 * slower for parking. */
static bool paused(const struct nod_tally *t)
{
	int64_t pace = t->fastest_late > t->fastest ? t->fastest_late : t->fastest;

	return t->pauses && t->fastest && (double)t->silence >= OWN_PERIODS * (double)pace;
}

/* A pause of who speaks this seldom can lie between two of its frames. */
static bool is_slow(const struct nod_tally *t)
{
	return !t->fastest || OWN_PERIODS * (double)t->fastest >= (double)NOD_PAUSE_MIN_NS;
}

static int shortest_silence(const struct nod_weighing *w)
{
	int found = NOD_NONE;

	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (was_here(&w->tallies[i]) &&
		    (found == NOD_NONE || w->tallies[i].silence < w->tallies[found].silence))
			found = (int)i;
	return found;
}

void nod_weighing_find_pauseless(struct nod_weighing *w)
{
	int found = w->held ? shortest_silence(w) : NOD_NONE;
	unsigned pauses = 0;

	w->pauseless = NOD_NONE;
	if (found == NOD_NONE || !never_paused(&w->tallies[found]))
		return;
	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		const struct nod_tally *t = &w->tallies[i];
		if ((int)i == found || !was_here(t))
			continue;
		bool short_too = (double)t->silence < SHORTER * (double)w->tallies[found].silence;
		if (short_too || (!paused(t) && !is_slow(t)))
			return;
		if (paused(t) && t->pauses > pauses)
			pauses = t->pauses;
	}
	if (!pauses)
		return;
	w->pauseless = found;
	w->pause_count = pauses;
	w->pause_weight = pauses < PAUSES_FULL ? (double)pauses / PAUSES_FULL : 1;
}

void nod_observe_pauses(struct nod_weighing *w)
{
	for (size_t i = 0; i < w->count && w->pauseless != NOD_NONE; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind == NOD_SUSPECT_SENDER && h->sender == w->pauseless)
			nod_hypothesis_add(w, h, NOD_EV_NO_PAUSE, w->pause_weight,
					   "It alone never stopped talking, while all others on %s "
					   "fell silent and were woken again, up to %u times.",
					   w->n->name, w->pause_count);
	}
}
