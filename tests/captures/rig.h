/* SPDX-License-Identifier: MIT */
/* A simulated network put together by hand, for tests of the simulation. */
#ifndef RIG_H
#define RIG_H

#include <stdlib.h>

#include "sim/bus.h"
#include "sim/node.h"
#include "sim/run.h"

#define RIG_BASE 0x500u
#define RIG_APPLICATION 0x200u

/* One frame as the recorder took it, simulation time. */
struct rig_frame {
	int64_t at;
	uint32_t id;
	uint8_t data[8];
};

struct rig {
	struct sim sim;
	struct rig_frame frames[4096];
	size_t count;
};

/* `nodes` modules of one node each on one network; each sends an application
 * frame every 100 ms. The caller sets scheme and timers, then rig_begin(). */
static inline struct rig *rig_new(int nodes)
{
	struct rig *rig = calloc(1, sizeof(*rig));
	struct sim *sim = &rig->sim;

	if (!rig)
		abort();
	for (uint64_t i = 0; i < 4; i++)
		sim_random_seed((struct sim_random *[]){&sim->invent, &sim->course, &sim->detail,
							&sim->faulty}[i],
				1, i);
	sim->gateway = -1;
	sim->network_count = 1;
	sim->networks[0] = (struct sim_network){.bitrate = 500000,
						.nm_base = RIG_BASE,
						.node_byte = 0,
						.control_byte = 1,
						.partial_first = -1,
						.master = -1,
						.fill = 0xFF,
						.nm_length = 8,
						.last_frame = INT64_MIN / 4};
	sim->recorder.stop = 3600 * SIM_S;
	for (int i = 0; i < nodes; i++) {
		sim->modules[i] = (struct sim_module){.name = "unit",
						      .fuses = {-1, -1},
						      .powered = true,
						      .first_node = i,
						      .node_count = 1};
		sim->nodes[i] = (struct sim_node){.module = i,
						  .network = 0,
						  .startup = 50 * SIM_MS,
						  .address = (uint8_t)(0x10 + i),
						  .producers = {-1, -1},
						  .wake_on_bus = true,
						  .run_time = 10 * SIM_S,
						  .follow_timeout = 2 * SIM_S,
						  .first_message = i,
						  .message_count = 1};
		sim_nm_init(&sim->nodes[i].nm);
		sim->messages[i] = (struct sim_message){.id = RIG_APPLICATION + (uint32_t)i,
							.node = i,
							.period = 100 * SIM_MS,
							.period_parked = 100 * SIM_MS,
							.forward = -1,
							.payload = {.length = 8,
								    .counter_byte = -1,
								    .checksum_byte = -1,
								    .value_byte = -1,
								    .toggle_bit = -1}};
	}
	sim->module_count = sim->node_count = sim->message_count = nodes;
	return rig;
}

static inline void rig_begin(struct rig *rig)
{
	sim_begin(&rig->sim);
}

static inline void rig_collect(struct rig *rig)
{
	struct sim_queue *queue = &rig->sim.recorder.events;

	for (size_t i = queue->first; i < queue->used; i++) {
		const struct nod_event *event = &queue->items[i].event;
		if (event->kind != NOD_EVENT_FRAME || rig->count == 4096)
			continue;
		struct rig_frame *frame = &rig->frames[rig->count++];
		frame->at = queue->items[i].at;
		frame->id = event->frame.id;
		for (int k = 0; k < 8; k++)
			frame->data[k] = event->frame.data[k];
	}
	queue->first = queue->used = 0;
}

/* Lets it run until that time. */
static inline void rig_run(struct rig *rig, int64_t until)
{
	struct sim *sim = &rig->sim;

	while (sim->timers.used && sim->timers.heap[0].at <= until && sim_step(sim))
		rig_collect(rig);
	sim->now = until;
}

static inline bool rig_is_nm(const struct rig_frame *frame)
{
	return frame->id >= RIG_BASE && frame->id < RIG_BASE + 0x40;
}

/* The last frame of a kind not later than `until`; -1: none. */
static inline int64_t rig_last(const struct rig *rig, bool nm, int64_t until)
{
	int64_t at = -1;

	for (size_t i = 0; i < rig->count; i++)
		if (rig_is_nm(&rig->frames[i]) == nm && rig->frames[i].at <= until)
			at = rig->frames[i].at;
	return at;
}

static inline void rig_free(struct rig *rig)
{
	sim_free(&rig->sim);
	free(rig);
}

#endif
