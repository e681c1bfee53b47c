/* SPDX-License-Identifier: MIT */
#include "isolations.h"

#include <errno.h>

/* With the network awake for less than this while it was isolated nothing is
 * said about its messages: marks are entered some seconds off. Chosen. */
#define AWAKE_MIN_NS (10 * NOD_NS_PER_S)

/* Turns the frame counts of one network into those between the isolation and
 * its end. */
static void frames_on_network(const struct isolation *t, size_t net, uint64_t *during)
{
	const int *map = t->a->ident_of[net];

	for (uint32_t k = 0; t->after && net < t->after->tracks && k < t->after->counts[net]; k++)
		during[map[k]] = t->after->idents[net][k].frames;
	for (uint32_t k = 0; net < t->before->tracks && k < t->before->counts[net]; k++)
		during[map[k]] -= t->before->idents[net][k].frames;
}

/* Frames of each message between the isolation and its end: by index into the
 * findings' idents. Arena memory, NULL when it ran out. */
static uint64_t *frames_during(const struct isolation *t)
{
	const struct nod_findings *f = t->a->f;
	uint64_t *during = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(*during));

	if (!during)
		return NULL;
	for (size_t i = 0; i < f->ident_count; i++)
		during[i] = f->idents[i].frames;
	for (size_t net = 0; net < t->a->engine->track_room; net++)
		if (nod_engine_track(t->a->engine, net))
			frames_on_network(t, net, during);
	return during;
}

static enum nod_presence presence_of(const struct nod_ident_finding *ident,
				     const struct isolation *t, const int64_t *awake,
				     uint64_t heard)
{
	if (ident->first.ns >= t->from.ns || ident->before.rhythm == NOD_RHYTHM_UNKNOWN ||
	    ident->before.period.ns <= 0 || awake[ident->network] < AWAKE_MIN_NS)
		return NOD_PRESENCE_UNKNOWN;
	return nod_presence_of((double)awake[ident->network] / (double)ident->before.period.ns,
			       (double)heard, NOD_MISSED_ALONE);
}

int nod_isolation_presence(struct isolation *t, bool *not_off)
{
	struct nod_findings *f = t->a->f;
	struct nod_isolation_finding *out = t->out;
	int64_t *awake = nod_arena_alloc(t->a->arena, (f->network_count + 1) * sizeof(*awake));
	uint64_t *during = frames_during(t);
	size_t on = 0, off = 0;

	out->vanished = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(int));
	out->stayed_on = nod_arena_alloc(t->a->arena, (f->sender_count + 1) * sizeof(bool));
	if (!out->vanished || !out->stayed_on || !during || !awake)
		return -ENOMEM;
	for (size_t i = 0; i < f->network_count; i++)
		awake[i] = nod_network_awake(&f->networks[i], t->from.ns, t->to.ns);
	for (size_t i = 0; i < f->ident_count; i++) {
		enum nod_presence p = presence_of(&f->idents[i], t, awake, during[i]);
		bool involved = nod_isolation_involves(t->a, out, f->idents[i].sender);
		if (p == NOD_PRESENCE_OFF)
			out->vanished[out->vanished_count++] = (int)i;
		if (p == NOD_PRESENCE_ON)
			out->stayed_on[f->idents[i].sender] = true;
		off += involved && p == NOD_PRESENCE_OFF;
		on += involved && p == NOD_PRESENCE_ON;
	}
	*not_off = on && !off;
	return 0;
}
