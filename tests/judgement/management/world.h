/* SPDX-License-Identifier: MIT */
/* Networks with management, node by node, apart from the generator's cars: one
 * bus, the generator's machines (captures/sim/nm.h), and the truth about each session.
 * Everything is invented; times are ns since the recording's start. */
#ifndef WORLD_H
#define WORLD_H

#include "sim/nm.h"

#define WORLD_NODES 9
#define WORLD_MESSAGES 4
#define MS INT64_C(1000000)
#define S (1000 * MS)

struct message {
	uint32_t id;
	int64_t period, due;
	int length;
	uint8_t data[8];
	bool counts;
};

struct node {
	struct sim_nm nm;
	uint32_t nm_id;
	int64_t startup, t_start;
	/* wishes */
	bool wants;
	int64_t ready_at;              /* wants the network until then (SIM_NEVER: the holder) */
	int64_t need_from, need_until; /* ... and again */
	/* faults */
	int64_t crash_at, boot_at, bus_off_at;
	int64_t wake_interval, wake_hold, next_wake;
	int wakes;
	/* map */
	char name[24];
	bool said_gateway; /* the map says that it is a gateway */
	struct message messages[WORLD_MESSAGES];
	int message_count;
};

struct world {
	struct sim_nm_bus bus;
	struct node nodes[WORLD_NODES];
	int count;
	uint32_t base;
	bool extended;
	bool strange_numbers; /* no node byte is the low byte of its ID */
	int loss_permille;
	int64_t end, lock, deadline, bus_free;
	bool line; /* a waker starts all at once */
	struct sim_random random;
	uint32_t nm_ids; /* bit i: node i was heard with NM */
	int culprits[2], culprit_count;
	char situation[32];
	void (*emit)(void *to, int64_t at, uint32_t id, const uint8_t *data, int length);
	void *to;
};

void world_run(struct world *w);

/* situations.c */
extern const char *const world_situations[];
void world_lay(struct world *w, const char *situation, uint64_t seed);

#endif
