/* SPDX-License-Identifier: MIT */
#include "world.h"

#include <string.h>

#define FRAME (240 * MS / 1000)

static bool awake(const struct node *n)
{
	return n->state > STARTING;
}

void world_application(struct world *w, struct node *n, bool on)
{
	n->app = on;
	n->t_app = NEVER;
	for (int m = 0; m < n->message_count; m++)
		n->messages[m].due = on ? w->now + sim_random_range(&w->random, 0,
								    n->messages[m].period / MS) *
							     MS / 4
					: NEVER;
}

static void boot(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	n->ready_said = !n->wants && !w->config.decide;
	n->t_decide = !n->wants && w->config.decide ? w->now + w->config.decide : NEVER;
	if (dead(w, n)) {
		n->state = NORMAL;
		world_application(w, n, true);
	} else if (w->config.scheme == CANNM) {
		cannm_start(w, i, n->active);
	} else {
		oseknm_start(w, i);
	}
}

static void wake(struct world *w, int i, bool active, int64_t after)
{
	struct node *n = &w->nodes[i];

	if (!n->powered || n->state != ASLEEP)
		return;
	n->state = STARTING;
	n->active = active;
	n->t_start = w->now + after;
}

static int64_t startup(struct world *w, const struct node *n)
{
	return n->startup + sim_random_range(&w->random, 0, 4000) * MS / 1000;
}

void world_send(struct world *w, int from, uint32_t id, const uint8_t *data, int length, bool nm)
{
	const struct config *c = &w->config;
	int64_t at = w->now > w->bus_free ? w->now : w->bus_free;

	w->bus_free = at + FRAME;
	if (nm)
		w->nm_ids |= 1u << from;
	w->emit(w->to, at, id | (c->extended ? UINT32_C(0x80000000) : 0), data, length);
	for (int i = 0; i < w->count; i++) {
		struct node *n = &w->nodes[i];
		if (i == from || !n->powered)
			continue;
		if (n->state == ASLEEP)
			wake(w, i, false, startup(w, n));
		else if (nm && !deaf(w, n) && c->scheme == CANNM)
			cannm_hear(w, i, c->control_byte >= 0 ? data[c->control_byte] : 0);
		else if (nm && !deaf(w, n))
			oseknm_hear(w, i, from, data[0], data[1]);
	}
}

static void review(struct world *w, int i)
{
	struct node *n = &w->nodes[i];
	bool wants = !n->passive &&
		     (w->now < n->ready_at || (w->now >= n->need_from && w->now < n->need_until));

	if (wants == n->wants)
		return;
	n->wants = wants;
	if (!awake(n))
		return;
	if (w->config.scheme == CANNM)
		cannm_wish(w, i);
	else
		oseknm_wish(w, i);
}

static void wake_itself(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	n->next_wake = w->now + n->wake_interval +
		       sim_random_range(&w->random, 0, n->wake_interval / MS / 8) * MS;
	n->need_from = w->now;
	n->need_until = w->now + n->wake_hold;
	review(w, i);
	if (n->state != ASLEEP)
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
		if (w->now < message->due)
			continue;
		if (message->counts)
			message->data[message->length - 1]++;
		message->due = w->now + message->period +
			       sim_random_range(&w->random, 0, 900) * MS / 1000;
		if (n->state != BUS_OFF)
			world_send(w, i, message->id, message->data, message->length, false);
	}
}

static void power(struct world *w, int i, bool on)
{
	struct node *n = &w->nodes[i];

	n->powered = on;
	n->t_send = n->t_repeat = n->t_timeout = n->t_wait = n->t_app = n->t_decide = NEVER;
	n->t_typ = n->t_max = n->t_error = n->t_start = NEVER;
	world_application(w, n, false);
	n->state = ASLEEP;
	if (on)
		wake(w, i, false, startup(w, n));
}

static void due(struct world *w, int i)
{
	struct node *n = &w->nodes[i];

	if (w->now >= n->crash_at) {
		n->crash_at = NEVER;
		power(w, i, false);
	}
	if (w->now >= n->boot_at) {
		n->boot_at = NEVER;
		power(w, i, true);
	}
	if (!n->powered)
		return;
	if (w->now >= n->bus_off_at) {
		n->bus_off_at = NEVER;
		oseknm_bus_off(w, i);
	}
	if (w->now >= n->next_wake)
		wake_itself(w, i);
	review(w, i);
	if (n->state == STARTING && w->now >= n->t_start) {
		n->t_start = NEVER;
		boot(w, i);
	}
	if (w->now >= n->t_app)
		world_application(w, n, true);
	if (awake(n) && w->config.scheme == CANNM)
		cannm_due(w, i);
	else if (awake(n))
		oseknm_due(w, i);
	send_messages(w, i);
}

static int64_t later(const struct world *w, int64_t t)
{
	return t > w->now ? t : NEVER;
}

static int64_t next(const struct world *w, const struct node *n)
{
	int64_t t = least(least(n->crash_at, n->boot_at), NEVER);

	if (!n->powered)
		return t;
	t = least(t, least(n->bus_off_at, n->next_wake));
	t = least(t, least(later(w, n->ready_at), later(w, n->need_until)));
	t = least(t, least(n->t_start, n->t_app));
	if (awake(n))
		t = least(t, w->config.scheme == CANNM ? cannm_next(n) : oseknm_next(n));
	for (int m = 0; n->app && m < n->message_count; m++)
		t = least(t, n->messages[m].due);
	return t;
}

void world_run(struct world *w)
{
	for (int i = 0; i < w->count; i++) {
		struct node *n = &w->nodes[i];
		n->wants = !n->passive && n->ready_at > 0;
		power(w, i, n->boot_at == NEVER);
	}
	for (;;) {
		int64_t t = NEVER;
		for (int i = 0; i < w->count; i++)
			t = least(t, next(w, &w->nodes[i]));
		if (t > w->end)
			break;
		w->now = t > w->now ? t : w->now;
		for (int i = 0; i < w->count; i++)
			if (next(w, &w->nodes[i]) <= w->now)
				due(w, i);
	}
	w->now = w->end;
}
