/* SPDX-License-Identifier: MIT */
/* How likely it is that somebody was at the car when it woke, and noted nothing: a key passing
 * by, a handle tried, a test of buttons. */
#include "weighing.h"

#include <math.h>

/* Log-odds against a fault, by number of wake-ups: as likely as not for one, less for more of
 * them. All of these are chosen. */
static const double by_number[] = {0, -0.5, -1, -1.5, -2};
#define NUMBERS (sizeof(by_number) / sizeof(by_number[0]))

/* People are no clocks: intervals or lengths that vary by less than this share are a timer's. */
#define STEADY 0.1
#define INTERVALS_MIN 3
#define BY_A_CLOCK (-4.0)
#define OF_ONE_LENGTH (-1.0)

/* Who opens a car wakes most of it; a wake-up of one or two senders is nobody's. */
#define FULL 0.3
#define EMPTY (-2.0)
#define EMPTY_SENDERS 2

/* Where somebody says when the car was locked, it was left alone on purpose; where nothing is
 * said, people may have been at it all the time. */
#define LEFT_ALONE (-1.0)
#define NOT_SAID 0.5

/* So few messages are rather one unit on a bench, switched on again by somebody: that is then
 * likelier than a fault. Chosen. */
#define BENCH 2.5

/* A car's network carries some dozens of messages. Chosen. */
#define BENCH_MESSAGES 8

struct spread {
	double sum, squares;
	unsigned count;
};

static void add(struct spread *s, double value)
{
	s->sum += value;
	s->squares += value * value;
	s->count++;
}

static bool is_steady(const struct spread *s)
{
	if (s->count < INTERVALS_MIN || s->sum <= 0)
		return false;
	double mean = s->sum / s->count;
	return sqrt(fmax(0, s->squares / s->count - mean * mean)) < STEADY * mean;
}

static int speakers_at(const struct nod_analysis *a, const struct nod_wake_finding *w)
{
	const struct nod_span_finding *s = nod_analysis_span_at(&a->f->networks[w->network],
								w->time);

	return s ? s->first_count : 0;
}

/* The map of a car says that there are others: then a bench is where only one is ever heard. */
bool nod_analysis_may_be_bench(const struct nod_analysis *a)
{
	return a->f->lock_source == NOD_LOCK_FROM_START && a->f->ident_count <= BENCH_MESSAGES &&
	       (!a->f->vehicle_given || a->f->sender_count == 1);
}

double nod_prior_person(const struct nod_analysis *a, unsigned wakes)
{
	struct spread intervals = {0, 0, 0}, lengths = {0, 0, 0}, speakers = {0, 0, 0};
	const struct nod_wake_finding *last = NULL;
	double prior = by_number[wakes < NUMBERS ? wakes : NUMBERS - 1];

	for (size_t i = 0; i < a->f->wake_count; i++) {
		const struct nod_wake_finding *w = &a->f->wakes[i];
		if (*w->cause)
			continue;
		if (last)
			add(&intervals, (double)nod_time_since(w->time, last->time).ns);
		add(&lengths, (double)w->awake_for.ns);
		add(&speakers, speakers_at(a, w));
		last = w;
	}
	if (!speakers.count)
		return -INFINITY;
	prior += is_steady(&intervals) ? BY_A_CLOCK : is_steady(&lengths) ? OF_ONE_LENGTH : 0;
	if (nod_analysis_may_be_bench(a)) /* nobody else is there to speak */
		prior += BENCH;
	else
		prior += speakers.sum / speakers.count > EMPTY_SENDERS ? FULL : EMPTY;
	return prior + (a->f->lock_source == NOD_LOCK_FROM_START ? NOT_SAID : LEFT_ALONE);
}
