/* SPDX-License-Identifier: MIT */
/* What happened in the car and nobody noted: asked of the person who was there. And how long
 * to wait for what an isolation shows. */
#include "analysis.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "current-trace.h"
#include "payload.h"
#include "quantity.h"
#include "signals.h"

/* The current is compared so long before and after; what is near the moment (an inrush, the
 * logger's own clock) is left out. Chosen: a logger takes a sample or two a second. */
#define STEP_NS (3 * NOD_NS_PER_S)
#define MEASURED_MIN_NS (2 * NOD_NS_PER_S)
/* Smaller steps are noise of a clamp. Chosen: a module takes some 50 mA and more. */
#define STEP_MIN_UA 30000

/* How many modules of the map are fed by what the mark names. */
static unsigned modules_on(const struct nod_analysis *a, const char *subject)
{
	const struct nod_vehicle *vehicle = a->f->vehicle;
	int fuse = NOD_NONE, module = NOD_NONE;
	unsigned count = 0;

	if (!nod_vehicle_resolve(vehicle, subject, &fuse, &module) || fuse == NOD_NONE)
		return 1;
	for (size_t m = 0; m < vehicle->module_count; m++)
		for (size_t i = 0; i < vehicle->modules[m].fuse_count; i++)
			count += vehicle->modules[m].fuses[i] == fuse;
	return count;
}

/* The mean current between two times, microamps; false when it was hardly measured. */
static bool mean_current(const struct nod_analysis *a, nod_time from, nod_time to, double *ua)
{
	nod_duration measured;
	double uah = nod_current_trace_charge(a->engine->current, from, to, &measured);

	if (measured.ns < MEASURED_MIN_NS)
		return false;
	*ua = uah * 3600e9 / (double)measured.ns;
	return true;
}

/* ", 310 mA less" when the current has a step there; "" when it is not measured or small. */
static const char *step_text(const struct nod_analysis *a, nod_time at)
{
	char text[NOD_QUANTITY_TEXT];
	double before, after;
	nod_duration gap = {STEP_NS}, back = {-STEP_NS};

	if (!a->engine->current ||
	    !mean_current(a, nod_time_after(at, (nod_duration){-3 * STEP_NS}),
			  nod_time_after(at, back), &before) ||
	    !mean_current(a, nod_time_after(at, gap),
			  nod_time_after(at, (nod_duration){3 * STEP_NS}), &after) ||
	    fabs(before - after) < STEP_MIN_UA)
		return "";
	nod_quantity_print(text, (int64_t)fabs(before - after), NOD_UNIT_AMPERE);
	return nod_arena_printf(a->arena, ", %s %s", text, before > after ? "less" : "more");
}

static const char *unmapped_text(const struct nod_analysis *a, const struct nod_mark_finding *m)
{
	return m->unmapped ? nod_arena_printf(a->arena, " (%u not in the map)", m->unmapped) : "";
}

static const char *text_of(const struct nod_analysis *a, const struct nod_mark_finding *m)
{
	unsigned modules = modules_on(a, m->subject);
	bool off = m->kind == NOD_MARK_ISOLATED;

	return nod_arena_printf(
		a->arena, "%u message%s of %u module%s%s %s%s: %s?%s", m->dated_by,
		m->dated_by == 1 ? "" : "s", modules, modules == 1 ? "" : "s", unmapped_text(a, m),
		off ? "stopped at once, others went on" : "came back together",
		step_text(a, m->time),
		nod_arena_printf(a->arena, off ? "was %s pulled" : "was %s put back", m->subject),
		m->unmapped ? " (nodoff vehicle learn then proposes what the map lacks)" : "");
}

/* ---- a door, a lid, a key ---- */

/* In all, a bit that tells one of them has moved so often at most: what moves with every wake-up
 * is the car's own. Chosen: two doors, or one that was opened twice. */
#define DOOR_TOGGLES_MAX 4
/* It stays so long, from and to. Chosen: shorter is a bounce, longer is left open. */
#define DOOR_MIN_NS (NOD_NS_PER_S / 2)
#define DOOR_MAX_NS (600 * NOD_NS_PER_S)
#define DENIED_NS (5 * NOD_NS_PER_S)

/* How long the bit was over that moved with the wake-up; 0: it is not back, or moved on. */
static nod_duration was_over(const struct nod_analysis *a, const struct nod_touch_bit *bit)
{
	const struct nod_ident *ident = &a->engine->tracks[bit->network]->idents.items[bit->ident];
	unsigned toggles = nod_payload_toggles(&ident->payload, bit->bit);
	nod_duration over = nod_time_since(nod_payload_last_toggle(&ident->payload, bit->bit),
					   bit->time);

	if (toggles != bit->toggles + 1 || toggles > DOOR_TOGGLES_MAX || over.ns < DOOR_MIN_NS ||
	    over.ns > DOOR_MAX_NS)
		over.ns = 0;
	return over;
}

/* The wake-up is nobody's by the journal, and nobody said that it is. */
static bool is_open_wake(const struct nod_findings *f, const struct nod_touch *touch)
{
	bool open = false;

	for (size_t i = 0; i < f->wake_count; i++)
		open |= f->wakes[i].time.ns <= touch->time.ns && !*f->wakes[i].cause &&
			nod_time_since(touch->time, f->wakes[i].time).ns <= NOD_ONE_STORY_NS;
	for (size_t i = 0; i < f->mark_count; i++) {
		nod_duration after = nod_time_since(f->marks[i].time, touch->time);
		open &= f->marks[i].kind != NOD_MARK_NOTHING || after.ns > DENIED_NS ||
			after.ns < -DENIED_NS;
	}
	return open;
}

/* A bit that went over with the wake-up and came back; NULL: none did. */
static const struct nod_touch_bit *door_bit(const struct nod_analysis *a,
					    const struct nod_touch *touch)
{
	for (size_t k = 0; k < touch->bit_count; k++)
		if (was_over(a, &touch->bits[k]).ns)
			return &touch->bits[k];
	return NULL;
}

static void ask_about_door(struct nod_analysis *a, const struct nod_touch *touch)
{
	struct nod_findings *f = a->f;
	const struct nod_touch_bit *bit = is_open_wake(f, touch) ? door_bit(a, touch) : NULL;
	struct nod_question_finding *last = f->question_count ? &f->questions[f->question_count - 1]
							      : NULL;
	char bits[NOD_SIGNAL_TEXT], id[NOD_ID_TEXT];

	if (!bit || (last && last->kind == NOD_MARK_DOOR &&
		     nod_time_since(touch->time, last->time).ns <= NOD_ONE_STORY_NS))
		return; /* the same on another network */
	const struct nod_ident_finding *ident = &f->idents[a->ident_of[bit->network][bit->ident]];
	nod_signals_print_mask(bits, sizeof(bits), f, ident, UINT64_C(1) << bit->bit);
	f->questions[f->question_count++] = (struct nod_question_finding){
		touch->time, NOD_MARK_DOOR,
		nod_arena_printf(a->arena, "%s %s", nod_id_print(id, ident->id), bits),
		nod_arena_printf(
			a->arena,
			"%s woke, and in %s of %s %s went over and back after %s, as with a "
			"door, a lid or a key: was somebody at the car?",
			nod_analysis_network(a, touch->mark)->name, id,
			f->senders[ident->sender].name, bits,
			nod_analysis_length(a, was_over(a, bit)))};
}

static int by_time(const void *x, const void *y)
{
	const struct nod_question_finding *a = x, *b = y;

	return (a->time.ns > b->time.ns) - (a->time.ns < b->time.ns);
}

int nod_analysis_ask(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;
	size_t wakes = a->engine->wake_touch_count, room = f->mark_count + NOD_WAKE_TOUCHES_MAX;

	f->questions = nod_arena_alloc(a->arena, room * sizeof(*f->questions));
	if (!f->questions)
		return -ENOMEM;
	for (size_t i = wakes > NOD_WAKE_TOUCHES_MAX ? wakes - NOD_WAKE_TOUCHES_MAX : 0; i < wakes;
	     i++)
		ask_about_door(a, &a->engine->wake_touches[i % NOD_WAKE_TOUCHES_MAX]);
	for (size_t i = 0; i < f->mark_count; i++)
		if (f->marks[i].inferred)
			f->questions[f->question_count++] = (struct nod_question_finding){
				f->marks[i].time, f->marks[i].kind, f->marks[i].subject,
				text_of(a, &f->marks[i])};
	qsort(f->questions, f->question_count, sizeof(*f->questions), by_time);
	return 0;
}
