/* SPDX-License-Identifier: MIT */
/* What looks like something else: ordinary messages that resemble network management. */
#include "stage.h"

/* Above all IDs that are drawn, below those of diagnostics. */
#define STANDARD_BASE 0x700u
#define EXTENDED_BASE (NOD_ID_EXTENDED | 0x1B000000u)
#define ADDRESSES 0x20

#define CONTROL_BYTE 1
#define CONTROL_BIT (8 * CONTROL_BYTE + 4) /* where a ring has its sleep indication */
#define RING_MESSAGE 0x02

/* As long and as full as an NM message: an address, a byte with a bit that comes and goes. */
static void disguise(struct sim *sim, struct sim_message *m, int address, int next, bool ring)
{
	bool extended = sim->networks[sim->nodes[m->node].network].extended;

	m->id = (extended ? EXTENDED_BASE : STANDARD_BASE) + (uint32_t)address;
	m->rhythm = SIM_CYCLIC;
	m->period = m->period_parked = SIM_S;
	m->jitter = m->period / 100;
	m->payload = (struct sim_payload){.length = 8,
					  .counter_byte = SIM_NO_BYTE,
					  .checksum_byte = SIM_NO_BYTE,
					  .value_byte = SIM_NO_BYTE,
					  .toggle_bit = -1,
					  .flicker_bit = CONTROL_BIT,
					  .flicker_percent = 10};
	for (int i = 2; i < 8; i++)
		m->payload.data[i] = 0xFF;
	m->payload.data[0] = (uint8_t)(ring ? next : address);
	m->payload.data[CONTROL_BYTE] = ring ? RING_MESSAGE : 0;
	if (!sim_random_chance(&sim->course, 30))
		return;
	m->payload.value_byte = 4;
	m->payload.value_parked = true;
}

/* A holder on a network without management, whose units send what looks like NM. */
void sim_lay_nm_alike(struct sim *sim, int network)
{
	bool ring = sim_random_chance(&sim->course, 50);
	struct sim_message *found[ADDRESSES];
	int count = 0;

	sim_lay_holder(sim, network);
	sim->networks[network].management_given = false;
	for (int i = 0; i < sim->node_count && count < ADDRESSES; i++) {
		const struct sim_node *node = &sim->nodes[i];
		struct sim_message *m =
			&sim->messages[node->first_message + node->message_count - 1];
		if (node->network == network && m->period && m->forward < 0 &&
		    sim_random_chance(&sim->course, 70))
			found[count++] = m;
	}
	for (int i = 0; i < count; i++)
		disguise(sim, found[i], i + 1, (i + 1) % count + 1, ring);
	sim_stage_note(sim, "%d ordinary messages look like %s", count,
		       ring ? "those of a ring" : "NM PDUs");
}
