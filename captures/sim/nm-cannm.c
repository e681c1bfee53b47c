/* SPDX-License-Identifier: MIT */
/* AUTOSAR CanNm by the published state table (SWS CanNm, chapter 7.3: Repeat Message, Normal
 * Operation, Ready Sleep, Prepare Bus-Sleep, Bus-Sleep) and control bits of release 4.1
 * (SWS_CanNm_00045). From memory of the standard: bus-load reduction (7.7), immediate
 * transmission after an active wake-up (7.3.1), NM-Timeout that stands still while sending is
 * disabled by communication control (7.12; an open CanNm manual says so, too), passive mode
 * (7.11). */
#include <string.h>

#include "nm.h"

#define REPEAT_REQUEST 0x01
#define SLEEP_READY 0x08
#define ACTIVE_WAKEUP 0x10
#define PARTIAL_INFO 0x40

static int64_t timeout_of(const struct sim_nm_bus *bus, const struct sim_nm *nm)
{
	return bus->config.timeout + nm->later;
}

static void enter_repeat(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];
	const struct sim_nm_config *c = &bus->config;
	bool quick = nm->active && c->immediate;
	int64_t half = c->cycle / NOD_NS_PER_MS / 2;

	nm->state = SIM_REPEAT;
	nm->immediate_left = quick ? c->immediate - 1 : 0;
	nm->t_send = bus->now +
		     (nm->active ? 0 : sim_random_range(bus->random, 0, half) * NOD_NS_PER_MS);
	nm->t_repeat = sim_nm_after(bus, c->repeat);
	nm->t_timeout = bus->now + timeout_of(bus, nm);
	nm->t_wait = SIM_NEVER;
	sim_nm_application(bus, i, true);
}

static bool is_muted(const struct sim_nm_bus *bus, const struct sim_nm *nm)
{
	return nm->passive || bus->now >= nm->mute_from;
}

/* A coordinator keeps its networks awake as long as anybody asks for one of them
 * (SWS Nm, coordinated shutdown), and says so when nobody does. */
static uint8_t control_of(const struct sim_nm_bus *bus, const struct sim_nm *nm)
{
	const struct sim_nm_config *c = &bus->config;
	uint8_t control = nm->control;

	if (nm->active && c->active_bit)
		control |= ACTIVE_WAKEUP;
	if (nm->active && nm->state == SIM_REPEAT && c->repeat_request)
		control |= REPEAT_REQUEST;
	if (nm->coordinates && !nm->wants)
		control |= SLEEP_READY;
	return control | (c->partial_first >= 0 ? PARTIAL_INFO : 0);
}

static void send_pdu(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];
	const struct sim_nm_config *c = &bus->config;
	uint8_t data[8];

	memset(data, c->fill, sizeof(data));
	if (c->moves)
		data[c->length - 1] = nm->moving++ >> 2;
	if (c->partial_first >= 0) {
		data[c->partial_first] = (uint8_t)(nm->wants ? nm->asks : 0);
		data[c->partial_first + 1] = (uint8_t)(nm->wants ? nm->asks >> 8 : 0);
	}
	if (c->node_byte >= 0)
		data[c->node_byte] = nm->address;
	if (c->control_byte >= 0)
		data[c->control_byte] = control_of(bus, nm);
	nm->t_timeout = bus->now + timeout_of(bus, nm); /* by the confirmation of its own */
	bus->send(bus, i, data);
}

static void hear(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8])
{
	struct sim_nm *nm = bus->nodes[i];
	const struct sim_nm_config *c = &bus->config;

	(void)from;
	if (nm->state == SIM_PREPARE) {
		nm->active = false;
		enter_repeat(bus, i);
		return;
	}
	nm->t_timeout = bus->now + timeout_of(bus, nm);
	if (c->control_byte >= 0 && data[c->control_byte] & REPEAT_REQUEST &&
	    nm->state != SIM_REPEAT)
		enter_repeat(bus, i);
	else if (c->reduction && nm->state == SIM_NORMAL)
		nm->t_send = bus->now + c->cycle * (55 + 5 * (i % 8)) / 100;
}

static void wish(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (nm->wants && nm->state == SIM_PREPARE) {
		nm->active = true;
		enter_repeat(bus, i);
	} else if (nm->wants && nm->state == SIM_READY) {
		nm->state = SIM_NORMAL;
		nm->t_send = bus->now;
	} else if (!nm->wants && nm->state == SIM_NORMAL) {
		nm->state = SIM_READY;
		nm->t_send = SIM_NEVER;
	}
}

static void time_out(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (nm->state != SIM_READY || bus->now >= nm->mute_from) { /* muted: it stands still */
		nm->t_timeout = bus->now + timeout_of(bus, nm);
		return;
	}
	nm->state = SIM_PREPARE;
	nm->active = false;
	nm->t_send = nm->t_timeout = SIM_NEVER;
	nm->t_wait = sim_nm_after(bus, bus->config.wait);
	sim_nm_application(bus, i, false);
}

static void repeated_enough(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	nm->t_repeat = SIM_NEVER;
	nm->state = nm->wants ? SIM_NORMAL : SIM_READY;
	if (nm->wants)
		return;
	nm->t_send = SIM_NEVER;
	if (nm->lets_go)
		sim_nm_application(bus, i, false);
}

static void due(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (bus->now >= nm->t_repeat)
		repeated_enough(bus, i);
	if (bus->now >= nm->t_send) {
		bool quick = nm->immediate_left > 0;
		nm->immediate_left -= quick;
		nm->t_send = sim_nm_after(bus,
					  quick ? bus->config.immediate_cycle : bus->config.cycle);
		if (!is_muted(bus, nm))
			send_pdu(bus, i);
	}
	if (bus->now >= nm->t_timeout)
		time_out(bus, i);
	if (bus->now >= nm->t_wait) {
		nm->t_wait = SIM_NEVER;
		nm->state = SIM_ASLEEP;
	}
}

const struct sim_nm_machine sim_nm_cannm = {enter_repeat, wish, hear, due};
