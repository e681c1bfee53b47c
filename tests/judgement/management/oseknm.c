/* SPDX-License-Identifier: MIT */
/* OSEK/VDX direct NM, one machine a node. Opcodes, timers and the way to sleep
 * as published (see osek-nm.h); the order of states, limp home and what a ring
 * message for others does are from memory of version 2.5.3. */
#include <string.h>

#include "world.h"

enum { ALIVE = 1, RINGED = 2, LIMPS = 4, INDICATION = 0x10, ACKNOWLEDGE = 0x20 };

static bool indicates(const struct node *n)
{
	return n->ready_said;
}

static void say(struct world *w, int i, int to, unsigned opcode)
{
	uint8_t data[8];

	memset(data, w->config.fill, sizeof(data));
	data[0] = w->nodes[to].address;
	data[1] = (uint8_t)opcode;
	world_send(w, i, w->config.base + w->nodes[i].address, data, w->config.length, true);
}

static void stop_timers(struct node *n)
{
	n->t_typ = n->t_max = n->t_error = n->t_wait = n->t_send = NEVER;
}

static void limp(struct world *w, struct node *n)
{
	stop_timers(n);
	n->state = LIMP;
	n->t_error = w->now + w->config.error;
}

static void reset(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	stop_timers(n);
	n->members = (uint16_t)(1u << i);
	n->limpers = 0;
	n->all_ready = false;
	if (++n->rx_count > w->config.rx_limit) {
		limp(w, n);
		return;
	}
	n->state = RING;
	n->t_send = w->now + sim_random_range(&w->random, 0, 8) * MS;
	if (!n->app)
		n->t_app = w->now + sim_random_range(&w->random, 5, 60) * MS;
}

void oseknm_start(struct world *w, int i)
{
	w->nodes[i].rx_count = 0;
	reset(w, i);
}

/* A wish is told to the management at once; that there is none any more, after
 * the time in which the application decides. */
void oseknm_wish(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n))
		return;
	n->t_decide = NEVER;
	if (!n->wants) {
		n->ready_said = true;
		return;
	}
	n->ready_said = false;
	if (n->state == TWBS)
		reset(w, i);
	else if (n->state == RING_READY)
		n->state = RING;
	else if (n->state == LIMP_TWBS || n->state == LIMP_READY)
		limp(w, n);
}

static int successor(const struct world *w, int i)
{
	for (int step = 1; step <= w->count; step++) {
		int k = (i + step) % w->count;
		if (w->nodes[i].members >> k & 1)
			return k;
	}
	return i;
}

/* Whether i stands between from and to in the ring's order. */
static bool skipped(int i, int from, int to)
{
	return from < to ? i > from && i < to : i > from || i < to;
}

static void go_offline(struct world *w, struct node *n, enum state state)
{
	stop_timers(n);
	n->state = state;
	n->t_wait = w->now + w->config.twbs;
	world_application(w, n, false);
}

static void hear_ring(struct world *w, int i, int from, uint8_t destination, uint8_t opcode)
{
	struct node *n = &w->nodes[i];

	n->t_typ = n->t_max = NEVER;
	if (opcode & ACKNOWLEDGE && indicates(n) && n->state == RING_READY) {
		go_offline(w, n, TWBS);
		return;
	}
	if (destination == n->address || destination == w->nodes[from].address) {
		n->t_typ = w->now + w->config.typ;
		return;
	}
	for (int to = 0; to < w->count; to++)
		if (w->nodes[to].address == destination && skipped(i, from, to))
			say(w, i, i,
			    ALIVE | (indicates(n) && w->config.alive_indicates ? INDICATION : 0));
	n->t_max = w->now + w->config.max;
}

void oseknm_hear(struct world *w, int i, int from, uint8_t destination, uint8_t opcode)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n) || n->state < RING || n->state == BUS_OFF)
		return;
	bool wanted = !(opcode & INDICATION);
	n->rx_count = 0;
	if (n->state == TWBS || n->state == LIMP_TWBS) {
		if (wanted)
			reset(w, i);
		return;
	}
	if (n->state == LIMP || n->state == LIMP_READY) {
		reset(w, i);
		return;
	}
	if (wanted && n->state == RING_READY)
		n->state = RING;
	if (wanted)
		n->all_ready = false;
	if (opcode & LIMPS) {
		n->limpers |= (uint16_t)(1u << from);
		return;
	}
	n->members |= (uint16_t)(1u << from);
	if (opcode & RINGED)
		hear_ring(w, i, from, destination, opcode);
}

static void turn(struct world *w, int i)
{
	struct node *n = &w->nodes[i];
	unsigned opcode = RINGED | (indicates(n) ? INDICATION : 0);

	n->t_typ = NEVER;
	n->t_max = w->now + w->config.max;
	if (indicates(n) && n->state == RING_READY) { /* a whole turn, and all indicated */
		say(w, i, successor(w, i), opcode | ACKNOWLEDGE);
		go_offline(w, n, TWBS);
		return;
	}
	if (indicates(n))
		n->state = RING_READY;
	int to = successor(w, i);
	say(w, i, to, opcode);
	if (to == i) { /* alone: it hands the ring to itself */
		n->t_max = NEVER;
		n->t_max = w->now + w->config.max;
	}
}

static void error_due(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (n->state == BUS_OFF) {
		limp(w, n);
		return;
	}
	say(w, i, i, LIMPS | (indicates(n) ? INDICATION : 0));
	if (!n->app)
		world_application(w, n, true);
	n->t_error = NEVER;
	if (indicates(n)) {
		n->state = LIMP_READY;
		n->t_max = w->now + w->config.max;
	} else {
		n->t_error = w->now + w->config.error;
	}
}

static void wait_due(struct world *w, int i)
{
	stop_timers(&w->nodes[i]);
	w->nodes[i].state = ASLEEP;
}

void oseknm_bus_off(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (n->state < RING)
		return;
	stop_timers(n);
	n->state = BUS_OFF;
	n->t_error = w->now + sim_random_range(&w->random, 50, 800) * MS;
}

void oseknm_due(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (dead(w, n)) {
		stop_timers(n);
		n->t_decide = NEVER;
		return;
	}
	if (w->now >= n->t_decide) {
		n->t_decide = NEVER;
		n->ready_said = !n->wants;
	}
	if (w->now >= n->t_send) {
		n->t_send = NEVER;
		say(w, i, i, ALIVE | (indicates(n) && w->config.alive_indicates ? INDICATION : 0));
		n->t_typ = w->now + w->config.typ;
	} else if (w->now >= n->t_typ) {
		turn(w, i);
	} else if (w->now >= n->t_max) {
		if (n->state == LIMP_READY)
			go_offline(w, n, LIMP_TWBS);
		else
			reset(w, i);
	} else if (w->now >= n->t_error) {
		error_due(w, i);
	} else if (w->now >= n->t_wait) {
		wait_due(w, i);
	}
}

int64_t oseknm_next(const struct node *n)
{
	return least(least(least(n->t_send, n->t_typ), least(n->t_max, n->t_error)),
		     least(n->t_wait, n->t_decide));
}
