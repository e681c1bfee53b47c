/* SPDX-License-Identifier: MIT */
/* What can happen on such a network. */
#include <stdio.h>
#include <string.h>

#include "world.h"

const char *const world_situations[] = {
	"cannm holder",      "cannm-bare holder", "osek holder",
	"cannm coordinator", "cannm two",         "osek two",
	"cannm waker",       "cannm-bare waker",  "osek waker",
	"cannm line-waker",  "osek line-waker",   "osek limp-holder",
	"osek limp-beside",  "osek bus-off",      "cannm hung",
	"cannm-bare hung",   "cannm dead",        "osek dead",
	"cannm healthy",     "osek healthy",      NULL,
};

static int64_t pick(struct world *w, const int64_t *list, int count)
{
	return list[sim_random_range(&w->random, 0, count - 1)];
}

/* Example sets of published configurations, and around them. */
static void set_timers(struct world *w)
{
	struct sim_nm_config *c = &w->bus.config;
	static const int64_t cycles[] = {100, 200, 500, 500, 640, 1000, 1000, 2000};
	static const int64_t typs[] = {45, 100, 100, 200, 500, 1000};

	c->cycle = pick(w, cycles, 8) * MS;
	c->immediate = (int)pick(w, (int64_t[]){0, 5, 5, 10}, 4);
	c->immediate_cycle = pick(w, (int64_t[]){20, 20, 50, 100}, 4) * MS;
	c->repeat = c->cycle * sim_random_range(&w->random, 2, 4);
	if (c->repeat <= c->immediate * c->immediate_cycle)
		c->repeat += c->cycle;
	c->timeout = c->cycle * 2 + pick(w, (int64_t[]){0, 500, 1000}, 3) * MS;
	c->wait = pick(w, (int64_t[]){750, 1500, 2000, 5000}, 4) * MS;
	c->typ = pick(w, typs, 6) * MS;
	c->max = c->typ * pick(w, (int64_t[]){150, 260, 310}, 3) / 100;
	c->error = 1000 * MS;
	c->rx_limit = 4;
	c->decide = sim_random_chance(&w->random, 25) ? sim_random_range(&w->random, 50, 800) * MS
						      : 0;
	c->alive_indicates = sim_random_chance(&w->random, 15);
	c->first_application = sim_random_range(&w->random, 5, 60) * MS;
	c->tick = pick(w, (int64_t[]){0, 1, 5, 10, 20}, 5) * MS;
	c->tick = c->tick < c->typ / 5 ? c->tick : c->typ / 5;
	c->moves = sim_random_chance(&w->random, 20);
}

static void set_layout(struct world *w, bool bare)
{
	struct sim_nm_config *c = &w->bus.config;
	int kind = (int)sim_random_range(&w->random, 0, bare ? 2 : 1);

	w->base = (uint32_t)pick(w, (int64_t[]){0x400, 0x500, 0x600, 0x420, 0x5C0}, 5);
	w->extended = sim_random_chance(&w->random, 12);
	if (w->extended)
		w->base = (uint32_t)pick(w, (int64_t[]){0x18DA0500, 0x1B000000, 0x10400400}, 3);
	c->length = 8;
	c->fill = sim_random_chance(&w->random, 70) ? 0xFF : 0;
	c->node_byte = kind == 1;
	c->control_byte = kind != 1;
	if (bare) {
		c->node_byte = kind == 0 ? 0 : -1;
		c->control_byte = kind == 1 ? (int)sim_random_range(&w->random, 0, 1) : -1;
	}
	c->partial_first = c->control_byte >= 0 && sim_random_chance(&w->random, 20) ? 4 : -1;
	c->active_bit = sim_random_chance(&w->random, 60);
	c->repeat_request = sim_random_chance(&w->random, 30);
	c->reduction = sim_random_chance(&w->random, 15);
	w->base += sim_random_chance(&w->random, 8) ? 5 : 0;
	w->strange_numbers = !bare && c->scheme == NOD_NM_AUTOSAR &&
			     sim_random_chance(&w->random, 12);
}

static bool is_taken(const struct world *w, uint32_t id)
{
	if (id >= (w->base & 0x7FF) && id <= (w->base & 0x7FF) + 0xFF)
		return true;
	for (int i = 0; i < w->count; i++)
		for (int m = 0; m < w->nodes[i].message_count; m++)
			if ((w->nodes[i].messages[m].id & 0x7FF) == id)
				return true;
	return false;
}

static void set_messages(struct world *w, struct node *n)
{
	static const int64_t periods[] = {50, 100, 100, 200, 500, 1000};

	int count = (int)sim_random_range(&w->random, 1, 3);
	for (int m = 0; m < count; m++) {
		struct message *message = &n->messages[m];
		uint32_t id;
		do
			id = (uint32_t)sim_random_range(&w->random, 0x80, 0x6FF);
		while (is_taken(w, id));
		message->id = id;
		if (w->extended)
			message->id |= 0x0C000000;
		message->period = pick(w, periods, 6) * MS;
		message->length = (int)sim_random_range(&w->random, 2, 8);
		message->counts = sim_random_chance(&w->random, 40);
		message->due = SIM_NEVER;
		for (int b = 0; b < message->length; b++)
			message->data[b] = (uint8_t)(sim_random_chance(&w->random, 40)
							     ? 0
							     : sim_random_next(&w->random));
		n->message_count++;
	}
}

static void set_nodes(struct world *w)
{
	static const int steps[] = {1, 1, 2, 3, 16};
	int step = (int)sim_random_range(&w->random, 0, 4);
	int address = (int)sim_random_range(&w->random, 0, 0x10);
	bool quick = sim_random_chance(&w->random, 50);

	w->count = (int)sim_random_range(&w->random, 3, 7);
	for (int i = 0; i < w->count; i++) {
		struct node *n = &w->nodes[i];
		sim_nm_init(&n->nm);
		n->nm.address = (uint8_t)address;
		n->nm_id = w->base + (uint32_t)address;
		address += steps[step] == 1 || sim_random_chance(&w->random, 80) ? steps[step] : 1;
		n->nm.asks = (uint16_t)(1 << i % 3);
		n->startup = sim_random_range(&w->random, quick ? 1 : 10, quick ? 8 : 120) * MS;
		n->ready_at = w->lock + sim_random_range(&w->random, 3000, 25000) * MS;
		n->need_from = n->need_until = 0;
		n->crash_at = n->boot_at = n->bus_off_at = n->next_wake = SIM_NEVER;
		n->t_start = SIM_NEVER;
		snprintf(n->name, sizeof(n->name), "unit %c", 'a' + i);
		set_messages(w, n);
	}
}

/* In what stacks differ from each other, and units. */
static void set_ways(struct world *w, bool talks)
{
	int ways = (int)sim_random_range(&w->random, 0, 99);
	bool selective = sim_random_chance(&w->random, 50);

	w->loss_permille = sim_random_chance(&w->random, 12)
				   ? (int)sim_random_range(&w->random, 1, 10)
				   : 0;
	for (int i = 0; i < w->count; i++) {
		struct node *n = &w->nodes[i];
		if (w->bus.config.partial_first >= 0 && selective)
			n->nm.partial = n->nm.asks;
		if (w->strange_numbers)
			n->nm.address = (uint8_t)(0x60 + 7 * i);
		if (sim_random_chance(&w->random, 30))
			n->nm.later = sim_random_range(&w->random, 0, 800) * MS;
		n->nm.lets_go = ways < 20 && talks;
		if (ways >= 90 && talks) /* no application traffic at all */
			n->message_count = 0;
	}
}

static int blame(struct world *w)
{
	int i;

	do
		i = (int)sim_random_range(&w->random, 0, w->count - 1);
	while ((w->culprit_count && w->culprits[0] == i) || w->nodes[i].nm.passive);
	w->culprits[w->culprit_count++] = i;
	return i;
}

static int another(struct world *w)
{
	int i;

	do
		i = (int)sim_random_range(&w->random, 0, w->count - 1);
	while (w->culprits[0] == i || (w->culprit_count > 1 && w->culprits[1] == i));
	return i;
}

/* What else goes on: a late joiner, a crash, a passive node, one that misses something. */
static void set_course(struct world *w)
{
	bool cannm = w->bus.config.scheme == NOD_NM_AUTOSAR;

	if (cannm && w->count > 3 && sim_random_chance(&w->random, 20))
		w->nodes[another(w)].nm.passive = true;
	if (sim_random_chance(&w->random, 15))
		w->nodes[another(w)].boot_at = w->deadline +
					       sim_random_range(&w->random, -60, 60) * S;
	if (sim_random_chance(&w->random, 15))
		w->nodes[another(w)].crash_at = w->deadline +
						sim_random_range(&w->random, -65, 60) * S;
	if (!cannm && sim_random_chance(&w->random, 15)) {
		struct sim_nm *nm = &w->nodes[another(w)].nm;
		nm->deaf_from = w->lock + sim_random_range(&w->random, 0, 60000) * MS;
		nm->deaf_until = nm->deaf_from + sim_random_range(&w->random, 100, 4000) * MS;
	}
}

/* It asks because others do, and tells that it is a coordinator, or the map says so. */
static void coordinate(struct world *w)
{
	struct node *n = &w->nodes[another(w)];

	n->nm.coordinates = true;
	n->said_gateway = sim_random_chance(&w->random, 50);
	n->nm.control = n->said_gateway ? 0 : 0x02; /* release 3.2: coordinator 1 */
}

static void wake_again(struct world *w)
{
	struct node *n = &w->nodes[blame(w)];

	n->wake_interval = sim_random_range(&w->random, 40, 70) * S;
	n->wake_hold = sim_random_range(&w->random, 1, 12) * S;
	n->next_wake = w->lock + sim_random_range(&w->random, 62, 80) * S;
	w->end = w->deadline + 7 * n->wake_interval;
}

static bool is_any(const char *what, const char *list)
{
	const char *at = strstr(list, what);
	size_t length = strlen(what);

	return at && (at == list || at[-1] == ' ') && (at[length] == ' ' || !at[length]);
}

static void lay(struct world *w, const char *what)
{
	if (is_any(what, "holder two bus-off limp-beside limp-holder coordinator"))
		w->nodes[blame(w)].ready_at = SIM_NEVER;
	if (is_any(what, "two"))
		w->nodes[blame(w)].ready_at = SIM_NEVER;
	int64_t soon = w->lock + sim_random_range(&w->random, 0, 40) * S;
	if (is_any(what, "limp-holder"))
		w->nodes[w->culprits[0]].nm.deaf_from = soon;
	if (is_any(what, "limp-beside"))
		w->nodes[another(w)].nm.deaf_from = soon;
	if (is_any(what, "bus-off"))
		w->nodes[another(w)].bus_off_at = w->deadline +
						  sim_random_range(&w->random, -20, 60) * S;
	if (is_any(what, "coordinator"))
		coordinate(w);
	if (is_any(what, "waker line-waker"))
		wake_again(w);
	else if (!is_any(what, "healthy coordinator"))
		set_course(w);
	w->line = is_any(what, "line-waker");
	int64_t now = w->lock + sim_random_range(&w->random, -10, 8) * S;
	if (is_any(what, "hung"))
		w->nodes[blame(w)].nm.mute_from = now;
	if (is_any(what, "dead"))
		w->nodes[blame(w)].nm.dead_from = now;
	for (int k = 0; k < w->culprit_count; k++) { /* whoever is blamed is there */
		struct node *n = &w->nodes[w->culprits[k]];
		n->nm.passive = false;
		n->crash_at = n->boot_at = SIM_NEVER;
		if (is_any(what, "hung dead"))
			n->ready_at = w->lock + 9 * S;
	}
}

void world_lay(struct world *w, const char *situation, uint64_t seed)
{
	const char *what = strchr(situation, ' ') + 1;

	memset(w, 0, sizeof(*w));
	sim_random_seed(&w->random, seed, 77);
	w->bus.config.scheme = situation[0] == 'o' ? NOD_NM_OSEK : NOD_NM_AUTOSAR;
	w->lock = 20 * S;
	w->deadline = w->lock + 60 * S;
	w->end = w->deadline + sim_random_range(&w->random, 120, 300) * S;
	snprintf(w->situation, sizeof(w->situation), "%s", situation);
	set_timers(w);
	set_layout(w, strstr(situation, "bare") != NULL);
	set_nodes(w);
	set_ways(w, !is_any(what, "hung dead"));
	lay(w, what);
}
