/* SPDX-License-Identifier: MIT */
/* What follows from the car having been in use while it was recorded. */
#include "analysis.h"

#include <errno.h>
#include <string.h>

/* Who comes to use the car wakes it first. Chosen. */
#define APPROACH_NS (60 * NOD_NS_PER_S)

int nod_analysis_copy_uses(struct nod_analysis *a)
{
	const struct nod_in_use *use = &a->engine->use;

	a->f->uses = nod_arena_alloc(a->arena, (use->count + 1) * sizeof(*a->f->uses));
	if (!a->f->uses || use->starved)
		return -ENOMEM;
	if (use->count)
		memcpy(a->f->uses, use->list, use->count * sizeof(*a->f->uses));
	a->f->use_count = use->count;
	a->f->in_use = use->on;
	return 0;
}

const struct nod_use_finding *nod_analysis_use_at(const struct nod_analysis *a, nod_time time)
{
	for (size_t i = 0; i < a->f->use_count; i++)
		if (time.ns >= a->f->uses[i].from.ns - APPROACH_NS &&
		    time.ns <= a->f->uses[i].to.ns)
			return &a->f->uses[i];
	return NULL;
}

const char *nod_analysis_use_sign(struct nod_analysis *a, const struct nod_use_finding *use)
{
	if (use->sign == NOD_USE_ENGINE)
		return nod_arena_printf(a->arena, "the engine runs, up to %u 1/min by PGN 61444",
					use->speed);
	if (use->sign == NOD_USE_SPEED)
		return nod_arena_printf(a->arena, "the vehicle moves, up to %u km/h by PGN 65265",
					use->speed);
	return nod_arena_printf(a->arena, "values move in up to %u of %u messages at a time",
				use->moving, use->messages);
}

const struct nod_span_finding *nod_analysis_span_at(const struct nod_network_finding *n,
						    nod_time time)
{
	size_t low = 0, high = n->span_count;

	while (low < high) {
		size_t middle = (low + high) / 2;
		if (n->spans[middle].from.ns <= time.ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low ? &n->spans[low - 1] : NULL;
}

bool nod_analysis_is_amid_traffic(const struct nod_analysis *a, int network, nod_time time)
{
	const struct nod_findings *f = a->f;
	nod_time later = {time.ns + 1};

	if (f->lock_source != NOD_LOCK_FROM_START ||
	    (a->parked && nod_analysis_late_overlap(a, network, time, later).ns))
		return false;
	for (size_t n = 0; n < f->network_count; n++) {
		const struct nod_span_finding *s = nod_analysis_span_at(&f->networks[n], time);
		if (s && f->networks[n].network != network &&
		    s->from.ns < time.ns - NOD_ONE_STORY_NS && s->to.ns > time.ns)
			return true;
	}
	return false;
}
