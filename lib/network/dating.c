/* SPDX-License-Identifier: MIT */
#include "dating.h"

#include "engine-internal.h"
#include "hypergeometric.h"
#include "cyclic-messages.h"

/* A coincidence of the subject's messages with those that stopped, by accident. Chosen: the
 * mark makes it likely that something was pulled, and its time is all that is at stake. */
#define CHANCE_MAX 0.1

/* ... where the network fell asleep in time afterwards: its messages end one after the other
 * anyway. Chosen. */
#define CHANCE_MAX_SETTLING 0.005

/* A network that was awake for so long past its deadline and fell asleep shortly before the
 * mark did so with the pull, although all its messages ended together. Chosen: longer than
 * what a waker or a door keeps it awake for. */
#define HELD_MIN_NS (300 * NOD_NS_PER_S)

/* A module that has power again speaks within this. Chosen, as in the learning of the map. */
#define BOOT_NS (30 * NOD_NS_PER_S)

struct subject {
	const struct nod_engine *engine;
	int fuse, module; /* both NOD_NONE: a part that the map does not know */
	nod_time entered, earliest;
};

static bool is_fed(const struct subject *s, int module)
{
	const struct nod_module *m = &s->engine->vehicle->modules[module];

	if (s->module != NOD_NONE)
		return module == s->module;
	for (size_t i = 0; i < m->fuse_count; i++)
		if (m->fuses[i] == s->fuse)
			return true;
	return false;
}

static bool is_of(const struct subject *s, int module, bool tester)
{
	if (s->fuse == NOD_NONE && s->module == NOD_NONE)
		return module == NOD_NONE && !tester;
	return module != NOD_NONE && is_fed(s, module);
}

static bool belongs(const struct subject *s, const struct nod_track *track,
		    const struct nod_ident *ident)
{
	struct nod_sender sender = nod_track_sender(track, ident);

	return is_of(s, sender.kind == NOD_SENDER_MODULE ? sender.module : NOD_NONE,
		     sender.kind == NOD_SENDER_TESTER);
}

/* ---- the moment of the hand ---- */

/* What the messages say together of a moment. */
struct tally {
	unsigned subject, stopped; /* messages of the subject heard then; that stopped with it */
	unsigned others, with_it;  /* of others; of these, that stopped with it, too */
	unsigned went_on;          /* of others: still heard well after that moment */
	nod_time next;             /* when the first of the subject's was missed */
	bool back;                 /* one that stopped was heard again before the mark */
	int module;                /* one of those that stopped */
	bool modules;              /* and another */
};

static void add_stopped(struct tally *t, const struct subject *s, const struct nod_cyclic *message,
			const struct nod_stop *stop, nod_time moment)
{
	int64_t next = stop->from.ns + message->period.ns;

	t->back |= stop->to.ns < s->entered.ns;
	t->modules |= t->stopped && message->module != t->module;
	t->module = message->module;
	t->stopped++;
	if (next < t->next.ns && next >= moment.ns)
		t->next.ns = next;
}

static void add(struct tally *t, const struct subject *s, const struct nod_cyclics *v,
		const struct nod_cyclic *message, nod_time moment)
{
	const struct nod_stop *stop;
	bool ours = is_of(s, message->module, message->tester);
	enum nod_cyclic_state state = nod_cyclic_at(v, message, moment, &stop);

	if (state == NOD_CYCLIC_SILENT) /* what had stopped before says nothing of this moment */
		return;
	t->subject += ours;
	t->others += !ours;
	if (state == NOD_CYCLIC_STOPPED && ours)
		add_stopped(t, s, message, stop, moment);
	t->with_it += state == NOD_CYCLIC_STOPPED && !ours;
	t->went_on += state == NOD_CYCLIC_ON && !ours && nod_cyclic_is_after(message, moment);
}

/* The chance that just these stopped; 1: nothing is told. */
static double chance_of(const struct tally *t)
{
	unsigned population = t->subject + t->others, marked = t->stopped + t->with_it;
	double p = 1;

	if (!t->went_on || population > NOD_HYPERGEOMETRIC_MAX ||
	    nod_hypergeometric_tail(&p, population, marked, t->subject, t->stopped))
		return 1;
	return p;
}

/* The span that was on at that moment, or the last before it; NULL: none is kept. */
static const struct nod_span *span_at(const struct nod_track *track, nod_time moment)
{
	if (track->span.from.ns <= moment.ns)
		return &track->span;
	for (size_t i = track->span_count; i-- > 0;)
		if (track->spans[i].from.ns <= moment.ns)
			return &track->spans[i];
	return NULL;
}

/* Until when a network that was awake at that moment may be: a wake-up takes its time again. */
static int64_t due(const struct nod_engine *engine, int network, nod_time moment)
{
	const struct nod_span *span = span_at(engine->tracks[network], moment);
	int64_t woken = span && span->slept_before
				? nod_ns_add(span->from.ns,
					     engine->vehicle->networks[network].sleeps_within.ns)
				: INT64_MIN;

	return woken > engine->deadlines[network] ? woken : engine->deadlines[network];
}

/* It has slept since that moment. */
static bool is_over(const struct subject *s, int network, nod_time moment)
{
	const struct nod_track *track = s->engine->tracks[network];

	return track->span.from.ns > moment.ns ||
	       nod_time_since(s->entered, track->last).ns >= track->quiet.ns;
}

/* A network that falls asleep in time does so by itself: that something on it stops first
 * is no hand's doing, surely not where it woke with the network before the mark was made. Nor is
 * one message that ends before the deadline: some do on the way. */
static bool ends_in_time(const struct subject *s, int network, nod_time moment,
			 const struct tally *t)
{
	return moment.ns < due(s->engine, network, moment) &&
	       (t->stopped == 1 || is_over(s, network, moment));
}

/* Of the messages of one network: where a whole network ends, that others go on tells nothing. */
static void tally_network(struct tally *t, const struct subject *s, const struct nod_cyclics *v,
			  int network, nod_time moment)
{
	*t = (struct tally){.next = s->entered};
	for (size_t k = 0; k < v->count; k++)
		if (v->messages[k].network == network)
			add(t, s, v, &v->messages[k], moment);
}

static struct nod_dating date_stop(const struct subject *s, const struct nod_cyclics *v)
{
	struct nod_dating best = {.time = NOD_TIME_NONE};
	double least = CHANCE_MAX;

	for (size_t i = 0; i < v->stop_count; i++) {
		const struct nod_cyclic *message = &v->messages[v->stops[i].message];
		struct tally t;
		nod_time moment = v->stops[i].from;
		if (!is_of(s, message->module, message->tester))
			continue;
		tally_network(&t, s, v, message->network, moment);
		double chance = chance_of(&t);
		if (chance > least || ((chance > CHANCE_MAX_SETTLING || t.back) &&
				       ends_in_time(s, message->network, moment, &t)))
			continue;
		least = chance; /* between its last frame and its next */
		best.time.ns = moment.ns + (t.next.ns - moment.ns) / 2;
		best.idents = t.stopped;
		best.by_sleep = !t.modules && is_over(s, message->network, moment);
	}
	return best;
}

/* The last frame of the subject on a network that was held awake and has just fallen
 * asleep. */
static struct nod_dating date_sleep(const struct subject *s)
{
	struct nod_dating dating = {.time = NOD_TIME_NONE, .by_sleep = true};

	for (size_t n = 0; n < s->engine->track_room; n++) {
		const struct nod_track *track = s->engine->tracks[n];
		int64_t from, late = track ? s->engine->deadlines[n] : INT64_MAX;
		if (!track || nod_time_since(s->entered, track->last).ns < track->quiet.ns)
			continue;
		from = track->span.from.ns > late ? track->span.from.ns : late;
		for (uint32_t i = 0; i < track->idents.count; i++) {
			const struct nod_ident *ident = &track->idents.items[i];
			if (track->last.ns < s->earliest.ns || track->last.ns < from ||
			    track->last.ns - from < HELD_MIN_NS || ident->span != track->serial ||
			    !belongs(s, track, ident))
				continue;
			dating.idents++;
			if (ident->last.ns > dating.time.ns)
				dating.time = ident->last;
		}
	}
	return dating;
}

/* The hand that pulls something out of a sleeping car wakes it (a bonnet, a door): the
 * wake-up in which all speak but the subject. */
static struct nod_dating date_wake(const struct subject *s)
{
	struct nod_dating dating = {.time = NOD_TIME_NONE};
	double least = CHANCE_MAX;

	for (size_t n = 0; n < s->engine->track_room; n++) {
		const struct nod_track *track = s->engine->tracks[n];
		unsigned all = 0, silent = 0, subject = 0, both = 0;
		double p;
		if (!track || !track->span.slept_before || track->span.from.ns < s->earliest.ns)
			continue;
		for (uint32_t i = 0; i < track->idents.count; i++) {
			const struct nod_ident *ident = &track->idents.items[i];
			nod_duration period;
			if (!nod_past_period(ident, &period))
				continue;
			bool ours = belongs(s, track, ident), missed = ident->span != track->serial;
			all++;
			silent += missed;
			subject += ours;
			both += ours && missed;
		}
		if (!both || both < subject || silent == all || all > NOD_HYPERGEOMETRIC_MAX ||
		    nod_hypergeometric_tail(&p, all, silent, subject, both) || p > least)
			continue;
		least = p;
		dating = (struct nod_dating){.time = track->span.from, .idents = both};
	}
	return dating;
}

static struct nod_dating date_isolation(const struct subject *s)
{
	struct nod_dating dating = {.time = NOD_TIME_NONE};
	struct nod_cyclics v;

	if (nod_cyclics_gather(&v, s->engine, s->earliest, s->entered, (nod_duration){INT64_MAX}))
		dating = date_stop(s, &v);
	bool starved = v.starved;
	nod_cyclics_clear(&v);
	if (!dating.idents)
		dating = date_wake(s);
	if (!dating.idents)
		dating = date_sleep(s);
	dating.starved = starved;
	return dating;
}

/* When a message came back within [earliest, entered]; NONE: it did not. */
static nod_time return_of(const struct subject *s, const struct nod_track *track, uint32_t index)
{
	const struct nod_past *past = &s->engine->past;
	const struct nod_ident *ident = &track->idents.items[index];

	if (ident->span == track->serial && track->span.slept_before &&
	    ident->span_first.ns >= s->earliest.ns)
		return ident->span_first;
	for (size_t i = past->pause_count; i-- > 0;) {
		const struct nod_pause *p = nod_past_pause(past, i);
		if (p->to.ns < s->earliest.ns)
			break;
		if (p->ident == index && p->network == track->network)
			return p->to;
	}
	return NOD_TIME_NONE;
}

/* The first message to come back, when most of those that did follow soon. */
static struct nod_dating date_refit(const struct subject *s)
{
	struct nod_dating dating = {.time = NOD_TIME_NONE};
	unsigned late = 0;

	for (int pass = 0; pass < 2; pass++)
		for (size_t n = 0; n < s->engine->track_room; n++) {
			const struct nod_track *track = s->engine->tracks[n];
			for (uint32_t i = 0; track && i < track->idents.count; i++) {
				if (!belongs(s, track, &track->idents.items[i]))
					continue;
				nod_time back = return_of(s, track, i);
				if (!nod_time_is_set(back))
					continue;
				if (!pass &&
				    (!nod_time_is_set(dating.time) || back.ns < dating.time.ns))
					dating.time = back;
				dating.idents += pass && back.ns <= dating.time.ns + BOOT_NS;
				late += pass && back.ns > dating.time.ns + BOOT_NS;
			}
		}
	if (late > dating.idents)
		dating.time = NOD_TIME_NONE;
	return dating;
}

struct nod_dating nod_dating_of(const struct nod_engine *engine, enum nod_mark_kind kind,
				const char *subject, nod_time entered, nod_time earliest)
{
	struct subject s = {.engine = engine,
			    .fuse = NOD_NONE,
			    .module = NOD_NONE,
			    .entered = entered,
			    .earliest = earliest};
	nod_time first = nod_time_after(entered, (nod_duration){-NOD_DATING_LATE_NS});

	if (first.ns > s.earliest.ns)
		s.earliest = first;
	nod_vehicle_resolve(engine->vehicle, subject, &s.fuse, &s.module);
	return kind == NOD_MARK_ISOLATED ? date_isolation(&s) : date_refit(&s);
}
