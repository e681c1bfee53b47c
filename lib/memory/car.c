/* SPDX-License-Identifier: MIT */
#include "car.h"

#include <errno.h>
#include <string.h>

#include "diagnostic.h"
#include "journal.h"
#include "vin-heard.h"

bool nod_car_is_same(const struct nod_car *a, const struct nod_car *b)
{
	return *a->vin && !strcmp(a->vin, b->vin);
}

/* Who was it: proved by isolation, else named by the answer. NULL: nobody. */
static const struct nod_suspect *found(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].proved && f->suspects[i].kind == NOD_SUSPECT_SENDER)
			return &f->suspects[i];
	const struct nod_suspect *s = f->culprit == NOD_NONE ? NULL : &f->suspects[f->culprit];
	return s && s->kind == NOD_SUSPECT_SENDER && s->role != NOD_ROLE_TESTER ? s : NULL;
}

static uint32_t period_us(const struct nod_ident_finding *i)
{
	const struct nod_period *p = i->before.rhythm == NOD_RHYTHM_CYCLIC  ? &i->before
				     : i->after.rhythm == NOD_RHYTHM_CYCLIC ? &i->after
									    : NULL;
	int64_t us = p ? p->period.ns / 1000 : 0;

	return us < 0 ? 0 : us > UINT32_MAX ? UINT32_MAX : (uint32_t)us;
}

static int copy_messages(struct nod_car *car, struct nod_arena *arena, const struct nod_findings *f,
			 const struct nod_suspect *s)
{
	car->messages = nod_arena_alloc(arena, (f->ident_count + 1) * sizeof(*car->messages));
	if (!car->messages)
		return -ENOMEM;
	for (size_t k = 0; k < f->ident_count; k++) {
		const struct nod_ident_finding *i = &f->idents[k];
		if (f->senders[i->sender].kind == NOD_SENDER_TESTER || nod_diagnostic_may_be(i->id))
			continue;
		car->messages[car->message_count++] = (struct nod_car_message){
			i->id, period_us(i), (uint16_t)i->network, s && s->sender == i->sender};
	}
	return 0;
}

/* From the first frame to the last: a note may be written into the journal weeks later. */
static void find_times(struct nod_car *car, const struct nod_findings *f)
{
	for (size_t i = 0; i < f->ident_count; i++) {
		nod_time first = f->idents[i].first, last = f->idents[i].last;
		car->start = !i || first.ns < car->start.ns ? first : car->start;
		car->end = !i || last.ns > car->end.ns ? last : car->end;
	}
}

static bool is_repair(const char *note)
{
	static const char *const words[] = {"repaired", "replaced", "renewed", "fixed", "mended"};

	for (size_t i = 0; i < sizeof(words) / sizeof(*words); i++)
		if (strcasestr(note, words[i]))
			return !strcasestr(note, "not ") && !strcasestr(note, "n't ");
	return false;
}

/* The module of the map with the longest name that a note holds; "": none. */
static const char *module_in(const struct nod_vehicle *v, const char *note)
{
	const char *best = "";

	for (size_t i = 0; i < v->module_count; i++)
		if (strcasestr(note, v->modules[i].name) &&
		    strlen(v->modules[i].name) > strlen(best))
			best = v->modules[i].name;
	return best;
}

static void read_notes(struct nod_car *car, struct nod_arena *arena, const struct nod_findings *f)
{
	for (size_t i = 0; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		if (m->kind != NOD_MARK_NOTE)
			continue;
		if (!*car->vin)
			nod_vin_find_text(car->vin, m->subject);
		if (!is_repair(m->subject))
			continue;
		car->mended = true;
		car->part = nod_arena_printf(arena, "%s", module_in(f->vehicle, m->subject));
	}
}

int nod_car_describe(struct nod_car *car, struct nod_arena *arena, const struct nod_findings *f,
		     const char *path, const char *vin)
{
	const struct nod_suspect *s = found(f);

	*car = (struct nod_car){.start = f->start, .end = f->end, .part = ""};
	if (vin)
		nod_vin_find_text(car->vin, vin);
	car->path = nod_arena_printf(arena, "%s", path);
	car->map = nod_arena_printf(arena, "%s", f->vehicle->title ? f->vehicle->title : "");
	car->good = f->verdict == NOD_VERDICT_SLEEPS;
	car->found = nod_arena_printf(arena, "%s", s ? s->name : "");
	car->proved = s && s->proved;
	for (size_t i = 0; i < f->isolation_count; i++) {
		enum nod_isolation_result result = f->isolations[i].result;
		car->good = false;
		car->tried |= result == NOD_ISOLATION_SLEPT || result == NOD_ISOLATION_PROVED ||
			      result == NOD_ISOLATION_UNCHANGED;
	}
	find_times(car, f);
	read_notes(car, arena, f);
	return copy_messages(car, arena, f, s) || arena->failed ? -ENOMEM : 0;
}
