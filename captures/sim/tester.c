/* SPDX-License-Identifier: MIT */
/* A diagnostic tester (or a plugged-in dongle) and those who answer it.
 * Requests 7DF, 7E0+ and 18DB33F1, 18DAxxF1; tester present 3E 00 or, without
 * an answer, 3E 80; every S3-client time of 2 s; the session lasts S3-server,
 * 5 s (ISO 14229 as quoted by public tables). */
#include "bus.h"
#include "node.h"
#include "run.h"

#define S3_SERVER (5 * SIM_S)

static uint32_t request_id(const struct sim_tester *tester)
{
	if (tester->id)
		return tester->id;
	if (tester->extended)
		return NOD_ID_EXTENDED | (tester->physical ? 0x18DA10F1 : 0x18DB33F1);
	return tester->physical ? 0x7E0 : 0x7DF;
}

static void answer(struct sim *sim, const uint8_t *data)
{
	const struct sim_tester *tester = &sim->tester;
	uint32_t id = tester->extended ? NOD_ID_EXTENDED | 0x18DAF110 : 0x7E8;

	if (tester->answering < 0 || !sim_state_awake(sim->nodes[tester->answering].state))
		return;
	/* A few ms later in truth; the bus is kept for that long at most once a
	 * request, which nobody notices. */
	sim->networks[tester->network].free_at = sim->now +
						 sim_random_range(&sim->detail, 4, 25) * SIM_MS;
	sim_bus_send(sim, tester->network, tester->answering, id, data, 8);
}

void sim_tester_timer(struct sim *sim, const struct sim_timer *timer)
{
	static const uint8_t present[8] = {0x02, 0x3E, 0x00}, quiet[8] = {0x02, 0x3E, 0x80};
	static const uint8_t presence[8] = {0x02, 0x7E, 0x00};
	static const uint8_t read[8] = {0x02, 0x01, 0x0C},
			     value[8] = {0x04, 0x41, 0x0C, 0x00, 0x00};
	const struct sim_tester *tester = &sim->tester;
	bool reads = sim_random_chance(&sim->detail, 15);

	(void)timer;
	if (!tester->on)
		return;
	reads &= tester->answering >= 0;
	sim_bus_send(sim, tester->network, SIM_NOBODY, request_id(tester),
		     reads              ? read
		     : tester->suppress ? quiet
					: present,
		     8);
	if (tester->answering >= 0)
		sim_module_need(sim, sim->nodes[tester->answering].module, sim->now + S3_SERVER);
	if (reads || !tester->suppress)
		answer(sim, reads ? value : presence);
	sim_set_timer(sim, tester->interval + sim_random_range(&sim->detail, -20, 20) * SIM_MS,
		      SIM_TIMER_TESTER, 0, 0);
}
