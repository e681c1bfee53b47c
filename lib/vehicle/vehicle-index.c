/* SPDX-License-Identifier: MIT */
#include "vehicle-index.h"

#include <errno.h>
#include <stdlib.h>

#include "id-rule.h"
#include "message-index.h"

struct span {
	uint32_t first, last;
	int module;
};

struct mask {
	struct nod_id_rule rule;
	int module;
};

/* The claims on one network. Modules that share a network do not claim the
 * same ID (the loader has checked it), so spans of different modules do not
 * overlap and those of one module are joined where they do. */
struct table {
	struct span *spans; /* sorted, without overlaps */
	struct mask *masks; /* those that are not spans, in the order of the modules */
	size_t span_count, mask_count;
	bool overlaps;                  /* made by a program: search the spans one by one */
	int nodes[256], addresses[256]; /* modules */
};

/* One table per network and one, the last, for modules that name none. */
struct nod_vehicle_index {
	size_t network_count;
	struct nod_message_index *messages;
	struct table tables[];
};

static bool belongs(const struct nod_module *module, size_t table, size_t network_count)
{
	if (table == network_count)
		return !module->network_count;
	for (size_t i = 0; i < module->network_count; i++)
		if (module->networks[i] == (int)table)
			return true;
	return false;
}

static void add_rules(struct table *t, const struct nod_module *module, int number)
{
	for (size_t i = 0; i < module->id_count; i++) {
		const struct nod_id_rule *rule = &module->ids[i];
		struct span span = {.module = number};
		if (nod_id_rule_is_range(rule, &span.first, &span.last))
			t->spans[t->span_count++] = span;
		else
			t->masks[t->mask_count++] = (struct mask){*rule, number};
	}
}

static int compare_spans(const void *a, const void *b)
{
	const struct span *x = a, *y = b;

	if (x->first != y->first)
		return x->first < y->first ? -1 : 1;
	return x->module < y->module ? -1 : x->module > y->module;
}

static void join_spans(struct table *t)
{
	size_t kept = 0;

	qsort(t->spans, t->span_count, sizeof(*t->spans), compare_spans);
	for (size_t i = 0; i < t->span_count; i++) {
		struct span *before = kept ? &t->spans[kept - 1] : NULL, *s = &t->spans[i];
		if (!before || s->first > before->last) {
			t->spans[kept++] = *s;
		} else if (s->module == before->module) {
			before->last = s->last > before->last ? s->last : before->last;
		} else {
			t->overlaps = true;
			t->spans[kept++] = *s;
		}
	}
	t->span_count = kept;
}

static void add_numbers(int *table, const int *numbers, size_t count, int module)
{
	for (size_t i = 0; i < count; i++)
		if (numbers[i] >= 0 && numbers[i] < 256 && table[numbers[i]] == NOD_NONE)
			table[numbers[i]] = module;
}

static void build_addresses(struct table *t, const struct nod_vehicle *v, size_t number)
{
	for (int i = 0; i < 256; i++)
		t->nodes[i] = t->addresses[i] = NOD_NONE;
	for (size_t i = 0; i < v->module_count; i++) {
		const struct nod_module *m = &v->modules[i];
		if (!belongs(m, number, v->network_count))
			continue;
		add_numbers(t->nodes, m->nodes, m->node_count, (int)i);
		add_numbers(t->addresses, m->source_addresses, m->source_address_count, (int)i);
	}
}

static int build_table(struct table *t, const struct nod_vehicle *v, size_t number)
{
	size_t rules = 0;

	build_addresses(t, v, number);
	for (size_t i = 0; i < v->module_count; i++)
		if (belongs(&v->modules[i], number, v->network_count))
			rules += v->modules[i].id_count;
	if (!rules)
		return 0;
	t->spans = calloc(rules, sizeof(*t->spans));
	t->masks = calloc(rules, sizeof(*t->masks));
	if (!t->spans || !t->masks)
		return -ENOMEM;
	for (size_t i = 0; i < v->module_count; i++)
		if (belongs(&v->modules[i], number, v->network_count))
			add_rules(t, &v->modules[i], (int)i);
	if (!t->mask_count) {
		free(t->masks);
		t->masks = NULL;
	}
	join_spans(t);
	return 0;
}

void nod_vehicle_index_free(struct nod_vehicle_index *index)
{
	if (!index)
		return;
	for (size_t i = 0; i <= index->network_count; i++) {
		free(index->tables[i].spans);
		free(index->tables[i].masks);
	}
	nod_message_index_free(index->messages);
	free(index);
}

int nod_vehicle_index(struct nod_vehicle *v)
{
	struct nod_vehicle_index *index = calloc(
		1, sizeof(*index) + (v->network_count + 1) * sizeof(index->tables[0]));
	int status = index ? 0 : -ENOMEM;

	nod_vehicle_index_free(v->index);
	v->index = NULL;
	if (status)
		return status;
	index->network_count = v->network_count;
	for (size_t i = 0; !status && i <= v->network_count; i++)
		status = build_table(&index->tables[i], v, i);
	index->messages = nod_message_index_new(v);
	if (!index->messages)
		status = -ENOMEM;
	if (status)
		nod_vehicle_index_free(index);
	else
		v->index = index;
	return status;
}

int nod_vehicle_index_message(const struct nod_vehicle_index *index,
			      const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	return nod_message_index_find(index->messages, vehicle, network, id);
}

static int lower(int a, int b)
{
	if (a == NOD_NONE || b == NOD_NONE)
		return a == NOD_NONE ? b : a;
	return a < b ? a : b;
}

/* The last span that begins at or before id. */
static int find_span(const struct table *t, uint32_t id)
{
	size_t low = 0, high = t->span_count;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		if (t->spans[middle].first <= id)
			low = middle + 1;
		else
			high = middle;
	}
	return low && t->spans[low - 1].last >= id ? t->spans[low - 1].module : NOD_NONE;
}

static int find_in_table(const struct table *t, uint32_t id)
{
	int module = NOD_NONE;

	if (!t->overlaps)
		module = find_span(t, id);
	for (size_t i = 0; t->overlaps && i < t->span_count; i++)
		if (id >= t->spans[i].first && id <= t->spans[i].last)
			module = lower(module, t->spans[i].module);
	for (size_t i = 0; i < t->mask_count; i++)
		if (nod_id_rule_matches(&t->masks[i].rule, id))
			return lower(module, t->masks[i].module);
	return module;
}

int nod_vehicle_index_find(const struct nod_vehicle_index *index, int network, uint32_t id)
{
	size_t count = index->network_count;
	int module = find_in_table(&index->tables[count], id);

	for (size_t i = 0; i < count; i++)
		if (network == NOD_NONE || (size_t)network == i)
			module = lower(module, find_in_table(&index->tables[i], id));
	return module;
}

int nod_vehicle_index_node(const struct nod_vehicle_index *index, int network, int node)
{
	int module = index->tables[index->network_count].nodes[node & 0xFF];

	if (network < 0 || (size_t)network >= index->network_count)
		return module;
	return lower(module, index->tables[network].nodes[node & 0xFF]);
}

int nod_vehicle_index_address(const struct nod_vehicle_index *index, int network, int address)
{
	int module = index->tables[index->network_count].addresses[address & 0xFF];

	if (network < 0 || (size_t)network >= index->network_count)
		return module;
	return lower(module, index->tables[network].addresses[address & 0xFF]);
}
