/* SPDX-License-Identifier: MIT */
/* How well sleep is told from nobody listening: recordings, invented or real, are given as an
 * unknown logger's, as they are and with a stretch cut out at random.
 *
 *     holes [--first SEED] [--seeds N] [--cuts N] [--situation NAME] [--frames N] [--log]
 *           [CAPTURE...]
 *
 * "sleeps", "wakes": of those that our own recorder would have told, how many are still claimed
 * without it. "cuts": stretches taken from one network or all while the network was awake
 * throughout; "asleep", "woken": how many were taken for sleep, or their end for a wake-up.
 *
 * Strengths in silence.c and holes.c were chosen on seeds below 1000. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"
#include "silence.h"
#include "source.h"

struct recording {
	struct nod_event *events;
	size_t count, room;
	struct nod_interfaces interfaces;
	struct nod_vehicle *vehicle; /* NULL: none */
	char *map;
	nod_time lock, end;
	bool log;
};

struct cut {
	nod_time from, to;
	int interface; /* NOD_ALL_INTERFACES: of all */
	bool torn;
};

struct score {
	unsigned sleeps, sleeps_claimed, wakes, wakes_claimed, cuts, asleep, woken;
};

static uint64_t next_random(uint64_t *state)
{
	*state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return *state >> 33;
}

static void keep(struct recording *r, const struct nod_event *event)
{
	if (event->kind != NOD_EVENT_FRAME)
		return;
	if (r->count == r->room) {
		r->room = r->room ? 2 * r->room : 4096;
		r->events = realloc(r->events, r->room * sizeof(*r->events));
		if (!r->events)
			abort();
	}
	r->events[r->count++] = *event;
	if (event->time.ns > r->end.ns)
		r->end = event->time;
}

static bool is_cut(const struct cut *cut, const struct nod_event *event)
{
	return cut && event->time.ns >= cut->from.ns && event->time.ns < cut->to.ns &&
	       (cut->interface == NOD_ALL_INTERFACES || cut->interface == event->frame.interface);
}

static struct nod_findings *judge(const struct recording *r, const struct cut *cut, bool listened,
				  struct nod_engine **engine)
{
	struct nod_event mark = {.kind = NOD_EVENT_MARK, .time = r->events[0].time};
	struct nod_event defect = {.kind = NOD_EVENT_DEFECT, .time = r->events[0].time};
	bool torn = cut && cut->torn;
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = r->map ? nod_vehicle_parse(r->map, strlen(r->map), "map",
								 &err)
					     : NULL;

	*engine = nod_engine_new(vehicle, &r->interfaces);
	if (nod_time_is_set(r->lock))
		nod_engine_set_lock(*engine, r->lock, NOD_LOCK_FROM_OPTION);
	mark.mark = (struct nod_mark){mark.time, NOD_MARK_STARTED, ""};
	if (listened)
		nod_engine_take(*engine, &mark);
	for (size_t i = 0; i < r->count; i++) {
		if (is_cut(cut, &r->events[i])) {
			if (torn)
				nod_engine_take(*engine, &defect);
			torn = false;
			continue;
		}
		nod_engine_take(*engine, &r->events[i]);
	}
	nod_engine_advance(*engine, r->end);
	struct nod_findings *f = nod_engine_findings(*engine);
	if (!f)
		abort();
	return f;
}

static void drop(struct nod_findings *f, struct nod_engine *engine)
{
	nod_findings_free(f);
	nod_engine_free(engine);
}

/* The span of the network that ends with a silence at this time, NULL: none. */
static const struct nod_span_finding *silence_at(const struct nod_findings *f, size_t network,
						 nod_time to)
{
	if (network >= f->network_count)
		return NULL;
	for (size_t i = 0; i < f->networks[network].span_count; i++)
		if (f->networks[network].spans[i].to.ns == to.ns)
			return &f->networks[network].spans[i];
	return NULL;
}

static const char *clues(char *buf, const struct nod_span_finding *s, bool last)
{
	const struct nod_silence_clues *c = s->clues, *next = last ? NULL : s[1].clues;

	snprintf(buf, 128,
		 "%.2f; fade %.1f, boot %.1f, kept %.1f, running %u, beat %u ms, early %u",
		 s->asleep, (double)c->fade, next ? (double)next->boot : 0,
		 next ? (double)next->kept : 0, c->running, c->beat_us / 1000,
		 next ? next->early : 0);
	return buf;
}

static void score_genuine(struct score *s, const struct recording *r, const char *name)
{
	struct nod_engine *sure_engine, *engine;
	struct nod_findings *sure = judge(r, NULL, true, &sure_engine);
	struct nod_findings *f = judge(r, NULL, false, &engine);
	char text[128];

	for (size_t n = 0; n < sure->network_count; n++)
		for (size_t i = 0; i < sure->networks[n].span_count; i++) {
			const struct nod_span_finding *a = &sure->networks[n].spans[i];
			const struct nod_span_finding *b = silence_at(f, n, a->to);
			bool last = i + 1 == sure->networks[n].span_count;
			if (!a->slept_after || !b)
				continue;
			s->sleeps++;
			s->sleeps_claimed += b->slept_after;
			s->wakes += !last && a[1].slept_before;
			s->wakes_claimed += !last && a[1].slept_before && b[1].slept_before;
			if (r->log &&
			    (!b->slept_after || (!last && a[1].slept_before && !b[1].slept_before)))
				printf("  %s: %s at %.3f, genuine, slept %d woke %d (%s)\n", name,
				       f->networks[n].name,
				       (double)nod_time_since(a->to, f->lock).ns / 1e9,
				       b->slept_after, last ? -1 : b[1].slept_before,
				       clues(text, b, last));
		}
	drop(sure, sure_engine);
	drop(f, engine);
}

static struct cut draw(const struct recording *r, uint64_t *state)
{
	int64_t all = nod_time_since(r->end, r->events[0].time).ns;
	int64_t length = (6 + (int64_t)(next_random(state) % 60)) * NOD_NS_PER_S;
	struct cut cut;

	if (next_random(state) % 4 == 0)
		length *= 10;
	if (length > all / 3)
		length = all / 3;
	cut.from.ns = r->events[0].time.ns +
		      (int64_t)((double)next_random(state) / (1u << 31) * (double)(all - length));
	cut.to.ns = cut.from.ns + length;
	cut.interface = next_random(state) % 2 ? NOD_ALL_INTERFACES
					       : (int)(next_random(state) % r->interfaces.count);
	cut.torn = next_random(state) % 4 == 0;
	return cut;
}

/* Longest pause of a network within the cut, its ends included. */
static int64_t pause_in(const struct recording *r, const struct cut *cut, int interface)
{
	int64_t last = cut->from.ns, longest = 0;

	for (size_t i = 0; i < r->count; i++) {
		const struct nod_event *e = &r->events[i];
		if (e->frame.interface != interface || e->time.ns < cut->from.ns ||
		    e->time.ns >= cut->to.ns)
			continue;
		longest = e->time.ns - last > longest ? e->time.ns - last : longest;
		last = e->time.ns;
	}
	return cut->to.ns - last > longest ? cut->to.ns - last : longest;
}

static void score_cut(struct score *s, const struct recording *r, const struct cut *cut,
		      const char *name)
{
	struct nod_engine *engine;
	struct nod_findings *f = judge(r, cut, false, &engine);
	char text[128];

	for (size_t k = 0; k < r->interfaces.count; k++) {
		int n = nod_vehicle_network_of_interface(f->vehicle, r->interfaces.names[k]);
		if ((cut->interface != NOD_ALL_INTERFACES && cut->interface != (int)k) || n < 0 ||
		    (size_t)n >= f->network_count || pause_in(r, cut, (int)k) > 2 * NOD_NS_PER_S)
			continue;
		const struct nod_network_finding *net = &f->networks[n];
		for (size_t i = 0; i < net->span_count; i++) {
			nod_time end = nod_span_silence_end(net, i, f->end);
			if (net->spans[i].open || net->spans[i].to.ns > cut->from.ns ||
			    end.ns < cut->to.ns)
				continue;
			bool woken = i + 1 < net->span_count && net->spans[i + 1].slept_before;
			s->cuts++;
			s->asleep += net->spans[i].slept_after;
			s->woken += woken;
			if (r->log && (woken || net->spans[i].slept_after))
				printf("  %s: %s cut at %.3f for %.1f s (%s%s): slept %d woke %d (%s)\n",
				       name, net->name,
				       (double)nod_time_since(cut->from, f->lock).ns / 1e9,
				       (double)(cut->to.ns - cut->from.ns) / 1e9,
				       cut->interface == NOD_ALL_INTERFACES ? "all" : "one",
				       cut->torn ? ", torn" : "", net->spans[i].slept_after, woken,
				       clues(text, &net->spans[i], i + 1 == net->span_count));
		}
	}
	drop(f, engine);
}

static void score_all(struct score *s, const struct recording *r, unsigned cuts, uint64_t seed,
		      const char *name)
{
	uint64_t state = seed * 2 + 1;

	if (!r->count)
		return;
	score_genuine(s, r, name);
	for (unsigned i = 0; i < cuts; i++) {
		struct cut cut = draw(r, &state);
		score_cut(s, r, &cut, name);
	}
}

static void free_recording(struct recording *r)
{
	free(r->events);
	free(r->map);
}

static void run_invented(struct score *s, const char *situation, uint64_t seed, unsigned cuts,
			 int64_t frames, bool log)
{
	struct nod_error err = {""};
	const struct nod_event *event;
	const struct nod_generator_options options = {.frames = frames};
	struct nod_generator *gen = nod_generator_open(situation, seed, &options, &err);
	struct recording r = {.log = log};

	if (!gen)
		abort();
	r.interfaces = *nod_generator_interfaces(gen);
	r.map = strdup(nod_generator_map(gen));
	while (nod_generator_next(gen, &event))
		keep(&r, event);
	r.lock = nod_generator_truth(gen)->lock;
	r.end = nod_generator_truth(gen)->end;
	score_all(s, &r, cuts, seed, situation);
	free_recording(&r);
	nod_generator_close(gen);
}

static void run_capture(struct score *s, const char *path, unsigned cuts, bool log)
{
	struct nod_interfaces interfaces = {0};
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_source *source = nod_source_open(path, &interfaces, &err);
	struct recording r = {.lock = NOD_TIME_NONE, .log = log};

	if (!source) {
		fprintf(stderr, "%s: %s\n", path, err.text);
		exit(1);
	}
	while (nod_source_next(source, &event, &err) > 0)
		keep(&r, event);
	nod_source_close(source);
	r.interfaces = interfaces;
	score_all(s, &r, cuts, 1, path);
	free_recording(&r);
}

static void print_score(const char *name, const struct score *s)
{
	printf("%-32s %5u/%-5u %5u/%-5u %6u %6u %6u\n", name, s->sleeps_claimed, s->sleeps,
	       s->wakes_claimed, s->wakes, s->cuts, s->asleep, s->woken);
	fflush(stdout);
}

static void add(struct score *to, const struct score *s)
{
	to->sleeps += s->sleeps;
	to->sleeps_claimed += s->sleeps_claimed;
	to->wakes += s->wakes;
	to->wakes_claimed += s->wakes_claimed;
	to->cuts += s->cuts;
	to->asleep += s->asleep;
	to->woken += s->woken;
}

int main(int argc, char **argv)
{
	unsigned long long first = 1000, seeds = 5;
	unsigned cuts = 4;
	int64_t frames = NOD_GENERATOR_FRAMES;
	const char *only = NULL;
	bool log = false;
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "seeds", .whole = &seeds},
					{.name = "cuts", .number = &cuts},
					{.name = "situation", .text = &only},
					{.name = "log", .flag = &log},
					{.name = "frames", .integer = &frames},
					{0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	struct score total = {0};
	printf("%-32s %11s %11s %6s %6s %6s\n", "", "sleeps", "wakes", "cuts", "asleep", "woken");
	for (int i = optind; i < argc; i++) {
		struct score score = {0};
		run_capture(&score, argv[i], cuts, log);
		print_score(strrchr(argv[i], '/') ? strrchr(argv[i], '/') + 1 : argv[i], &score);
		add(&total, &score);
	}
	for (size_t i = 0; optind == argc && nod_generator_situation(i); i++) {
		const char *name = nod_generator_situation(i);
		struct score score = {0};
		if (only && strcmp(only, name))
			continue;
		for (unsigned long long k = 0; k < seeds; k++)
			run_invented(&score, name, first + k, cuts, frames, log);
		print_score(name, &score);
		add(&total, &score);
	}
	print_score("all", &total);
	return 0;
}
