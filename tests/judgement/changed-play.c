/* SPDX-License-Identifier: MIT */
#include "changed-play.h"

#include <stdlib.h>

/* A gateway hands a frame on after so long. Chosen: some milliseconds in real ones. */
#define ROUTED_NS (3 * NOD_NS_PER_MS)
#define AWAKE_NS NOD_NS_PER_S

static void take(struct play *p, struct nod_event event)
{
	if (p->stepped)
		event.time.ns += STEP_NS;
	if (event.kind == NOD_EVENT_FRAME)
		event.frame.time = event.time;
	if (event.kind == NOD_EVENT_MARK)
		event.mark.time = event.time;
	if (nod_engine_take(p->engine, &event))
		abort();
}

void changed_play_late(struct play *p, nod_time until)
{
	while (p->count && p->late[p->first].time.ns <= until.ns) {
		take(p, p->late[p->first]);
		p->first = (p->first + 1) % ROUTED_MAX;
		p->count--;
	}
}

/* A gateway routes to a network that is awake. */
static void route(struct play *p, const struct nod_event *event)
{
	if (event->kind == NOD_EVENT_FRAME && event->frame.interface == p->to)
		p->to_awake = event->time;
	if (p->from != p->to && event->time.ns - p->to_awake.ns > AWAKE_NS)
		return;
	if (event->kind != NOD_EVENT_FRAME || p->from < 0 || event->frame.id != p->id ||
	    event->frame.interface != p->from || p->count == ROUTED_MAX)
		return;
	struct nod_event copy = *event;
	copy.time.ns += ROUTED_NS;
	copy.frame.time = copy.time;
	copy.frame.interface = (uint8_t)p->to;
	copy.frame.id = p->as;
	if (p->change == COORDINATES)
		copy.frame.data[0] = (uint8_t)p->as; /* its own node number */
	p->late[(p->first + p->count++) % ROUTED_MAX] = copy;
}

/* True for what nobody heard. */
static bool in_gap(struct play *p, const struct nod_event *event)
{
	if ((p->change != GAP && p->change != LATE_GAP) || event->time.ns < p->at.ns)
		return false;
	if (event->time.ns < p->at.ns + GAP_NS)
		return event->kind == NOD_EVENT_FRAME;
	if (!p->gapped) {
		struct nod_event gap = {.kind = NOD_EVENT_GAP};
		gap.time.ns = p->at.ns + GAP_NS;
		gap.gap.interface = NOD_ALL_INTERFACES;
		gap.gap.from = p->at;
		p->gapped = true;
		take(p, gap);
	}
	return false;
}

static void set_clock(struct play *p, nod_time time)
{
	struct nod_event step = {.kind = NOD_EVENT_CLOCK, .time = time};

	if (p->change != STEP || p->stepped || time.ns < p->at.ns)
		return;
	p->stepped = true;
	step.clock.step.ns = STEP_NS;
	take(p, step);
}

void changed_play(struct play *p, const struct nod_event *event)
{
	changed_play_late(p, event->time);
	set_clock(p, event->time);
	if (in_gap(p, event))
		return;
	take(p, *event);
	route(p, event);
}
