/* SPDX-License-Identifier: MIT */
#include "isolations.h"

#include <errno.h>

/* With the network awake for less than this while it was isolated nothing is
 * said about its messages: marks are entered some seconds off. Chosen. */
#define AWAKE_MIN_NS (10 * NOD_NS_PER_S)

/* Turns the frame counts of one network into those from one snapshot to the other. */
static void count_network(const struct isolation *t, size_t net, const struct nod_snapshot *from,
			  const struct nod_snapshot *to, uint64_t *frames)
{
	const int *map = t->a->ident_of[net];

	for (uint32_t k = 0; to && net < to->tracks && k < to->counts[net]; k++)
		frames[map[k]] = to->idents[net][k].frames;
	for (uint32_t k = 0; net < from->tracks && k < from->counts[net]; k++)
		frames[map[k]] -= from->idents[net][k].frames;
}

/* Frames of each message from one snapshot to the other, NULL: to the end of the recording; by
 * index into the findings' idents. Arena memory, NULL when it ran out. */
static uint64_t *frames_between(const struct isolation *t, const struct nod_snapshot *from,
				const struct nod_snapshot *to)
{
	const struct nod_findings *f = t->a->f;
	uint64_t *frames = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(*frames));

	if (!frames)
		return NULL;
	for (size_t i = 0; i < f->ident_count; i++)
		frames[i] = f->idents[i].frames;
	for (size_t net = 0; net < t->a->engine->track_room; net++)
		if (nod_engine_track(t->a->engine, net))
			count_network(t, net, from, to, frames);
	return frames;
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

/* With the part back and its network awake for so long, it has started and speaks. Chosen. */
#define BACK_MIN_NS (30 * NOD_NS_PER_S)

/* Of what hangs on it, messages were due after the refit, and none was heard. */
static bool is_missing(const struct isolation *t, const uint64_t *since)
{
	const struct nod_findings *f = t->a->f;
	bool due = false;

	for (size_t i = 0; i < f->ident_count; i++) {
		const struct nod_ident_finding *ident = &f->idents[i];
		if (!nod_isolation_involves(t->a, t->out, ident->sender))
			continue;
		int64_t awake = nod_network_awake(&f->networks[ident->network], t->to.ns,
						  f->end.ns);
		if (since[i])
			return false;
		due |= ident->before.rhythm != NOD_RHYTHM_UNKNOWN && awake >= BACK_MIN_NS &&
		       awake >= NOD_MISSED_ALONE * ident->before.period.ns;
	}
	return due;
}

int nod_isolation_not_back(struct isolation *t)
{
	const uint64_t *since = t->after ? frames_between(t, t->after, NULL) : NULL;

	if (t->after && !since)
		return -ENOMEM;
	if (!since || !is_missing(t, since))
		return 0;
	t->not_back = t->to;
	t->out->refitted = NOD_TIME_NONE;
	t->to = t->back_until = t->a->f->end;
	t->after = NULL;
	return 0;
}

/* When something that hangs on it first spoke in this span, of those who began it. */
static nod_time spoke_first(const struct isolation *t, const struct nod_span_finding *span)
{
	for (int i = 0; i < span->first_count; i++)
		if (nod_isolation_involves(t->a, t->out,
					   t->a->f->idents[span->first[i].ident].sender))
			return span->first[i].time;
	return NOD_TIME_NONE;
}

/* True as well when too many spoke after the hand was there to know who. */
static bool spoke_on(const struct isolation *t, const struct nod_span_finding *span)
{
	if (span->last_count == NOD_SPAN_SPEAKERS &&
	    span->last[NOD_SPAN_SPEAKERS - 1].time.ns > t->from.ns + NOD_HAND_USUAL_NS)
		return true;
	for (int i = 0; i < span->last_count; i++)
		if (span->last[i].time.ns > t->from.ns + NOD_HAND_USUAL_NS &&
		    nod_isolation_involves(t->a, t->out,
					   t->a->f->idents[span->last[i].ident].sender))
			return true;
	return false;
}

bool nod_isolation_back_unnoted(struct isolation *t, size_t span)
{
	const struct nod_network_finding *n = t->network;
	nod_time back = NOD_TIME_NONE;

	if (spoke_on(t, &n->spans[span]))
		return false;
	for (size_t i = span + 1; i < n->span_count && !nod_time_is_set(back); i++)
		back = spoke_first(t, &n->spans[i]);
	if (!nod_time_is_set(back) || back.ns > t->to.ns)
		return false;
	t->to = t->out->refitted = back;
	t->back_until = nod_isolation_undisturbed(t->a->f, back);
	t->unnoted = true;
	for (size_t i = 0; i < t->a->f->sender_count; i++)
		t->out->stayed_on[i] &= !nod_isolation_involves(t->a, t->out, (int)i);
	return true;
}

int nod_isolation_presence(struct isolation *t, bool *not_off)
{
	struct nod_findings *f = t->a->f;
	struct nod_isolation_finding *out = t->out;
	int64_t *awake = nod_arena_alloc(t->a->arena, (f->network_count + 1) * sizeof(*awake));
	uint64_t *during = frames_between(t, t->before, t->after);
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
