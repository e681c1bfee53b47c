/* SPDX-License-Identifier: MIT */
/* Evidence where no network management tells: all talk on, and one has a reason. What its
 * data does, whether it goes on as in a car in use, what it sends on event.
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
#define EVERYDAY 6.0

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
static const struct outcome of_events[EVENT_KINDS] = {
	[QUIET] = {0.92, 0.6}, [EVENTS] = {0.08, 0.4}};

/* ---- one facet ---- */

struct facet {
	const struct outcome *outcomes;
	double shows;                         /* share of the causes that show in it */
	int (*of)(const struct nod_tally *t); /* the outcome, NOD_NONE: cannot be said */
};

static int data_of(const struct nod_tally *t)
{
	enum nod_data_kind kind = t->repeats == NOD_NONE ? t->data.kind : NOD_DATA_VALUE;

	return t->frames_late ? (int)kind : NOD_NONE;
}

static int events_of(const struct nod_tally *t)
{
	return t->frames_late ? (t->events_late ? EVENTS : QUIET) : NOD_NONE;
}

static const struct facet facet_data = {of_data, SHOWS, data_of};
static const struct facet facet_events = {of_events, SHOWS, events_of};

/* How often each outcome was seen on the network, and of all together. */
#define OUTCOMES 5
struct counts {
	unsigned heard, of[OUTCOMES];
};

static_assert(NOD_DATA_KINDS <= OUTCOMES, "room for outcomes");

static struct counts count(const struct nod_weighing *w, const struct facet *facet)
{
	struct counts c = {0};

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		int outcome = facet->of(w->tallies[i]);
		if (outcome == NOD_NONE || w->tallies[i]->tester)
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
	const struct nod_tally *t = w->tallies[sender];
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
	if (t->repeats != NOD_NONE)
		return nod_arena_printf(w->a->arena, "%s repeats what %s said just before", id,
					nod_id_print(bit, w->a->f->idents[t->repeats].id));
	if (t->data.kind == NOD_DATA_VALUE)
		return nod_arena_printf(w->a->arena,
					"Values in its data moved after the deadline (%s)", id);
	return nod_arena_printf(w->a->arena, "%s changed %u times after the deadline: %s",
				nod_signals_print_bit(bit, w->a->f, ident, t->data.bit),
				t->data.changes, words[t->data.kind]);
}

static double observe_data(struct nod_weighing *w, struct nod_hypothesis *h, const struct counts *c)
{
	struct seen seen = weigh(w, &facet_data, c, h->sender);

	ADD(w, h, NOD_EV_PAYLOAD, seen.nats, "%s (%u of %u others show the same).",
	    data_text(w, w->tallies[h->sender]), seen.same, seen.others);
	return seen.nats;
}

/* A message that is sent when its switch moves is one fact, however it is looked at. */
static bool are_one_fact(const struct nod_weighing *w, const struct nod_tally *t)
{
	return t->events_late && t->data.kind >= NOD_DATA_LOWEST && t->repeats == NOD_NONE &&
	       w->a->f->idents[t->changing_ident].after.rhythm == NOD_RHYTHM_ON_EVENT;
}

/* Of one fact the stronger side counts. */
static void observe_events(struct nod_weighing *w, struct nod_hypothesis *h, const struct counts *c,
			   double data_nats)
{
	const struct nod_tally *t = w->tallies[h->sender];
	struct seen seen = weigh(w, &facet_events, c, h->sender);

	if (are_one_fact(w, t))
		seen.nats = fmax(0, seen.nats - fmax(0, data_nats));

	if (t->events_late)
		ADD(w, h, NOD_EV_EVENTS, seen.nats,
		    "It sent %llu frames on event after the deadline.",
		    (unsigned long long)t->events_late);
	else
		ADD(w, h, NOD_EV_EVENTS, seen.nats, "It sent nothing on event after the deadline.");
}

/* ---- who goes on as in a car in use ---- */

/* That a message keeps its pace in a parked car, of a sender that needs the network, and of
 * one that thins out. Chosen: a quarter of the messages of an everyday car are slower when it
 * is parked, whoever sends them. */
#define KEEPS_NEEDING 0.8
#define KEEPS_THINNED 0.15

/* ... and who needs it may know that the car is parked all the same, and thin out as a whole:
 * that its messages do so together is one fact, not one each. Chosen: at 0.2 the simulated
 * cars whose cause goes on as ever lose 11 of 412 first places, at this one. */
#define NEEDS_THINNED 0.06

/* Of the everyday senders that are added, so many do not thin out. Chosen. */
#define EVERYDAY_NEEDING 0.5

/* How well what a sender's messages do fits one that needs the network, and one that has thinned
 * out. A sender does one or the other, with all that it sends. */
struct pace {
	double needing, thinned;
};

static struct pace pace_of(const struct nod_tally *t)
{
	double goes_on = pow(KEEPS_NEEDING, t->kept) * pow(1 - KEEPS_NEEDING, t->slowed);
	double thinned = pow(KEEPS_THINNED, t->kept) * pow(1 - KEEPS_THINNED, t->slowed);

	return (struct pace){(1 - NEEDS_THINNED) * goes_on + NEEDS_THINNED * thinned, thinned};
}

static bool has_pace(const struct nod_tally *t)
{
	return (t->kept || t->slowed) && !t->tester;
}

/* The senders with a pace, of these such with a message that slowed down, and how many of all
 * have not thinned out, as far as can be told. */
struct paces {
	unsigned heard, slow;
	double needing;
};

/* The share that needs the network among those heard, everyday senders added. */
static double share_of_needing(double needing, unsigned heard)
{
	return (needing + EVERYDAY * EVERYDAY_NEEDING) / (heard + EVERYDAY);
}

/* How likely one with this pace needs the network, if so large a share does. */
static double is_needing(const struct pace *p, double share)
{
	return share * p->needing / (share * p->needing + (1 - share) * p->thinned);
}

static double sum_needing(const struct nod_weighing *w, double share)
{
	double sum = 0;

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		if (!has_pace(w->tallies[i]))
			continue;
		struct pace p = pace_of(w->tallies[i]);
		sum += is_needing(&p, share);
	}
	return sum;
}

/* What one sender is depends on what the others are, so it is worked out in rounds. */
#define ROUNDS 20

static struct paces count_paces(const struct nod_weighing *w)
{
	struct paces c = {0};

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		c.heard += has_pace(w->tallies[i]);
		c.slow += has_pace(w->tallies[i]) && w->tallies[i]->slowed;
	}
	c.needing = c.heard * EVERYDAY_NEEDING;
	for (int i = 0; i < ROUNDS; i++)
		c.needing = sum_needing(w, share_of_needing(c.needing, c.heard));
	return c;
}

/* Where hardly anybody slows down for parking, who keeps its pace does what all do. */
static bool many_slow_down(const struct paces *c)
{
	return c->slow && c->slow >= SLOW_SHARE * c->heard;
}

static void observe_pace(struct nod_weighing *w, struct nod_hypothesis *h, const struct paces *c)
{
	const struct nod_tally *t = w->tallies[h->sender];

	if (!has_pace(t) || c->heard < 2)
		return;
	struct pace p = pace_of(t);
	double own = is_needing(&p, share_of_needing(c->needing, c->heard));
	double needing = share_of_needing(c->needing - own, c->heard - 1);
	double nats = log(p.needing / (needing * p.needing + (1 - needing) * p.thinned));
	if (!t->slowed)
		ADD(w, h, NOD_EV_UNUSUAL_PERIOD, nats,
		    "All its messages go on as fast as ever; of %u others, %u have slowed down.",
		    c->heard - 1, c->slow);
	else
		ADD(w, h, NOD_EV_UNUSUAL_PERIOD, nats,
		    "%u of its %u messages have become slower or stopped; of %u others, %u do so.",
		    t->slowed, t->kept + t->slowed, c->heard - 1, c->slow - 1);
}

void nod_observe_inputs(struct nod_weighing *w)
{
	if (!w->serial || !(w->held || w->tentative))
		return;
	const struct counts data = count(w, &facet_data), events = count(w, &facet_events);
	const struct paces pace = count_paces(w);
	/* Who has released a network stops, whatever its pace was; a good recording is the better
	 * measure of a pace. */
	bool paced = !w->nodes && !w->a->engine->good && many_slow_down(&pace);
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		double data_nats = observe_data(w, h, &data);
		if (w->beginner != NOD_NONE)
			continue; /* intervals tell of the pauses then */
		observe_events(w, h, &events, data_nats);
		if (paced)
			observe_pace(w, h, &pace);
	}
}
