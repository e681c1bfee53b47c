/* SPDX-License-Identifier: MIT */
/* What can happen on such a network. */
#include <stdio.h>
#include <string.h>

#include "world.h"

const char *const world_situations[] = {
	"cannm holder",     "cannm-bare holder", "osek holder",      "cannm two",
	"osek two",         "cannm waker",       "cannm-bare waker", "osek waker",
	"cannm line-waker", "osek line-waker",   "osek limp-holder", "osek limp-beside",
	"osek bus-off",     "cannm hung",        "cannm-bare hung",  "cannm dead",
	"osek dead",        "cannm healthy",     "osek healthy",     NULL,
};

static int64_t pick(struct world *w, const int64_t *list, int count)
{
	return list[sim_random_range(&w->random, 0, count - 1)];
}

/* Example sets of published configurations, and around them. */
static void set_timers(struct world *w)
{
	struct config *c = &w->config;
	static const int64_t cycles[] = {200, 500, 500, 640, 1000, 1000},
			     waits[] = {750, 1500, 2000, 5000};
	static const int64_t typs[] = {45, 100, 100, 200, 500, 1000};

	c->cycle = pick(w, cycles, 6) * MS;
	c->immediate = (int)pick(w, (int64_t[]){0, 5, 5, 10}, 4);
	c->immediate_cycle = pick(w, (int64_t[]){20, 20, 50, 100}, 4) * MS;
	c->repeat = c->cycle * sim_random_range(&w->random, 2, 4);
	if (c->repeat <= c->immediate * c->immediate_cycle)
		c->repeat += c->cycle;
	c->timeout = c->cycle * 2 + pick(w, (int64_t[]){0, 500, 1000}, 3) * MS;
	c->wait = pick(w, waits, 4) * MS;
	c->typ = pick(w, typs, 6) * MS;
	c->max = c->typ * pick(w, (int64_t[]){150, 260, 310}, 3) / 100;
	c->error = 1000 * MS;
	c->twbs = pick(w, waits, 4) * MS;
	c->rx_limit = 4;
	c->decide = sim_random_chance(&w->random, 25) ? sim_random_range(&w->random, 50, 800) * MS
						      : 0;
	c->alive_indicates = sim_random_chance(&w->random, 15);
}

static void set_layout(struct world *w, bool bare)
{
	struct config *c = &w->config;
	int kind = (int)sim_random_range(&w->random, 0, bare ? 2 : 1);

	c->base = (uint32_t)pick(w, (int64_t[]){0x400, 0x500, 0x600, 0x420, 0x5C0}, 5);
	c->extended = sim_random_chance(&w->random, 12);
	if (c->extended)
		c->base = (uint32_t)pick(w, (int64_t[]){0x18DA0500, 0x1B000000, 0x10400400}, 3);
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
}

static bool is_taken(const struct world *w, uint32_t id)
{
	if (id >= (w->config.base & 0x7FF) && id <= (w->config.base & 0x7FF) + 0xFF)
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
		if (w->config.extended)
			message->id |= 0x0C000000;
		message->period = pick(w, periods, 6) * MS;
		message->length = (int)sim_random_range(&w->random, 2, 8);
		message->counts = sim_random_chance(&w->random, 40);
		message->due = NEVER;
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
		n->address = (uint8_t)address;
		address += steps[step] == 1 || sim_random_chance(&w->random, 80) ? steps[step] : 1;
		n->startup = sim_random_range(&w->random, quick ? 1 : 10, quick ? 8 : 120) * MS;
		n->ready_at = w->lock + sim_random_range(&w->random, 3000, 25000) * MS;
		n->need_from = n->need_until = 0;
		n->mute_from = n->dead_from = n->crash_at = n->boot_at = n->deaf_from = NEVER;
		n->bus_off_at = n->next_wake = NEVER;
		snprintf(n->name, sizeof(n->name), "unit %c", 'a' + i);
		set_messages(w, n);
	}
}

static int blame(struct world *w)
{
	int i;

	do
		i = (int)sim_random_range(&w->random, 0, w->count - 1);
	while ((w->culprit_count && w->culprits[0] == i) || w->nodes[i].passive);
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

/* What else goes on: a late joiner, a crash, a passive node. */
static void set_course(struct world *w)
{
	if (w->config.scheme == CANNM && w->count > 3 && sim_random_chance(&w->random, 20))
		w->nodes[another(w)].passive = true;
	if (sim_random_chance(&w->random, 15))
		w->nodes[another(w)].boot_at = w->deadline +
					       sim_random_range(&w->random, -20, 60) * S;
	if (sim_random_chance(&w->random, 15))
		w->nodes[another(w)].crash_at = w->deadline +
						sim_random_range(&w->random, -30, 60) * S;
}

static void wake_again(struct world *w)
{
	struct node *n = &w->nodes[blame(w)];

	n->wake_interval = sim_random_range(&w->random, 40, 70) * S;
	n->wake_hold = sim_random_range(&w->random, 1, 12) * S;
	n->next_wake = w->lock + sim_random_range(&w->random, 62, 80) * S;
	w->end = w->deadline + 7 * n->wake_interval;
}

static void lay(struct world *w, const char *what)
{
	if (!strcmp(what, "holder") || !strcmp(what, "two") || !strcmp(what, "bus-off") ||
	    !strcmp(what, "limp-beside") || !strcmp(what, "limp-holder"))
		w->nodes[blame(w)].ready_at = NEVER;
	if (!strcmp(what, "two"))
		w->nodes[blame(w)].ready_at = NEVER;
	if (!strcmp(what, "limp-holder"))
		w->nodes[w->culprits[0]].deaf_from = w->lock +
						     sim_random_range(&w->random, 0, 40) * S;
	if (!strcmp(what, "limp-beside"))
		w->nodes[another(w)].deaf_from = w->lock + sim_random_range(&w->random, 0, 40) * S;
	if (!strcmp(what, "bus-off"))
		w->nodes[another(w)].bus_off_at = w->deadline +
						  sim_random_range(&w->random, -20, 60) * S;
	if (!strcmp(what, "waker") || !strcmp(what, "line-waker"))
		wake_again(w);
	else if (strcmp(what, "healthy") != 0)
		set_course(w);
	w->line = !strcmp(what, "line-waker");
	if (!strcmp(what, "hung"))
		w->nodes[blame(w)].mute_from = w->lock + sim_random_range(&w->random, -10, 8) * S;
	if (!strcmp(what, "dead"))
		w->nodes[blame(w)].dead_from = w->lock + sim_random_range(&w->random, -10, 8) * S;
	for (int k = 0; k < w->culprit_count; k++) { /* whoever is blamed is there */
		w->nodes[w->culprits[k]].passive = false;
		w->nodes[w->culprits[k]].crash_at = w->nodes[w->culprits[k]].boot_at = NEVER;
		if (!strcmp(what, "hung") || !strcmp(what, "dead"))
			w->nodes[w->culprits[k]].ready_at = w->lock + 9 * S;
	}
}

void world_lay(struct world *w, const char *situation, uint64_t seed)
{
	const char *what = strchr(situation, ' ') + 1;

	memset(w, 0, sizeof(*w));
	sim_random_seed(&w->random, seed, 77);
	w->config.scheme = situation[0] == 'o' ? OSEKNM : CANNM;
	w->lock = 20 * S;
	w->deadline = w->lock + 60 * S;
	w->end = w->deadline + sim_random_range(&w->random, 120, 300) * S;
	snprintf(w->situation, sizeof(w->situation), "%s", situation);
	set_timers(w);
	set_layout(w, strstr(situation, "bare") != NULL);
	set_nodes(w);
	lay(w, what);
}
