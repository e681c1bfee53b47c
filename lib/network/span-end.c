/* SPDX-License-Identifier: MIT */
/* What is said of an awake span when it ends: who spoke last and who was alone, who woke the
 * network, and who kept it. */
#include "track-internal.h"

/* A sender counts as alone at the end of a span when nobody else spoke for
 * this long: longer than any cyclic period in use (<= 2 s). Chosen. */
#define LONE_MIN_NS (3 * NOD_NS_PER_S)

/* Puts ident i into the latest-first list of last speakers when it belongs. */
static void rank_last(struct nod_span *span, int i, nod_time last)
{
	int at = span->last_count;

	while (at > 0 && span->last[at - 1].time.ns < last.ns)
		at--;
	if (at >= NOD_SPAN_SPEAKERS)
		return;
	if (span->last_count < NOD_SPAN_SPEAKERS)
		span->last_count++;
	for (int k = span->last_count - 1; k > at; k--)
		span->last[k] = span->last[k - 1];
	span->last[at] = (struct nod_speaker){i, last};
}

/* Who was alone at the end of the span, and since when. */
static void find_lone(const struct nod_track *track, struct nod_span *span)
{
	nod_time other = span->from;
	bool found = false;

	span->lone_from = span->from;
	span->lone_ident = NOD_NONE;
	if (!span->last_count)
		return;
	const struct nod_ident *items = track->idents.items;
	struct nod_sender lone = nod_track_sender(track, &items[span->last[0].ident]);
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_ident *ident = &items[track->speakers[i]];
		struct nod_sender sender = nod_track_sender(track, ident);
		if (nod_sender_same(&sender, &lone))
			continue;
		found = true;
		if (ident->last.ns > other.ns)
			other = ident->last;
	}
	span->lone_from = other;
	if (!found || nod_time_since(span->to, other).ns >= LONE_MIN_NS)
		span->lone_ident = span->last[0].ident;
}

/* So many early PDUs are a burst, when nobody else sent more than a few: only who woke the
 * network itself sends one (CanNmImmediateNmTransmissions; from memory). */
#define BURST_LEAST 4
#define BURST_OTHERS_MOST 2

/* The node that began the span with a burst, NOD_NONE. */
static int find_burst(const struct nod_track *track)
{
	int found = NOD_NONE;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial || node->span_early <= BURST_OTHERS_MOST)
			continue;
		if (found != NOD_NONE || node->span_early < BURST_LEAST)
			return NOD_NONE;
		found = (int)track->speakers[i];
	}
	return track->nm.scheme == NOD_NM_AUTOSAR ? found : NOD_NONE;
}

static void find_active_wakers(const struct nod_track *track, struct nod_span *span)
{
	int count = 0;

	span->active_wakers[0] = span->active_wakers[1] = NOD_NONE;
	for (uint32_t i = 0; i < track->speaker_count && count < 2; i++) {
		const struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		if (ident->node && ident->node->span == track->serial && ident->node->span_active)
			span->active_wakers[count++] = (int)track->speakers[i];
	}
	if (!count)
		span->active_wakers[0] = find_burst(track);
}

/* A node that asked for the network this much longer than all others is the one that kept it: by
 * three of its own cycles, of which usual ones are 100 ms to 1 s; others repeat their messages for
 * as long, and are late by an offset or by a change of mind. Chosen. */
#define KEPT_IT_CYCLES 3
#define KEPT_IT_LEAST_NS (1500 * NOD_NS_PER_MS)
#define KEPT_IT_NS (3 * NOD_NS_PER_S)

/* In a ring only who has a reason of its own sends a request at all: the others start with
 * alive messages and go on with the indication, at the latest when their application has
 * made up its mind. Chosen. */
#define KEPT_RING_NS (1 * NOD_NS_PER_S)

/* The only node of a ring that requested the network in this span, NOD_NONE. */
static int find_only_request(const struct nod_track *track)
{
	int found = NOD_NONE;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial || !node->span_requests)
			continue;
		if (found != NOD_NONE)
			return NOD_NONE;
		found = (int)track->speakers[i];
	}
	return found;
}

/* How much longer than all others it must have asked. */
static int64_t kept_it_ns(const struct nod_track *track, int speaker)
{
	if (track->nm.scheme == NOD_NM_OSEK)
		return KEPT_RING_NS;
	struct nod_period own = nod_ident_period(&track->idents.items[speaker]);
	bool known = own.period.ns > 0;
	int64_t ns = known ? KEPT_IT_CYCLES * own.period.ns : KEPT_IT_NS;

	if (ns < KEPT_IT_LEAST_NS)
		return KEPT_IT_LEAST_NS;
	return ns < KEPT_IT_NS ? ns : KEPT_IT_NS;
}

/* Which node went on requesting the network when all others had stopped. */
static void find_requester(const struct nod_track *track, struct nod_span *span)
{
	nod_time latest = NOD_TIME_NONE, second = NOD_TIME_NONE;

	span->requester = track->nm.scheme == NOD_NM_OSEK ? find_only_request(track) : NOD_NONE;
	if (span->requester != NOD_NONE)
		return;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial)
			continue;
		nod_time request = node->last_request;
		if (request.ns < span->from.ns)
			request = span->from; /* it took part, but never asked */
		if (request.ns > latest.ns) {
			second = latest;
			latest = request;
			span->requester = (int)track->speakers[i];
		} else if (request.ns > second.ns) {
			second = request;
		}
	}
	if (!nod_time_is_set(second) ||
	    nod_time_since(latest, second).ns < kept_it_ns(track, span->requester))
		span->requester = NOD_NONE;
}

void nod_track_finish_span(struct nod_track *track, struct nod_span *span)
{
	span->last_count = 0;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		rank_last(span, (int)track->speakers[i], ident->last);
		nod_ident_keep_period(ident);
	}
	find_lone(track, span);
	find_active_wakers(track, span);
	find_requester(track, span);
	nod_silence_look(track, span);
}
