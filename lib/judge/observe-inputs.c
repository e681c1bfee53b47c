/* SPDX-License-Identifier: MIT */
/* Evidence where no network management tells: all talk on, and one has a reason. What its
 * data does, whether it goes on as in a car in use, what it sends on event, who begins again
 * after a pause.
 *
 * Whether that is remarkable, the car itself tells: how many of the other senders on the
 * network do the same. So each weight is the logarithm of P(seen | it is the cause) against
 * P(seen | it follows), and the latter is counted among the others, with a few cases of
 * everyday cars added to it (Laplace's rule with more than two outcomes). */
#include "signals.h"
#include "weighing.h"

#include <assert.h>
#include <math.h>

/* Senders of everyday cars that are added to those that were heard. Chosen: few enough that
 * ten senders outweigh them, enough that one of two is not rare. */
#define EVERYDAY 3.0

/* A cause need not show in its data or its events: a stuck relay moves nothing. Chosen. */
#define SHOWS 0.5

/* With network management the cause asks for the network, and may have left the rest of
 * what it does as it is: less shows. Chosen. */
#define MANAGED 0.3

/* Who does not ask for a network that others ask for holds it by other means, if at all:
 * its share of the weight. Chosen. */
#define NOT_ASKING 0.25

/* Of the senders, so many must have slowed down before a kept pace means something. Chosen. */
#define SLOW_SHARE 0.25

/* Weights nearer to nothing than this are not worth a line. */
#define WORTH_SAYING 0.1

/* P(seen | follower) of an everyday car, and P(seen | cause that shows). All chosen, and
 * checked by the calibration of the benchmark `judgement`. */
struct outcome {
	double follower, cause;
};

static const struct outcome of_data[NOD_DATA_KINDS] = {
	[NOD_DATA_STILL] = {0.55, 0.15},  [NOD_DATA_VALUE] = {0.25, 0.15},
	[NOD_DATA_LOWEST] = {0.12, 0.10}, [NOD_DATA_SWITCH] = {0.06, 0.35},
	[NOD_DATA_TOLD] = {0.02, 0.25},
};

enum { QUIET, EVENTS, EVENT_KINDS };
static const struct outcome of_events[EVENT_KINDS] = {[QUIET] = {0.9, 0.5}, [EVENTS] = {0.1, 0.5}};

enum { PACE_KEPT_SET, PACE_KEPT_ONE, PACE_PARTLY, PACE_SLOWED, PACE_KINDS };
static const struct outcome of_pace[PACE_KINDS] = {[PACE_KEPT_SET] = {0.35, 0.60},
						   [PACE_KEPT_ONE] = {0.25, 0.30},
						   [PACE_PARTLY] = {0.25, 0.07},
						   [PACE_SLOWED] = {0.15, 0.03}};

/* ---- one facet ---- */

struct facet {
	const struct outcome *outcomes;
	double shows;                         /* share of the causes that show in it */
	int (*of)(const struct nod_tally *t); /* the outcome, NOD_NONE: cannot be said */
};

static int data_of(const struct nod_tally *t)
{
	return t->frames_late ? (int)t->data.kind : NOD_NONE;
}

static int events_of(const struct nod_tally *t)
{
	return t->frames_late ? (t->events_late ? EVENTS : QUIET) : NOD_NONE;
}

static int pace_of(const struct nod_tally *t)
{
	if (!t->kept && !t->slowed)
		return NOD_NONE;
	if (!t->slowed)
		return t->kept > 1 ? PACE_KEPT_SET : PACE_KEPT_ONE;
	return t->kept ? PACE_PARTLY : PACE_SLOWED;
}

static const struct facet facet_data = {of_data, SHOWS, data_of};
static const struct facet facet_events = {of_events, SHOWS, events_of};
static const struct facet facet_pace = {of_pace, 1, pace_of};

/* How often each outcome was seen on the network, and of all together. */
#define OUTCOMES 5
struct counts {
	unsigned heard, of[OUTCOMES];
};

static_assert(NOD_DATA_KINDS <= OUTCOMES && (int)PACE_KINDS <= OUTCOMES, "room for outcomes");

static struct counts count(const struct nod_weighing *w, const struct facet *facet)
{
	struct counts c = {0};

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		int outcome = facet->of(&w->tallies[i]);
		if (outcome == NOD_NONE || w->tallies[i].tester)
			continue;
		c.heard++;
		c.of[outcome]++;
	}
	return c;
}

/* What is weighed, and what of it the others show. */
struct seen {
	double nats; /* 0: it cannot be said, or tells nothing */
	unsigned others, same;
};

static struct seen weigh(const struct nod_weighing *w, const struct facet *facet,
			 const struct counts *c, int sender)
{
	const struct nod_tally *t = &w->tallies[sender];
	int outcome = facet->of(t);
	unsigned itself = !t->tester;
	struct seen seen = {0};

	if (outcome == NOD_NONE || c->heard <= itself)
		return seen;
	const struct outcome *o = &facet->outcomes[outcome];
	seen.others = c->heard - itself;
	seen.same = c->of[outcome] - itself;
	double follower = (seen.same + EVERYDAY * o->follower) / (seen.others + EVERYDAY);
	double shows = w->nodes ? facet->shows * MANAGED : facet->shows;
	seen.nats = log(shows * o->cause / follower + (1 - shows));
	if (w->requesting && !nod_weighing_requests(w, t))
		seen.nats *= NOT_ASKING;
	return seen;
}

/* As nod_hypothesis_add(), with a weight in nats. */
#define ADD(w, h, kind, nats, ...)                                                                 \
	do {                                                                                       \
		if (fabs(nats) >= WORTH_SAYING)                                                    \
			nod_hypothesis_add(w, h, kind, (nats) / nod_evidence_rule(kind)->strength, \
					   __VA_ARGS__);                                           \
	} while (0)

/* ---- what is said ---- */

static const char *data_text(struct nod_weighing *w, const struct nod_tally *t)
{
	static const char *const words[NOD_DATA_KINDS] = {
		[NOD_DATA_LOWEST] = "a single bit moved, a switch's or a value's lowest",
		[NOD_DATA_SWITCH] = "it moved as a switch does",
		[NOD_DATA_TOLD] = "it moved as a switch does, and each change was sent at once",
	};
	const struct nod_ident_finding *ident = &w->a->f->idents[t->changing_ident];
	char id[NOD_ID_TEXT], bit[NOD_SIGNAL_TEXT];

	if (t->data.kind == NOD_DATA_STILL)
		return "Its data stood still after the deadline";
	nod_id_print(id, ident->id);
	if (t->data.kind == NOD_DATA_VALUE)
		return nod_arena_printf(w->a->arena,
					"Values in its data moved after the deadline (%s)", id);
	return nod_arena_printf(w->a->arena, "%s changed %u times after the deadline: %s",
				nod_signals_print_bit(bit, w->a->f, ident, t->data.bit),
				t->data.changes, words[t->data.kind]);
}

static void observe_data(struct nod_weighing *w, struct nod_hypothesis *h, const struct counts *c)
{
	struct seen seen = weigh(w, &facet_data, c, h->sender);

	ADD(w, h, NOD_EV_PAYLOAD, seen.nats, "%s (%u of %u others show the same).",
	    data_text(w, &w->tallies[h->sender]), seen.same, seen.others);
}

static void observe_events(struct nod_weighing *w, struct nod_hypothesis *h, const struct counts *c)
{
	const struct nod_tally *t = &w->tallies[h->sender];
	struct seen seen = weigh(w, &facet_events, c, h->sender);

	if (t->events_late)
		ADD(w, h, NOD_EV_EVENTS, seen.nats,
		    "It sent %llu frames on event after the deadline.",
		    (unsigned long long)t->events_late);
	else
		ADD(w, h, NOD_EV_EVENTS, seen.nats, "It sent nothing on event after the deadline.");
}

/* Where hardly anybody slows down for parking, who keeps its pace does what all do. */
static bool many_slow_down(const struct counts *c)
{
	unsigned slowed = c->of[PACE_PARTLY] + c->of[PACE_SLOWED];

	return slowed && slowed >= SLOW_SHARE * c->heard;
}

static void observe_pace(struct nod_weighing *w, struct nod_hypothesis *h, const struct counts *c)
{
	const struct nod_tally *t = &w->tallies[h->sender];
	struct seen seen = weigh(w, &facet_pace, c, h->sender);

	if (!t->slowed)
		ADD(w, h, NOD_EV_UNUSUAL_PERIOD, seen.nats,
		    "All its messages go on as fast as ever; so do those of %u of %u others.",
		    seen.same, seen.others);
	else
		ADD(w, h, NOD_EV_UNUSUAL_PERIOD, seen.nats,
		    "%u of its %u messages have become slower or stopped.", t->slowed,
		    t->kept + t->slowed);
}

/* Pauses that are a habit, their time mostly ended by one sender, and the number at which
 * that counts in full. Chosen. */
#define PAUSES_MIN 3
#define PAUSES_SHARE 0.7
#define PAUSES_FULL 8

/* A pause in which nobody's frame was due tells nothing: then it ends with whose turn it is. */
#define DUE_PERIODS 1.8

static bool others_were_due(const struct nod_weighing *w, int sender)
{
	const struct nod_tally *t = &w->tallies[sender];
	double pause = (double)t->lulled_ns / (double)t->resumed;

	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if ((int)i != sender && w->tallies[i].fastest_late > 0 &&
		    pause >= DUE_PERIODS * (double)w->tallies[i].fastest_late)
			return true;
	return false;
}

/* Who begins again after the pauses, NOD_NONE: nobody does, or there are none. */
static int find_beginner(const struct nod_weighing *w)
{
	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		const struct nod_tally *t = &w->tallies[i];
		if (t->resumed >= PAUSES_MIN &&
		    (double)t->lulled_ns >= PAUSES_SHARE * (double)w->lulled_ns &&
		    others_were_due(w, (int)i))
			return (int)i;
	}
	return NOD_NONE;
}

static void observe_resumes(struct nod_weighing *w, struct nod_hypothesis *h)
{
	unsigned times = w->tallies[h->sender].resumed;

	nod_hypothesis_add(
		w, h, NOD_EV_RESUMES, times >= PAUSES_FULL ? 1 : (double)times / PAUSES_FULL,
		"%s fell silent for a moment %u times after the deadline; %u times it was "
		"the first to speak again.",
		w->n->name, w->resumed, times);
}

void nod_observe_inputs(struct nod_weighing *w)
{
	if (!w->serial || !(w->held || w->tentative))
		return;
	int beginner = find_beginner(w);
	const struct counts data = count(w, &facet_data), events = count(w, &facet_events),
			    pace = count(w, &facet_pace);
	/* Who has released a network stops, whatever its pace was; a good recording is the better
	 * measure of a pace. */
	bool paced = !w->nodes && !w->a->engine->good && many_slow_down(&pace);
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		observe_data(w, h, &data);
		if (h->sender == beginner)
			observe_resumes(w, h);
		if (beginner != NOD_NONE)
			continue; /* intervals tell of the pauses then */
		observe_events(w, h, &events);
		if (paced)
			observe_pace(w, h, &pace);
	}
}
