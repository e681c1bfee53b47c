/* SPDX-License-Identifier: MIT */
/* Networks with management, node by node, apart from the generator's cars: one
 * bus, nodes that are state machines of the published text (cannm.c, oseknm.c),
 * the faults that such nodes have, and the truth about each session. Everything
 * is invented; times are ns since the recording's start. */
#ifndef WORLD_H
#define WORLD_H

#include <stdbool.h>
#include <stdint.h>

#include "../../../captures/sim/random.h"

#define WORLD_NODES 9
#define WORLD_MESSAGES 4
#define MS INT64_C(1000000)
#define S (1000 * MS)
#define NEVER INT64_MAX

enum scheme { CANNM, OSEKNM };

enum state {
	ASLEEP,
	STARTING,
	REPEAT,
	NORMAL,
	READY,
	PREPARE, /* CanNm */
	RING,
	RING_READY,
	TWBS,
	LIMP,
	LIMP_READY,
	LIMP_TWBS,
	BUS_OFF /* OSEK NM */
};

/* What all nodes of a network share. */
struct config {
	enum scheme scheme;
	uint32_t base;
	bool extended;
	int length, node_byte, control_byte, partial_first; /* -1: not there */
	uint8_t fill;
	int64_t cycle, immediate_cycle, repeat, timeout, wait; /* CanNm */
	int immediate;
	bool reduction, repeat_request, active_bit, app_first;
	int64_t typ, max, error, twbs; /* OSEK NM */
	int rx_limit;
	int64_t decide;       /* a woken OSEK node takes so long to say that it is ready */
	bool alive_indicates; /* an Alive carries the indication, too */
};

struct message {
	uint32_t id;
	int64_t period, due;
	int length;
	uint8_t data[8];
	bool counts;
};

struct node {
	uint8_t address;
	enum state state;
	int64_t startup;
	/* wishes */
	bool wants;
	int64_t ready_at;              /* wants the network until then (NEVER: the holder) */
	int64_t need_from, need_until; /* ... and again */
	/* faults */
	bool passive;      /* CanNm: sends no PDUs */
	int64_t mute_from; /* its PDUs are disabled from here: NM-Timeout stands still */
	int64_t dead_from; /* its management no longer runs, its application does */
	int64_t crash_at, boot_at, deaf_from, bus_off_at;
	int64_t wake_interval, wake_hold, next_wake;
	int wakes;
	/* machine */
	int64_t t_send, t_repeat, t_timeout, t_wait, t_start, t_app, t_decide, t_app_end;
	int immediate_left;
	bool active, app, powered, ready_said;
	uint16_t members, limpers; /* OSEK: who is in the ring, by node index */
	int rx_count;
	int64_t t_typ, t_max, t_error;
	bool all_ready;
	/* map */
	char name[24];
	bool partial;
	struct message messages[WORLD_MESSAGES];
	int message_count;
};

struct world {
	struct config config;
	struct node nodes[WORLD_NODES];
	int count;
	int64_t now, end, lock, deadline, bus_free;
	bool line; /* a waker starts all at once */
	struct sim_random random;
	uint32_t nm_ids; /* bit i: node i was heard with NM */
	int culprits[2], culprit_count;
	char situation[32];
	void (*emit)(void *to, int64_t at, uint32_t id, const uint8_t *data, int length);
	void *to;
};

/* A frame on the bus: to the recording and to all that hear. */
void world_send(struct world *w, int from, uint32_t id, const uint8_t *data, int length, bool nm);
void world_application(struct world *w, struct node *n, bool on);
void world_run(struct world *w);

static inline bool dead(const struct world *w, const struct node *n)
{
	return w->now >= n->dead_from;
}
static inline bool deaf(const struct world *w, const struct node *n)
{
	return w->now >= n->deaf_from;
}

/* The machines. `next`: when one of their timers is due. */
void cannm_start(struct world *w, int i, bool active);
void cannm_wish(struct world *w, int i);
void cannm_hear(struct world *w, int i, uint8_t control);
void cannm_due(struct world *w, int i);
int64_t cannm_next(const struct node *n);

void oseknm_start(struct world *w, int i);
void oseknm_wish(struct world *w, int i);
void oseknm_hear(struct world *w, int i, int from, uint8_t destination, uint8_t opcode);
void oseknm_due(struct world *w, int i);
void oseknm_bus_off(struct world *w, int i);
int64_t oseknm_next(const struct node *n);

/* situations.c */
extern const char *const world_situations[];
void world_lay(struct world *w, const char *situation, uint64_t seed);

static inline int64_t least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

#endif
