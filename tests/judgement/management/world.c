/* SPDX-License-Identifier: MIT */
#include "world.h"

#include <string.h>

#define FRAME (240 * MS / 1000)

static int64_t least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

static void application(struct sim_nm_bus *bus, int i, bool on)
{
	struct world *w = bus->owner;
	struct node *n = &w->nodes[i];

	for (int m = 0; m < n->message_count; m++)
		n->messages[m].due = on ? bus->now + sim_random_range(&w->random, 0,
								      n->messages[m].period / MS) *
							     MS / 4
					: SIM_NEVER;
}

static void wake(struct world *w, int i, bool active, int64_t after)
{
	struct node *n = &w->nodes[i];

	if (n->nm.state != SIM_ASLEEP)
		return;
	n->nm.state = SIM_STARTING;
	n->nm.active = active;
	n->t_start = w->bus.now + after;
}

static int64_t startup(struct world *w, const struct node *n)
{
	return n->startup + sim_random_range(&w->random, 0, 4000) * MS / 1000;
}

/* A frame on the bus: to the recording, and it wakes who sleeps. */
static void transmit(struct world *w, int from, uint32_t id, const uint8_t *data, int length)
{
	int64_t at = w->bus.now > w->bus_free ? w->bus.now : w->bus_free;

	w->bus_free = at + FRAME;
	if (sim_random_range(&w->random, 0, 999) >= w->loss_permille)
		w->emit(w->to, at, id | (w->extended ? UINT32_C(0x80000000) : 0), data, length);
	for (int i = 0; i < w->count; i++)
		if (i != from && !w->nodes[i].nm.partial)
			wake(w, i, false, startup(w, &w->nodes[i]));
}

static void send(struct sim_nm_bus *bus, int from, const uint8_t data[8])
{
	struct world *w = bus->owner;

	w->nm_ids |= 1u << from;
	transmit(w, from, w->nodes[from].nm_id, data, bus->config.length);
	for (int i = 0; i < w->count; i++)
		if (i != from && w->nodes[i].nm.partial && sim_nm_concerns(bus, i, data))
			wake(w, i, false, startup(w, &w->nodes[i]));
	for (int i = 0; i < w->count; i++)
		if (i != from)
			sim_nm_hear(bus, i, from, data);
}

/* A coordinator asks for as long as anybody else does. */
static bool others_want(const struct world *w, int i)
{
	for (int k = 0; k < w->count; k++)
		if (k != i && w->nodes[k].wants)
			return true;
	return false;
}

static void review(struct world *w, int i)
{
	struct node *n = &w->nodes[i];
	int64_t now = w->bus.now;
	bool wants = !n->nm.passive &&
		     (now < n->ready_at || (now >= n->need_from && now < n->need_until));

	if (n->nm.coordinates)
		wants = others_want(w, i);
	if (wants == n->wants)
		return;
	n->wants = wants;
	sim_nm_wish(&w->bus, i, wants);
}

static void wake_itself(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	n->next_wake = w->bus.now + n->wake_interval +
		       sim_random_range(&w->random, 0, n->wake_interval / MS / 8) * MS;
	n->need_from = w->bus.now;
	n->need_until = w->bus.now + n->wake_hold;
	review(w, i);
	if (n->nm.state != SIM_ASLEEP)
		return;
	n->wakes++;
	if (w->line)
		for (int k = 0; k < w->count; k++)
			wake(w, k, k == i, startup(w, &w->nodes[k]));
	else
		wake(w, i, true, MS);
}

static void send_messages(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	for (int m = 0; m < n->message_count; m++) {
		struct message *message = &n->messages[m];
		if (w->bus.now < message->due)
			continue;
		if (message->counts)
			message->data[message->length - 1]++;
		message->due = w->bus.now + message->period +
			       sim_random_range(&w->random, 0, 900) * MS / 1000;
		if (n->nm.state != SIM_BUS_OFF)
			transmit(w, i, message->id, message->data, message->length);
	}
}

static void power(struct world *w, int i, bool on)
{
	struct node *n = &w->nodes[i];

	sim_nm_stop_timers(&n->nm);
	sim_nm_application(&w->bus, i, false);
	n->nm.t_decide = n->t_start = SIM_NEVER;
	n->nm.state = on ? SIM_ASLEEP : SIM_OFF;
	if (on)
		wake(w, i, false, startup(w, n));
}

static bool is_due(const struct world *w, int64_t *when)
{
	if (w->bus.now < *when)
		return false;
	*when = SIM_NEVER;
	return true;
}

static void due(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (is_due(w, &n->crash_at))
		power(w, i, false);
	if (is_due(w, &n->boot_at))
		power(w, i, true);
	if (n->nm.state == SIM_OFF)
		return;
	if (is_due(w, &n->bus_off_at))
		sim_nm_bus_off(&w->bus, i);
	if (w->bus.now >= n->next_wake)
		wake_itself(w, i);
	if (n->nm.state == SIM_STARTING && is_due(w, &n->t_start))
		sim_nm_start(&w->bus, i, n->nm.active);
	if (sim_nm_next(&n->nm) <= w->bus.now)
		sim_nm_due(&w->bus, i);
	send_messages(w, i);
}

static int64_t later(const struct world *w, int64_t t)
{
	return t > w->bus.now ? t : SIM_NEVER;
}

static int64_t next(const struct world *w, const struct node *n)
{
	int64_t t = least(n->crash_at, n->boot_at);

	if (n->nm.state == SIM_OFF)
		return t;
	t = least(t, least(n->bus_off_at, n->next_wake));
	t = least(t, least(later(w, n->ready_at), later(w, n->need_until)));
	t = least(t, n->t_start);
	if (sim_state_awake(n->nm.state))
		t = least(t, sim_nm_next(&n->nm));
	for (int m = 0; n->nm.application && m < n->message_count; m++)
		t = least(t, n->messages[m].due);
	return t;
}

static void begin(struct world *w)
{
	w->bus.random = &w->random;
	w->bus.send = send;
	w->bus.application = application;
	w->bus.owner = w;
	w->bus.count = w->count;
	for (int i = 0; i < w->count; i++) {
		struct node *n = &w->nodes[i];
		w->bus.nodes[i] = &n->nm;
		n->wants = n->nm.wants = !n->nm.passive && n->ready_at > 0;
	}
	for (int i = 0; i < w->count; i++)
		power(w, i, w->nodes[i].boot_at == SIM_NEVER);
}

void world_run(struct world *w)
{
	begin(w);
	for (;;) {
		int64_t t = SIM_NEVER;
		for (int i = 0; i < w->count; i++)
			t = least(t, next(w, &w->nodes[i]));
		if (t > w->end)
			break;
		w->bus.now = t > w->bus.now ? t : w->bus.now;
		for (int i = 0; i < w->count; i++)
			review(w, i);
		for (int i = 0; i < w->count; i++)
			if (next(w, &w->nodes[i]) <= w->bus.now)
				due(w, i);
	}
	w->bus.now = w->end;
}
