/* SPDX-License-Identifier: MIT */
/* Evidence from pauses: who never stopped talking while all others fell silent, woke
 * and fell silent again.
 *
 * A node that hangs in ready sleep, or whose management has died, talks on without
 * asking for anything. The others go to sleep by their management, are woken by its
 * next frame, repeat their requests as the standard demands, and so on for ever: these
 * requests follow from a wake-up and are nobody's wish. */
#include "weighing.h"

#include <math.h>

#include "track-take.h"

/* Everybody else's longest silence is at least so many times longer. Fitted: true of 100
 * of 101 recordings of three third-party stacks. */
#define SHORTER 1.5

/* A sender whose longest silence is below this many of its own periods has never
 * paused; from there on it has. Chosen: jitter and one lost frame stay below. */
#define OWN_PERIODS 2.5

/* ... and who has been silent for as long as that may have lost two frames in a row, which
 * happens once in thousands at a loss of 1 %. Chosen. */
#define OWN_PERIODS_LOST 3.5

/* Frames after the deadline before anything is said. Chosen. */
#define FRAMES_LEAST 20

/* Of the others, so many must be seen to have paused: those that speak seldom may not
 * have. Chosen. */
#define PAUSED_SHARE 0.5

/* One pause can have another reason (an isolation, a sleep that was about to come);
 * from the third on they are a habit. Chosen. */
#define PAUSES_FULL 3

/* Lulls that are a habit, their time mostly ended by one sender, and the number at which
 * that counts in full. Chosen. */
#define LULLS_MIN 3
#define LULLS_SHARE 0.8
#define LULLS_FULL 8

/* One may have been silent for several of its periods and yet too briefly to be seen as
 * pausing; of those that were, there must be so many for each such. Chosen. */
#define PAUSED_PER_UNDECIDED 3

/* The shortest interval that it keeps to; of who joined late, what it keeps to since. */
static double pace(const struct nod_tally *t)
{
	return (double)(t->fastest ? t->fastest : t->fastest_late);
}

static bool was_here(const struct nod_tally *t)
{
	return t->frames_late && t->silence;
}

static bool never_paused(const struct nod_tally *t)
{
	return t->frames_late >= FRAMES_LEAST && t->fastest &&
	       (double)t->silence < OWN_PERIODS_LOST * pace(t);
}

/* Another that never paused for certain: then it is nobody's mark. */
static bool talked_on(const struct nod_tally *t)
{
	return pace(t) > 0 && (double)t->silence < OWN_PERIODS * pace(t);
}

/* A message that has become slower for parking is silent before most of its frames; one that
 * is woken again and again sends several each time. Chosen. */
#define SLOWED_SHARE 0.8

/* Whether a silence this long is a pause, by its own rhythm: that of late, if it has become
 * slower for parking. */
static bool has_slowed(const struct nod_tally *t)
{
	return t->fastest_late > t->fastest && t->pauses >= SLOWED_SHARE * (double)t->silent_frames;
}

static bool paused(const struct nod_tally *t)
{
	double own = has_slowed(t) ? (double)t->fastest_late : pace(t);

	return t->pauses && own > 0 && (double)t->silence >= OWN_PERIODS * own;
}

/* A pause of who speaks this seldom can lie between two of its frames. */
static bool is_slow(const struct nod_tally *t)
{
	return pace(t) <= 0 || OWN_PERIODS * pace(t) >= (double)NOD_PAUSE_MIN_NS;
}

/* Who are put to sleep together are silent together: then it is heard alone, so often at least.
 * Silences shorter than two seconds need not show as such stretches (NOD_RUN_MIN_NS, and the
 * others' own periods). Chosen. */
#define ALONE_LEAST 3
#define TOGETHER_FROM_NS (2 * NOD_NS_PER_S)
#define ALONE_SHARE 0.5 /* of all stretches in which anybody was alone */
#define BRISK_SHARE 0.5 /* of those that paused */
#define BRISK_LEAST 3   /* one or two go on and off for reasons of their own */
#define BRISK_FRAMES 4  /* at their pace between two pauses */

/* Messages that have become slow are each silent in their own time, and nobody is heard alone. But
 * so are nodes that are woken without a message of management between them (a repeat-message time
 * of 0): those keep their pace in between, again and again. */
static bool were_silent_together(const struct nod_weighing *w, const struct nod_tally *t,
				 int64_t least, bool brisk)
{
	return least < TOGETHER_FROM_NS || brisk ||
	       (t->lone_runs >= ALONE_LEAST &&
		(double)t->lone_ns >= ALONE_SHARE * (double)w->lone_ns);
}

/* It talks at its own pace between its pauses. */
static bool is_brisk(const struct nod_tally *t)
{
	return t->fastest && t->fastest_late <= t->fastest && t->pauses >= PAUSES_FULL &&
	       t->silent_frames >= BRISK_FRAMES * (uint64_t)t->pauses;
}

static int shortest_silence(const struct nod_weighing *w)
{
	int found = NOD_NONE;

	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (was_here(w->tallies[i]) &&
		    (found == NOD_NONE || w->tallies[i]->silence < w->tallies[found]->silence))
			found = (int)i;
	return found;
}

/* One whose own period is about as long as the pauses of the others cannot be silent for much
 * less; that it ended their silences, time after time, tells it then. */
static bool ended_the_lulls(const struct nod_weighing *w, const struct nod_tally *t)
{
	return t->resumed >= LULLS_MIN && t->resumed >= LULLS_SHARE * w->resumed;
}

/* Who may be the one that never paused: who was silent least, or else who ended the silences of all,
 * at a pace as slow as they are long. */
static int candidate(const struct nod_weighing *w)
{
	int shortest = shortest_silence(w);

	if (shortest != NOD_NONE && never_paused(w->tallies[shortest]))
		return shortest;
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (was_here(w->tallies[i]) && never_paused(w->tallies[i]) &&
		    ended_the_lulls(w, w->tallies[i]))
			return (int)i;
	return NOD_NONE;
}

/* Whether this one's being silent as little speaks against the mark of the one found. */
static bool is_like(const struct nod_weighing *w, const struct nod_tally *t,
		    const struct nod_tally *found)
{
	if ((double)t->silence < SHORTER * (double)found->silence &&
	    !(paused(t) && ended_the_lulls(w, found)))
		return true;
	return talked_on(t) && !is_slow(t);
}

void nod_weighing_find_pauseless(struct nod_weighing *w)
{
	int found = w->held ? candidate(w) : NOD_NONE;
	unsigned pauses = 0, seen = 0, others = 0, undecided = 0, brisk = 0;
	int64_t least = INT64_MAX; /* of the silences of those that paused */

	w->pauseless = NOD_NONE;
	if (w->steady_request)
		return; /* that is why all talk on, however seldom some of them do */
	if (found == NOD_NONE)
		return;
	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		const struct nod_tally *t = w->tallies[i];
		if ((int)i == found || !was_here(t))
			continue;
		if (is_like(w, t, w->tallies[found]))
			return;
		if (paused(t) && t->pauses > pauses)
			pauses = t->pauses;
		if (paused(t) && t->silence < least)
			least = t->silence;
		seen += paused(t);
		brisk += paused(t) && is_brisk(t);
		undecided += !paused(t) && !is_slow(t);
		others++;
	}
	if (!pauses || seen < PAUSED_SHARE * others || seen < PAUSED_PER_UNDECIDED * undecided ||
	    !were_silent_together(w, w->tallies[found], least,
				  brisk >= BRISK_LEAST && brisk >= BRISK_SHARE * seen))
		return;
	w->pauseless = found;
	w->pause_count = pauses;
	w->pause_weight = pauses < PAUSES_FULL ? (double)pauses / PAUSES_FULL : 1;
}

/* ---- who begins again ---- */

/* Of the networks that are kept awake, so many pause and are started again. Chosen. */
#define PAUSING 0.05

/* ... and of these, so often another is the first to speak than who starts them. Chosen. */
#define STARTED_BY_ANOTHER 0.004

/* Less than this, in nats, is nobody's mark. Chosen. */
#define BEGINNER_LEAST 1.0

/* That one of the others was silent by its own clock though its turn came within the lull:
 * once, or nearly twice. Chosen: its interval may have been another. */
#define TURN_MISSED 0.15
#define TURNS_MISSED 0.05
#define TURNS 1.8

/* ... or did not come: the clocks of modules that were started together keep step for a while, so
 * a silence of all is likelier than by chance. Chosen. */
#define TURN_COUNTS 0.75

/* How likely this sender is silent for so long by its own clock. */
static double silent_by_clock(const struct nod_tally *t, double lull)
{
	double turns = lull / (double)t->fastest_late;

	return turns >= TURNS ? TURNS_MISSED : turns >= 1 ? TURN_MISSED : 1 - TURN_COUNTS * turns;
}

/* Where each speaks by its own clock, silences of all come about as well: so likely such lulls
 * as this one ended do, by how often they did. A lull begins after somebody's frame. */
static double lulls_by_clocks(const struct nod_weighing *w, int sender)
{
	const struct nod_tally *t = w->tallies[sender];
	double lull = (double)t->lulled_ns / (double)t->resumed, chance = 1;
	unsigned senders = 1;

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		const struct nod_tally *other = w->tallies[i];
		if ((int)i == sender || other->fastest_late <= 0 ||
		    2 * other->frames_late < w->resumed)
			continue;
		chance *= silent_by_clock(other, lull);
		senders++;
	}
	return chance * senders * (double)w->n->awake_late.ns / (double)t->lulled_ns;
}

/* What having ended the lulls says for this one, nats. */
static double began_again(const struct nod_weighing *w, int sender)
{
	const struct nod_tally *t = w->tallies[sender];

	if (t->resumed < LULLS_MIN || (double)t->lulled_ns < LULLS_SHARE * (double)w->lulled_ns)
		return 0;
	double chance = lulls_by_clocks(w, sender);
	return log((PAUSING + chance) / (PAUSING * STARTED_BY_ANOTHER + chance));
}

void nod_weighing_find_beginner(struct nod_weighing *w)
{
	w->beginner = NOD_NONE;
	for (size_t i = 0; (w->held || w->tentative) && i < w->a->f->sender_count; i++) {
		double nats = began_again(w, (int)i);
		if (nats < BEGINNER_LEAST)
			continue;
		w->beginner = (int)i;
		w->beginner_nats = nats;
	}
}

static void observe_resumes(struct nod_weighing *w, struct nod_hypothesis *h)
{
	unsigned times = w->tallies[h->sender]->resumed;

	double share = times >= LULLS_FULL ? 1 : (double)times / LULLS_FULL;
	double strength = nod_evidence_rule(NOD_EV_RESUMES)->strength;

	nod_hypothesis_add(
		w, h, NOD_EV_RESUMES, share * w->beginner_nats / strength,
		"%s fell silent for a moment %u times after the deadline; %u times it was "
		"the first to speak again.",
		w->n->name, w->resumed, times);
}

/* That it was alone, that it never paused and that it began again are one fact: what was said of
 * the first, as a share of the second. */
static double said(const struct nod_hypothesis *h)
{
	for (size_t i = 0; i < h->evidence_count; i++)
		if (h->evidence[i].kind == NOD_EV_ALONE)
			return h->evidence[i].weight / nod_evidence_rule(NOD_EV_NO_PAUSE)->strength;
	return 0;
}

static void observe_no_pause(struct nod_weighing *w, struct nod_hypothesis *h)
{
	double weight = w->pause_weight - said(h);

	if (weight <= 0)
		return;
	nod_hypothesis_add(w, h, NOD_EV_NO_PAUSE, weight,
			   "It alone never stopped talking, while all others on %s "
			   "fell silent and were woken again, up to %u times.",
			   w->n->name, w->pause_count);
}

void nod_observe_pauses(struct nod_weighing *w)
{
	if (!w->serial)
		return;
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		if (h->sender == w->pauseless)
			observe_no_pause(w, h);
		else if (h->sender == w->beginner && said(h) <= 0)
			observe_resumes(w, h);
	}
}
