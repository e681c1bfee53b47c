/* SPDX-License-Identifier: MIT */
/* Frames of two recordings as one: names of interfaces, and frames that both heard. */
#include <errno.h>
#include <string.h>

#include "session-join-internal.h"

/* Two adapters at one network stamp a frame within this of each other, once their clocks are
 * aligned. Chosen: a USB adapter delivers within some milliseconds (common practice, no source),
 * and the fastest messages of cars come every 10 ms, with other payloads or a counter. */
#define SAME_NS (30 * NOD_NS_PER_MS)

/* ---- interfaces ---- */

/* The first's interface that hears the same network, -1: there is none. */
static int twin_of(const struct nod_joiner *j, unsigned interface)
{
	const struct nod_interfaces *first = nod_session_interfaces(j->sources[0].session);

	for (unsigned i = 0; i < first->count; i++)
		if (nod_tie_same_network(j->join->sides[0], i, j->join->sides[1], interface))
			return (int)i;
	return -1;
}

static int add_name(struct nod_joiner *j, int side, const char *name)
{
	char text[16];
	size_t length = strlen(name);

	snprintf(text, sizeof(text), "%.15s", name);
	for (unsigned i = 0; side && i < j->names.count; i++)
		if (!strcmp(j->names.names[i], name))
			snprintf(text, sizeof(text), "%.*s-2", (int)(length < 13 ? length : 13),
				 name);
	return nod_interfaces_index(&j->names, text, strlen(text));
}

/* The index in the new session. Negative: an errno. */
/* Notes it before the first frame is taken, whose twin is to be known. */
static void note_shared(struct nod_joiner *j, unsigned interface, int name)
{
	for (unsigned i = 0; i < NOD_INTERFACES_MAX && !j->shared[name]; i++)
		j->shared[name] = nod_tie_same_network(j->join->sides[0], interface,
						       j->join->sides[1], i);
	j->result->shared += j->shared[name];
}

int nod_join_name(struct nod_joiner *j, int side, unsigned interface)
{
	if (interface >= NOD_INTERFACES_MAX)
		return -ENOSPC;
	int *known = &j->sources[side].names[interface];
	int twin = side && *known < 0 ? twin_of(j, interface) : -1;

	if (twin >= 0) {
		*known = nod_join_name(j, 0, (unsigned)twin);
	} else if (*known < 0) {
		const struct nod_interfaces *names = nod_session_interfaces(
			j->sources[side].session);
		*known = add_name(j, side, names->names[interface]);
		if (!side && *known >= 0)
			note_shared(j, interface, *known);
	}
	return *known;
}

/* ---- frames ---- */

static bool same(const struct nod_frame *a, const struct nod_frame *b)
{
	return a->id == b->id && a->interface == b->interface && a->length == b->length &&
	       a->flags == b->flags && !memcmp(a->data, b->data, a->length);
}

bool nod_join_ran(const struct nod_joiner *j, int side, nod_time time)
{
	return time.ns >= j->sources[side].from.ns && time.ns <= j->sources[side].to.ns;
}

/* Lets go of what is too old for a twin. */
void nod_join_expire(struct nod_joiner *j, nod_time now)
{
	while (j->waiting_count) {
		const struct nod_join_waiting *w = &j->waiting[j->waiting_first];
		if (j->waiting_count < NOD_JOIN_WAITING && now.ns - w->frame.time.ns <= SAME_NS)
			return;
		if (!w->twin && nod_join_ran(j, !w->side, w->frame.time))
			j->result->only[w->side]++;
		j->waiting_first = (j->waiting_first + 1) % NOD_JOIN_WAITING;
		j->waiting_count--;
	}
}

/* True when the other recording has delivered this frame already. */
static bool is_twin(struct nod_joiner *j, int side, const struct nod_frame *frame)
{
	for (size_t i = 0; i < j->waiting_count; i++) {
		struct nod_join_waiting *w = &j->waiting[(j->waiting_first + i) % NOD_JOIN_WAITING];
		if (w->side != side && !w->twin && same(&w->frame, frame)) {
			w->twin = true;
			j->result->heard_by_both++;
			return true;
		}
	}
	return false;
}

int nod_join_frame(struct nod_joiner *j, int side, nod_time time)
{
	struct nod_event event = *j->sources[side].event;
	int interface = nod_join_name(j, side, event.frame.interface);

	if (interface < 0)
		return interface;
	event.time = event.frame.time = time;
	event.frame.interface = (uint8_t)interface;
	event.frame.flags &= (uint8_t) ~(NOD_FRAME_SENT | NOD_FRAME_RECEIVED);
	if (j->shared[interface]) {
		nod_join_expire(j, time);
		if (is_twin(j, side, &event.frame))
			return 0;
		j->waiting[(j->waiting_first + j->waiting_count++) % NOD_JOIN_WAITING] =
			(struct nod_join_waiting){event.frame, side, false};
	}
	j->result->frames++;
	return nod_recorder_take(j->recorder, &event);
}
