/* SPDX-License-Identifier: MIT */
/* Evidence from the meter: which fuses carry current. */
#include "weighing.h"

#include <errno.h>

#include "fuse-reading.h"
#include "journal.h"

/* A module that holds a network awake draws at least this much: common
 * practice, no source (an awake control unit takes some tens of milliamps and
 * more). A fuse that cannot carry it feeds no module that is awake. */
#define AWAKE_MIN_UA 20000

static int keep(struct nod_analysis *a, const struct nod_mark_finding *mark)
{
	struct nod_fuse_finding *out = &a->f->fuses[a->f->fuse_count];
	struct nod_fuse_resistance resistance;
	struct nod_fuse_reading reading;
	struct nod_fuse_current current;

	int status = nod_fuse_reading_parse(&reading, mark->subject, -1, a->f->vehicle, a->arena,
					    NULL);
	if (status || reading.fuse == NOD_NONE)
		return status == -ENOMEM ? status : 0;
	const struct nod_fuse *fuse = &a->f->vehicle->fuses[reading.fuse];
	if (nod_fuse_resistance_of(&resistance, fuse, NULL) ||
	    nod_fuse_current(&current, reading.uv, reading.uncertainty_uv, &resistance, NULL))
		return 0;
	*out = (struct nod_fuse_finding){
		reading.fuse, mark->time, current.low_ua, current.high_ua,
		nod_arena_printf(a->arena, "Across fuse %s: %s, that is %lld to %lld mA.",
				 fuse->name, mark->subject, (long long)current.low_ua / 1000,
				 (long long)current.high_ua / 1000)};
	a->f->fuse_count++;
	return 0;
}

int nod_analysis_read_fuses(struct nod_analysis *a)
{
	a->f->fuses = nod_arena_alloc(a->arena, (a->f->mark_count + 1) * sizeof(*a->f->fuses));
	if (!a->f->fuses)
		return -ENOMEM;
	for (size_t i = 0; i < a->f->mark_count; i++)
		if (a->f->marks[i].kind == NOD_MARK_READING && keep(a, &a->f->marks[i]))
			return -ENOMEM;
	return 0;
}

/* The latest reading of a fuse, NULL: none. */
static const struct nod_fuse_finding *reading_of(const struct nod_analysis *a, int fuse)
{
	for (size_t i = a->f->fuse_count; i-- > 0;)
		if (a->f->fuses[i].fuse == fuse)
			return &a->f->fuses[i];
	return NULL;
}

/* Carrying counts by how few of the measured fuses carry: they all do while the
 * network is awake. */
static double rarity(const struct nod_analysis *a)
{
	size_t carrying = 0;

	for (size_t i = 0; i < a->f->fuse_count; i++)
		carrying += a->f->fuses[i].low_ua > 0;
	return a->f->fuse_count ? 1 - (double)carrying / (double)(a->f->fuse_count + 1) : 0;
}

static void observe_one(struct nod_weighing *w, struct nod_hypothesis *h,
			const struct nod_module *module)
{
	const struct nod_fuse_finding *carries = NULL, *dead = NULL;

	for (size_t i = 0; i < module->fuse_count; i++) {
		const struct nod_fuse_finding *r = reading_of(w->a, module->fuses[i]);
		if (!r)
			return; /* another supply, not measured: nothing follows */
		if (r->high_ua < AWAKE_MIN_UA)
			dead = r;
		else if (r->low_ua > 0)
			carries = r;
		else
			return; /* below what the meter resolves */
	}
	if (carries)
		nod_hypothesis_add(w, h, NOD_EV_FUSE_CARRIES, rarity(w->a), "%s", carries->text);
	else if (dead)
		nod_hypothesis_add(w, h, NOD_EV_FUSE_DEAD, 1, "%s", dead->text);
}

void nod_observe_fuses(struct nod_weighing *w)
{
	const struct nod_findings *f = w->a->f;

	for (size_t i = 0; f->fuse_count && i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind == NOD_SUSPECT_SENDER &&
		    f->senders[h->sender].kind == NOD_SENDER_MODULE)
			observe_one(w, h, &f->vehicle->modules[f->senders[h->sender].module]);
	}
}
