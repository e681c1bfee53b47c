/* SPDX-License-Identifier: MIT */
/* Two recordings of an invented car, before and after, and what comparing them says. */
#ifndef PAIR_H
#define PAIR_H

#include "../scene.h"
#include "compare.h"

static const char car[] = "vehicle: invented\n"
			  "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n"
			  "modules:\n"
			  "  roof unit: { networks: [body], ids: [100], fuses: [F1] }\n"
			  "  boot unit: { networks: [body], ids: [200, 300] }\n"
			  "fuses: { F1: { rating: 5 A } }\n";

#define MINUTE INT64_C(60000)

struct pair {
	struct scene before, after;
	struct nod_arena arena;
	struct nod_comparison *c;
};

static inline void begin(struct pair *p)
{
	memset(p, 0, sizeof(*p));
	scene_begin(&p->before, car);
	scene_begin(&p->after, car);
	mark_at(&p->before, 0, NOD_MARK_LOCKED, "");
	mark_at(&p->after, 0, NOD_MARK_LOCKED, "");
}

static inline void compare(struct pair *p, int64_t before_ms, int64_t after_ms)
{
	found_at(&p->before, before_ms);
	found_at(&p->after, after_ms);
	p->c = nod_compare(&p->arena, (struct nod_compare_side){p->before.found, NULL},
			   (struct nod_compare_side){p->after.found, NULL});
	assert_non_null(p->c);
}

static inline void end(struct pair *p)
{
	nod_arena_free(&p->arena);
	scene_end(&p->before);
	scene_end(&p->after);
}

static inline void change_is(const struct pair *p, enum nod_change expected)
{
	if (p->c->change != expected)
		fail_msg("%s: %s", nod_change_name(p->c->change), p->c->sentence);
}

static inline const char *all_reasons(struct pair *p)
{
	const char *all = "";

	for (size_t i = 0; i < p->c->reason_count; i++)
		all = nod_arena_printf(&p->arena, "%s%s\n", all, p->c->reasons[i]);
	return all;
}

/* The roof unit holds; the boot unit follows for 30 s only. */
static inline void held(struct scene *s, int64_t until)
{
	PLAY(s, {0, "100#11", 100, until, 100}, {0, "200#22", 150, 30000, 200});
}

static inline void sleeps_at_20_s(struct scene *s)
{
	PLAY(s, {0, "100#11", 100, 20000, 100}, {0, "200#22", 150, 20000, 200});
}

/* Each time for a third of the interval, so that it matters. */
static inline void wakes_every(struct scene *s, int64_t first, int64_t every, int count)
{
	sleeps_at_20_s(s);
	for (int i = 0; i < count; i++) {
		int64_t from = first + i * every, until = from + every / 3;
		PLAY(s, {0, "100#11", from, until, 100}, {0, "200#22", from + 300, until, 200});
	}
}

#endif
