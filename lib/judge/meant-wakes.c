/* SPDX-License-Identifier: MIT */
/* Wake-ups that are meant: told by the vehicle file, or likely by how they come. Some makers let a
 * module wake for a moment at set times after the lock (workshop information of one car family: a
 * body unit after 8 or 16 minutes, an instrument cluster after 40 and 80, not always), and
 * telematics units and sensors' receivers wake by a clock. */
#include "analysis.h"

#include <math.h>
#include <string.h>

/* Modules' clocks and makers' round figures: chosen. */
#define NEAR_SHARE 0.1
#define NEAR_MIN_NS (60 * NOD_NS_PER_S)

/* How long such a wake-up may last where the vehicle file does not say. Chosen: a poll takes
 * seconds, and modules woken with it some more to sleep again. */
#define MEANT_MAX_NS (120 * NOD_NS_PER_S)

/* From so many intervals on, a steady one is seen. Chosen. */
#define INTERVALS_MIN 3
#define STEADY 0.05

static bool is_near(int64_t value, int64_t wanted)
{
	int64_t apart = value > wanted ? value - wanted : wanted - value;
	int64_t share = (int64_t)(NEAR_SHARE * (double)wanted);

	return apart <= (share > NEAR_MIN_NS ? share : NEAR_MIN_NS);
}

/* The wake-up before this one that the same module made, or the lock. */
static nod_time last_of(const struct nod_analysis *a, const struct nod_wake_finding *wake)
{
	for (size_t i = (size_t)(wake - a->f->wakes); i-- > 0;)
		if (a->f->wakes[i].sender == wake->sender)
			return a->f->wakes[i].time;
	return a->f->lock;
}

bool nod_analysis_is_expected(const struct nod_analysis *a, const struct nod_wake_finding *wake)
{
	const struct nod_sender_finding *sender = &a->f->senders[wake->sender];
	int64_t since = nod_time_since(wake->time, a->f->lock).ns;

	if (sender->kind != NOD_SENDER_MODULE)
		return false;
	const struct nod_module *m = &a->f->vehicle->modules[sender->module];
	if (wake->awake_for.ns > (m->wakes_for.ns ? m->wakes_for.ns : MEANT_MAX_NS))
		return false;
	for (size_t i = 0; i < m->wakes_after_count; i++)
		if (is_near(since, m->wakes_after[i].ns))
			return true;
	return m->wakes_every.ns &&
	       is_near(nod_time_since(wake->time, last_of(a, wake)).ns, m->wakes_every.ns);
}

bool nod_analysis_is_expected_at(const struct nod_analysis *a, nod_time time)
{
	size_t low = 0, high = a->f->wake_count;

	while (low < high) { /* the last that began by then */
		size_t middle = (low + high) / 2;
		if (a->f->wakes[middle].time.ns <= time.ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low && time.ns - a->f->wakes[low - 1].time.ns <= NOD_ONE_STORY_NS &&
	       !strcmp(a->f->wakes[low - 1].cause, NOD_CAUSE_EXPECTED);
}

/* Makers' figures are whole multiples of it after the lock (8, 16, 40, 80 min in workshop
 * information of one car family), and modules' clocks go wrong by less than this. Chosen: two
 * moments by chance, an hour or two after the lock, do once in fifty times. */
#define ROUND_NS (240 * NOD_NS_PER_S)
#define ROUND_OFF_NS (5 * NOD_NS_PER_S)
#define ROUND_OFF_SHARE 0.002
#define ROUND_MIN 2

/* What the unexplained wake-ups of a network have in common. */
struct coming {
	const struct nod_wake_finding *last;
	double sum, squares; /* of intervals, s */
	unsigned count;      /* wake-ups */
	bool round, other;   /* all at round times; long ones, or by several */
};

static bool is_round(int64_t since)
{
	int64_t off = since % ROUND_NS;

	off = off > ROUND_NS / 2 ? ROUND_NS - off : off;
	return since > ROUND_NS &&
	       (double)off <= (double)ROUND_OFF_NS + ROUND_OFF_SHARE * (double)since;
}

static void take(struct coming *c, const struct nod_wake_finding *w, nod_time lock)
{
	c->other |= w->awake_for.ns > MEANT_MAX_NS || (c->last && c->last->sender != w->sender);
	c->round &= is_round(nod_time_since(w->time, lock).ns);
	if (c->last) {
		double s = (double)nod_time_since(w->time, c->last->time).ns / 1e9;
		c->sum += s;
		c->squares += s * s;
	}
	c->last = w;
	c->count++;
}

static bool is_steady(const struct coming *c)
{
	unsigned intervals = c->count ? c->count - 1 : 0;
	double mean = intervals ? c->sum / intervals : 0;

	return intervals >= INTERVALS_MIN &&
	       sqrt(fmax(0, c->squares / intervals - mean * mean)) <= STEADY * mean;
}

const char *nod_analysis_likely_meant(struct nod_analysis *a, const struct nod_network_finding *n)
{
	struct coming c = {.round = a->f->lock_source != NOD_LOCK_FROM_START};

	for (size_t i = 0; i < a->f->wake_count; i++)
		if (a->f->wakes[i].network == n->network && !*a->f->wakes[i].cause)
			take(&c, &a->f->wakes[i], a->f->lock);
	if (c.other || !c.count)
		return "";
	const char *name = a->f->senders[c.last->sender].name;
	if (is_steady(&c))
		return nod_arena_printf(
			a->arena,
			" They come every %s by %s, short and ending by themselves: likely meant "
			"(if so, say `wakes every` in the vehicle file).",
			nod_analysis_length(a,
					    (nod_duration){(int64_t)(c.sum / (c.count - 1) * 1e9)}),
			name);
	if (c.round && c.count >= ROUND_MIN)
		return nod_arena_printf(
			a->arena,
			" They come by %s at whole multiples of 4 min after the lock, short and ending "
			"by themselves: likely meant (if so, say `wakes after` in the vehicle file).",
			name);
	return "";
}
