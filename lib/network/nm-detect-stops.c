/* SPDX-License-Identifier: MIT */
/* Who falls silent by itself while the network goes on: so does a node of network management
 * that is ready to sleep, while its module talks on. A module that goes takes all its messages. */
#include "nm-detect-internal.h"

/* Silent for so long, and so many half periods, while the network was busy: it stopped. */
#define STOP_SECONDS 3
#define STOP_HALF_PERIODS 5

/* The network was not silent itself since then but for so many seconds, in all. */
#define SECONDS_AMISS 2

/* Two may have stopped together when what each had to send next is missing within so much. */
#define SLACK_MS 100

static int64_t ms_since(nod_time now, const struct nod_nm_id *id)
{
	return (now.ns - id->last.ns) / NOD_NS_PER_MS;
}

static bool is_silent(const struct nod_nm_id *id, nod_time now)
{
	unsigned period = nod_nm_period_ms(id);
	int64_t ms = ms_since(now, id);

	return period && ms >= STOP_SECONDS * 1000 && 2 * ms >= STOP_HALF_PERIODS * (int64_t)period;
}

/* Another node of the same numbers or look is no message of its module. */
static bool is_another_node(const struct nod_nm_id *a, const struct nod_nm_id *b)
{
	uint32_t p, q;

	for (int i = 0; i < 2; i++)
		if (nod_nm_has_number(a, i, &p) && nod_nm_has_number(b, i, &q) && p == q)
			return true;
	return nod_nm_is_alike(a, b);
}

/* Nothing has been heard of the other since, whose turn may not have come yet. */
static bool may_have_stopped_with(const struct nod_nm_id *id, const struct nod_nm_id *other,
				  nod_time now)
{
	unsigned period = nod_nm_period_ms(other);
	int64_t apart = ms_since(now, id) -
			ms_since(now, other); /* > 0: the other went on longer */

	return period && apart < SLACK_MS + (int64_t)nod_nm_period_ms(id) &&
	       -apart < SLACK_MS + (int64_t)period;
}

static void look_at(const struct nod_nm_detect *detect, struct nod_nm_id *id, nod_time now)
{
	uint16_t talkers = 0;
	bool together = false;

	id->ended = true;
	for (unsigned i = 0; i < detect->count; i++) {
		const struct nod_nm_id *other = &detect->ids[detect->used[i]];
		if (other == id || is_another_node(id, other))
			continue;
		bool with = may_have_stopped_with(id, other, now);
		if (with && is_silent(other, now)) {
			id->looked = id->last;
			return;
		}
		together |= with;
		if (ms_since(now, other) < STOP_SECONDS * 1000)
			talkers++;
	}
	if (together)
		return; /* looked at again: the other may go on */
	id->looked = id->last;
	id->alone = true;
	id->stopped = id->last;
	id->talkers = talkers;
}

static void bring_up_to_date(struct nod_nm_detect *detect)
{
	for (unsigned i = 0; i < detect->count && detect->last_of; i++) {
		struct nod_nm_id *id = &detect->ids[detect->used[i]];
		nod_time last;
		if (id->over && detect->last_of(detect->last_context, id->id, &last))
			id->last = last;
	}
}

void nod_nm_look_at_stops(struct nod_nm_detect *detect, nod_time now)
{
	bool fresh = false;

	for (unsigned i = 0; i < detect->count; i++) {
		struct nod_nm_id *id = &detect->ids[detect->used[i]];
		uint32_t busy = detect->active - id->active;
		if (id->over || id->looked.ns == id->last.ns || busy <= STOP_SECONDS ||
		    !is_silent(id, now))
			continue;
		if (ms_since(now, id) > (busy + SECONDS_AMISS) * INT64_C(1000)) {
			id->looked = id->last; /* the network fell silent as well */
			continue;
		}
		if (!fresh)
			bring_up_to_date(detect);
		fresh = true;
		look_at(detect, id, now);
	}
}
