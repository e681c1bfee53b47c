/* SPDX-License-Identifier: MIT */
/* How likely it is that somebody was at the car when it woke, and noted nothing: a key passing
 * by, a handle tried, a test of buttons. */
#include "statement.h"
#include "weighing.h"

#include <math.h>

/* Log-odds against a fault, by number of wake-ups: as likely as not for one, less for more of
 * them, but who is at a car rarely does a single thing. All of these are chosen. */
static const double by_number[] = {0, -0.5, -0.8, -1};
#define NUMBERS (sizeof(by_number) / sizeof(by_number[0]))

/* How much intervals spread around their mean, as shares of it: of wake-ups that people make, or
 * a fault that comes now and then; and of those that a timer makes, alone or with what delays
 * it: little, or by a good part (a try again after a time drawn anew, a value that drifts to
 * its limit). Each as likely as the other of its kind; of faults every second comes by a timer,
 * every fourth by one that is delayed. Chosen. */
static const double at_leisure[] = {0.25, 0.5, 1}, by_timer[] = {0.005, 0.02, 0.06},
		    by_delays[] = {0.1, 0.15, 0.2};
#define SPREADS 3
#define TIMED_SHARE 0.5
#define DELAYED_SHARE 0.25
#define DELAYED_MIN 4
#define INTERVALS_MIN 2
#define BY_A_CLOCK_MAX (-6.0) /* people sleep, work and come back by clocks as well */

/* Whoever stays as long as he likes makes wake-ups of different lengths; a fault is the same
 * each time, and so is a network that runs on for its time. In between, a request that ends
 * sooner or later is as likely as a person. Chosen. */
#define SAME 0.1
#define DIFFERENT 0.35
#define LENGTHS_MIN 3
#define OF_ONE_LENGTH (-0.8)
#define OF_MANY_LENGTHS 1.0

/* Who speaks first tells each time of an input that was moved, and whose every other move is its
 * way back: a button, a handle. A contact that bounces by itself moves oftener, and most faults
 * move none. Chosen. */
#define MOVED 2.0
#define MOVED_WAKES_MIN 3

/* Who opens a car wakes most of it; a wake-up of one or two senders is nobody's. */
#define FULL 0.3
#define EMPTY (-2.0)
#define EMPTY_SENDERS 2

/* Where somebody says when the car was locked, it was left alone on purpose; where nothing is
 * said, people may have been at it all the time. */
#define LEFT_ALONE (-0.7)
#define NOT_SAID 1.0

/* ... and from there on each further wake-up, up to so many, is less likely somebody who is at
 * it all the same and still notes nothing, but where an input tells of hands. Chosen. */
#define NOT_LEFT_ALONE (-0.8)
#define NOT_LEFT_FROM 4
#define NOT_LEFT_MOST 3

/* So few messages are rather one module on a bench, switched on again by somebody: that is then
 * likelier than a fault. Chosen. */
#define BENCH 2.5

/* A car's network carries some dozens of messages. Chosen. */
#define BENCH_MESSAGES 8

struct spread {
	double sum, squares;
	unsigned count;
};

static void take(struct spread *s, double value)
{
	s->sum += value;
	s->squares += value * value;
	s->count++;
}

/* Standard deviation as a share of the mean. */
static double variation(const struct spread *s)
{
	double mean = s->count ? s->sum / s->count : 0;

	return mean > 0 ? sqrt(fmax(0, s->squares / s->count - mean * mean)) / mean : 0;
}

/* How well one of these spreads explains what was found. */
static double likelihood(const struct spread *s, const double spreads[SPREADS])
{
	double found = variation(s), degrees = s->count - 1, sum = 0;

	for (int i = 0; i < SPREADS; i++)
		sum += exp(-degrees *
			   (log(spreads[i]) + found * found / (2 * spreads[i] * spreads[i])));
	return sum / SPREADS;
}

static double weigh_intervals(const struct spread *s)
{
	if (s->count < INTERVALS_MIN)
		return 0;
	double free = likelihood(s, at_leisure);
	double delayed = s->count < DELAYED_MIN ? 0 : DELAYED_SHARE;
	double fault = TIMED_SHARE * likelihood(s, by_timer) + delayed * likelihood(s, by_delays) +
		       (1 - TIMED_SHARE - delayed) * free;
	return fmax(log(free / fault), BY_A_CLOCK_MAX);
}

static double weigh_lengths(const struct spread *s)
{
	if (s->count < LENGTHS_MIN)
		return 0;
	if (variation(s) < SAME)
		return OF_ONE_LENGTH;
	return variation(s) < DIFFERENT && s->count > DELAYED_MIN ? 0 : OF_MANY_LENGTHS;
}

static int speakers_at(const struct nod_analysis *a, const struct nod_wake_finding *w)
{
	const struct nod_span_finding *s = nod_analysis_span_at(&a->f->networks[w->network],
								w->time);

	return s ? s->first_count : 0;
}

static size_t modules_heard(const struct nod_findings *f)
{
	size_t count = 0;

	for (size_t i = 0; i < f->sender_count; i++)
		count += f->senders[i].kind == NOD_SENDER_MODULE;
	return count;
}

/* The map of a car says that there are others: then a bench is where one of them at most is ever
 * heard. What the map lacks may be its messages as well. */
bool nod_analysis_may_be_bench(const struct nod_analysis *a)
{
	size_t messages = a->f->ident_count;

	return a->f->lock_source == NOD_LOCK_FROM_START && messages && messages <= BENCH_MESSAGES &&
	       (!a->f->vehicle_given || modules_heard(a->f) <= 1);
}

bool nod_analysis_is_switched_bench(const struct nod_analysis *a)
{
	return a->f->hole_count && nod_analysis_may_be_bench(a);
}

/* The one that speaks first says what was moved. */
static bool is_told(const struct nod_weighing *w)
{
	const struct nod_tally *first = NULL;

	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (w->tallies[i]->first_of &&
		    (!first || w->tallies[i]->first_of > first->first_of))
			first = w->tallies[i];
	return first && w->wakes >= MOVED_WAKES_MIN && first->woke_moved + 1 >= w->wakes;
}

/* What it says for a person that somebody said when the car was locked, or nobody. */
static double weigh_lock(const struct nod_analysis *a, unsigned wakes)
{
	unsigned more = wakes > NOT_LEFT_FROM ? wakes - NOT_LEFT_FROM : 0;

	if (a->f->lock_source == NOD_LOCK_FROM_START)
		return NOT_SAID;
	return LEFT_ALONE + NOT_LEFT_ALONE * (more < NOT_LEFT_MOST ? more : NOT_LEFT_MOST);
}

double nod_prior_person(const struct nod_weighing *w, unsigned wakes)
{
	const struct nod_analysis *a = w->a;
	struct spread intervals = {0, 0, 0}, lengths = {0, 0, 0}, speakers = {0, 0, 0};
	const struct nod_wake_finding *last = NULL;
	bool told = is_told(w);
	double prior = by_number[wakes < NUMBERS ? wakes : NUMBERS - 1];

	for (size_t i = 0; i < a->f->wake_count; i++) {
		const struct nod_wake_finding *wake = &a->f->wakes[i];
		if (*wake->cause)
			continue;
		if (last)
			take(&intervals, (double)nod_time_since(wake->time, last->time).ns);
		take(&lengths, (double)wake->awake_for.ns);
		take(&speakers, speakers_at(a, wake));
		last = wake;
	}
	if (!speakers.count)
		return -INFINITY;
	prior += weigh_intervals(&intervals) + weigh_lengths(&lengths) + (told ? MOVED : 0);
	if (nod_analysis_may_be_bench(a)) /* nobody else is there to speak */
		prior += BENCH;
	else
		prior += speakers.sum / speakers.count > EMPTY_SENDERS ? FULL : EMPTY;
	return prior + weigh_lock(a, told ? 0 : wakes);
}

struct range {
	int64_t least, most;
	unsigned count;
};

static void widen(struct range *r, int64_t value)
{
	r->least = !r->count || value < r->least ? value : r->least;
	r->most = !r->count || value > r->most ? value : r->most;
	r->count++;
}

/* From so much on it is spoken of. Chosen. */
#define SPOKEN_OF_FROM 0.2

static bool is_spoken_of(const struct nod_findings *f)
{
	for (size_t i = 0; f->verdict == NOD_VERDICT_WOKEN && i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_NOTHING)
			return f->suspects[i].probability >= SPOKEN_OF_FROM;
	return false;
}

const char *nod_person_words(struct nod_analysis *a)
{
	struct range intervals = {0, 0, 0}, lengths = {0, 0, 0};
	const struct nod_wake_finding *last = NULL;

	for (size_t i = 0; i < a->f->wake_count; i++) {
		const struct nod_wake_finding *wake = &a->f->wakes[i];
		if (*wake->cause)
			continue;
		if (last)
			widen(&intervals, nod_time_since(wake->time, last->time).ns);
		widen(&lengths, wake->awake_for.ns);
		last = wake;
	}
	if (!is_spoken_of(a->f) || intervals.count < INTERVALS_MIN)
		return NULL;
	return nod_arena_printf(
		a->arena,
		"The wake-ups came %s to %s apart and lasted %s to %s: somebody may have "
		"been at the car.",
		nod_analysis_length(a, (nod_duration){intervals.least}),
		nod_analysis_length(a, (nod_duration){intervals.most}),
		nod_analysis_length(a, (nod_duration){lengths.least}),
		nod_analysis_length(a, (nod_duration){lengths.most}));
}
