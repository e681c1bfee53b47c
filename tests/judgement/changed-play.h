/* SPDX-License-Identifier: MIT */
/* A session that is played with one change that is not the car's. */
#ifndef CHANGED_PLAY_H
#define CHANGED_PLAY_H

#include "engine.h"
#include "generator.h"

/* The gap: so long, and so far before the settle deadline; the clock is set at the same
 * moment. */
#define GAP_NS (3 * NOD_NS_PER_S)
#define BEFORE_DEADLINE_NS (90 * NOD_NS_PER_S)
#define STEP_NS (-3600 * NOD_NS_PER_S)

/* A gateway hands on at most so many frames at a time. */
#define ROUTED_MAX 8192

enum change {
	NO_CHANGE,
	NO_NETWORKS,
	ROUTED,
	GAP,
	LATE_GAP,
	STEP,
	NOT_IN_MAP,
	COORDINATES,
	CHANGES
};

/* One session being played with a change. */
struct play {
	enum change change;
	struct nod_engine *engine;
	struct nod_vehicle *vehicle;
	const struct nod_interfaces *interfaces;
	nod_time at;                       /* when the gap begins or the clock is set */
	int from, to;                      /* interfaces between which is routed or repeated; -1 */
	uint32_t id;                       /* the message that is routed, or repeated */
	uint32_t as;                       /* under this ID */
	nod_time to_awake;                 /* when the other network's own traffic was last heard */
	struct nod_event late[ROUTED_MAX]; /* what is routed and not yet due */
	size_t first, count;
	bool stepped, gapped;
};

/* What was routed up to then, at the end. */
void changed_play_late(struct play *p, nod_time until);

/* One event of the car, and what the change makes of it. */
void changed_play(struct play *p, const struct nod_event *event);

#endif
