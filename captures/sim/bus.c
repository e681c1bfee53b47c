/* SPDX-License-Identifier: MIT */
#include "bus.h"

#include "node.h"
#include "recorder.h"

/* Bits of a data frame with interframe space and about as many stuff bits as
 * an everyday payload needs (one in ten). */
static int64_t frame_time(const struct sim_network *net, uint32_t id, unsigned length)
{
	int64_t bits = (id & NOD_ID_EXTENDED ? 67 : 47) + 8 * (int64_t)length;

	return (bits + bits / 10) * SIM_S / net->bitrate;
}

static void note_span(struct sim_network *net, int64_t at, bool silent, int module, bool recorded)
{
	if ((silent && net->span_count < SIM_SPANS) || !net->span_count)
		net->spans[net->span_count++] = (struct sim_span){
			.from = at, .first_module = module, .first_recorded = -2};
	struct sim_span *span = &net->spans[net->span_count - 1];
	span->to = at;
	if (recorded && span->first_recorded == -2)
		span->first_recorded = module;
}

static void wake_sleepers(struct sim *sim, int network, int sender, bool rouses)
{
	const struct sim_network *net = &sim->networks[network];
	bool managed = net->scheme == NOD_NM_AUTOSAR || net->scheme == NOD_NM_OSEK;

	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		if (i == sender || node->network != network || node->state != SIM_ASLEEP)
			continue;
		if (node->wake_on_bus && !node->partial && (managed || rouses))
			sim_node_wake(sim, i, false);
	}
}

void sim_bus_send(struct sim *sim, int network, int node, uint32_t id, const uint8_t *data,
		  unsigned length)
{
	struct sim_network *net = &sim->networks[network];
	bool silent = sim->now - net->last_frame > SIM_SPAN_QUIET;
	int module = node < 0 ? SIM_NOBODY : sim->nodes[node].module;
	int64_t start = net->free_at > sim->now ? net->free_at : sim->now;
	int64_t at = start + frame_time(net, id, length);

	bool rouses = sim->now - net->last_frame >
		      (net->rouse_after ? net->rouse_after : SIM_SPAN_QUIET);

	net->free_at = at;
	net->last_frame = sim->now;
	if (node >= 0)
		sim->nodes[node].last_sent = sim->now;
	bool recorded = sim_recorder_frame(sim, network, at, id, data, length);
	if (recorded)
		net->last_recorded = at;
	note_span(net, at, silent, module, recorded);
	if (net->asleep > 0)
		wake_sleepers(sim, network, node, rouses);
}
