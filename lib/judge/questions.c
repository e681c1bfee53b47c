/* SPDX-License-Identifier: MIT */
/* What happened in the car and nobody noted: asked of the person who was there. And how long
 * to wait for what an isolation shows. */
#include "analysis.h"

#include <errno.h>
#include <math.h>

#include "current-trace.h"
#include "quantity.h"

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

int nod_analysis_ask(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;

	f->questions = nod_arena_alloc(a->arena, (f->mark_count + 1) * sizeof(*f->questions));
	if (!f->questions)
		return -ENOMEM;
	for (size_t i = 0; i < f->mark_count; i++)
		if (f->marks[i].inferred)
			f->questions[f->question_count++] = (struct nod_question_finding){
				(int)i, text_of(a, &f->marks[i])};
	return 0;
}
