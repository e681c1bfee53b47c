/* SPDX-License-Identifier: MIT */
/* AUTOSAR CanNm by the published state table (Repeat Message, Normal Operation,
 * Ready Sleep, Prepare Bus-Sleep, Bus-Sleep) and control bits of release 4.1.
 * From memory of the standard: bus-load reduction, immediate transmission after
 * an active wake-up, NM-Timeout stopped while sending is disabled. */
#include <string.h>

#include "world.h"

static void enter_repeat(struct world *w, int i)
{
	struct node *n = &w->nodes[i];
	const struct config *c = &w->config;
	bool quick = n->active && c->immediate;

	n->state = REPEAT;
	n->immediate_left = quick ? c->immediate - 1 : 0;
	n->t_send = w->now + (quick ? 0 : sim_random_range(&w->random, 0, c->cycle / MS / 2) * MS);
	n->t_repeat = w->now + c->repeat;
	n->t_timeout = w->now + c->timeout;
	n->t_wait = NEVER;
	if (!n->app)
		n->t_app = w->now + sim_random_range(&w->random, 5, 60) * MS;
}

void cannm_start(struct world *w, int i, bool active)
{
	w->nodes[i].active = active;
	enter_repeat(w, i);
}

static bool muted(const struct world *w, const struct node *n)
{
	return n->passive || w->now >= n->mute_from || dead(w, n);
}

static void send_pdu(struct world *w, int i)
{
	struct node *n = &w->nodes[i];
	const struct config *c = &w->config;
	uint8_t data[8], control = 0;

	memset(data, c->fill, sizeof(data));
	if (n->active && c->active_bit)
		control |= 0x10;
	if (n->active && n->state == REPEAT && c->repeat_request)
		control |= 0x01;
	if (c->partial_first >= 0) {
		control |= 0x40;
		data[c->partial_first] = n->wants ? (uint8_t)(1 << i % 8) : 0;
		data[c->partial_first + 1] = 0;
	}
	if (c->node_byte >= 0)
		data[c->node_byte] = n->address;
	if (c->control_byte >= 0)
		data[c->control_byte] = control;
	n->t_timeout = w->now + c->timeout;
	world_send(w, i, c->base + n->address, data, c->length, true);
}

void cannm_hear(struct world *w, int i, uint8_t control)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n))
		return;
	if (n->state == PREPARE) {
		n->active = false;
		enter_repeat(w, i);
		return;
	}
	if (n->state < REPEAT || n->state > READY)
		return;
	n->t_timeout = w->now + w->config.timeout;
	if (w->config.control_byte >= 0 && control & 1 && n->state != REPEAT)
		enter_repeat(w, i);
	else if (w->config.reduction && n->state == NORMAL)
		n->t_send = w->now + w->config.cycle * (55 + 5 * i) / 100;
}

void cannm_wish(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n))
		return;
	if (n->wants && n->state == PREPARE) {
		n->active = true;
		enter_repeat(w, i);
	} else if (n->wants && n->state == READY) {
		n->state = NORMAL;
		n->t_send = w->now;
	} else if (!n->wants && n->state == NORMAL) {
		n->state = READY;
		n->t_send = NEVER;
	}
}

static void time_out(struct world *w, struct node *n)
{
	if (n->state != READY || w->now >= n->mute_from) { /* while muted, it stands still */
		n->t_timeout = w->now + w->config.timeout;
		return;
	}
	n->state = PREPARE;
	n->active = false;
	n->t_send = n->t_timeout = NEVER;
	n->t_wait = w->now + w->config.wait;
	world_application(w, n, false);
}

void cannm_due(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n)) {
		n->t_send = n->t_repeat = n->t_timeout = n->t_wait = NEVER;
		return;
	}
	if (w->now >= n->t_repeat) {
		n->t_repeat = NEVER;
		n->state = n->wants ? NORMAL : READY;
		if (!n->wants)
			n->t_send = NEVER;
	}
	if (w->now >= n->t_send) {
		bool quick = n->immediate_left > 0;
		n->immediate_left -= quick;
		n->t_send = w->now + (quick ? w->config.immediate_cycle : w->config.cycle) +
			    sim_random_range(&w->random, 0, 300) * MS / 1000;
		if (!muted(w, n))
			send_pdu(w, i);
	}
	if (w->now >= n->t_timeout)
		time_out(w, n);
	if (w->now >= n->t_wait) {
		n->t_wait = NEVER;
		n->state = ASLEEP;
	}
}

int64_t cannm_next(const struct node *n)
{
	return least(least(n->t_send, n->t_repeat), least(n->t_timeout, n->t_wait));
}
