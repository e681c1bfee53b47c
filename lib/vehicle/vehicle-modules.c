/* SPDX-License-Identifier: MIT */
/* The fuses and modules of a vehicle file. */
#include <errno.h>
#include <stddef.h>
#include <string.h>

#include "j1939.h"
#include "nearest-word.h"
#include "vehicle-reader.h"

/* Limits of what makes sense in a car; chosen. */
#define RATING_LEAST_MA 50
#define RATING_MOST_MA 1000000
#define RESISTANCE_LEAST_UOHM 10
#define RESISTANCE_MOST_UOHM 100000000

/* ---- fuses ---- */

static int read_family(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	struct nod_fuse *fuse = object;
	int status = nod_read_text(r, key, value, object);

	for (char *c = fuse->family; c && *c; c++)
		*c = (char)(*c >= 'A' && *c <= 'Z' ? *c + 32 : *c);
	return status;
}

#define AT(member) offsetof(struct nod_fuse, member)
/* clang-format off */
static const struct nod_key fuse_keys[] = {
	{.name = "family", .what = "a fuse family", .read = read_family, .at = AT(family)},
	{.name = "rating", .what = "the rating", .read = nod_read_quantity, .at = AT(rating_ma),
	 .unit = NOD_UNIT_AMPERE, .micro = 1000, .least = RATING_LEAST_MA, .most = RATING_MOST_MA},
	{.name = "box", .what = "a fuse box", .read = nod_read_text, .at = AT(box)},
	{.name = "feeds", .what = "a consumer", .read = nod_read_texts, .at = AT(feeds),
	 .count = AT(feed_count)},
	{.name = "resistance", .what = "the resistance", .read = nod_read_quantity,
	 .at = AT(resistance_uohm), .unit = NOD_UNIT_OHM, .micro = 1,
	 .least = RESISTANCE_LEAST_UOHM, .most = RESISTANCE_MOST_UOHM},
	{.name = "cautions", .what = "a caution", .read = nod_read_texts, .at = AT(cautions),
	 .count = AT(caution_count)},
	{.name = NULL},
};
/* clang-format on */
#undef AT

int nod_read_fuse(void *reader, const char *name, const yaml_node_t *key, const yaml_node_t *value)
{
	struct nod_reader *r = reader;
	struct nod_vehicle *v = r->vehicle;

	if (v->fuse_count >= NOD_VEHICLE_FUSES_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d fuses", NOD_VEHICLE_FUSES_MAX);
	struct nod_fuse *fuse = nod_append(&v->fuses, &v->fuse_count, sizeof(*fuse));
	if (!fuse)
		return nod_yaml_out_of_memory(&r->yaml);
	fuse->line = nod_yaml_line(key);
	fuse->name = strdup(name);
	if (!fuse->name || nod_name_table_add(&r->fuse_names, fuse->name, (int)v->fuse_count - 1))
		return nod_yaml_out_of_memory(&r->yaml);
	return nod_read_object(r, value, "a fuse", fuse_keys, fuse);
}

/* ---- what a module refers to ---- */

struct items {
	struct nod_reader *reader;
	const struct nod_key *key;
	void *object; /* a module, or whatever else names networks */
};

static int each_item(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object, nod_yaml_item *take)
{
	struct items context = {r, key, object};

	return nod_yaml_each_item(&r->yaml, value, take, &context);
}

static int add_int(const struct items *c, const yaml_node_t *item, int value)
{
	size_t *count = (size_t *)(void *)((char *)c->object + c->key->count);

	if (*count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&c->reader->yaml, item, "more than %d items in `%s`",
				      NOD_VEHICLE_LIST_MAX, c->key->name);
	int *slot = nod_append((char *)c->object + c->key->at, count, sizeof(int));
	if (!slot)
		return nod_yaml_out_of_memory(&c->reader->yaml);
	*slot = value;
	return 0;
}

static int unknown_name(struct nod_reader *r, const yaml_node_t *item, const char *kind,
			const struct nod_nearest *nearest)
{
	char guess[120] = "";

	if (nearest->best)
		snprintf(guess, sizeof(guess), "; did you mean `%s`?", nearest->best);
	return nod_yaml_error(&r->yaml, item,
			      "there is no %s `%s`, expected one that stands under `%ss`%s", kind,
			      nearest->word, kind, guess);
}

static int take_network(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	struct nod_reader *r = c->reader;
	const char *text = nod_read_filled(r, item, "the name of a network");

	if (!text)
		return -EINVAL;
	int index = nod_name_table_find(&r->network_names, text);
	if (index != NOD_NAME_UNKNOWN)
		return add_int(c, item, index);
	struct nod_nearest nearest = {.word = text};
	for (size_t i = 0; i < r->vehicle->network_count; i++)
		nod_nearest_offer(&nearest, r->vehicle->networks[i].name);
	return unknown_name(r, item, "network", &nearest);
}

static int take_fuse(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	struct nod_reader *r = c->reader;
	const char *text = nod_read_filled(r, item, "the name of a fuse");

	if (!text)
		return -EINVAL;
	int index = nod_name_table_find(&r->fuse_names, text);
	if (index != NOD_NAME_UNKNOWN)
		return add_int(c, item, index);
	struct nod_nearest nearest = {.word = text};
	for (size_t i = 0; i < r->vehicle->fuse_count; i++)
		nod_nearest_offer(&nearest, r->vehicle->fuses[i].name);
	return unknown_name(r, item, "fuse", &nearest);
}

/* ---- what a module claims ---- */

static int claim(const struct items *c, const yaml_node_t *item, enum nod_claim_kind kind,
		 size_t index)
{
	struct nod_reader *r = c->reader;
	const struct nod_module *module = c->object;
	struct nod_claim claim = {kind, (int)(module - r->vehicle->modules), index,
				  nod_yaml_line(item), nod_yaml_column(item)};

	return nod_claims_add(&r->claims, &claim) ? nod_yaml_out_of_memory(&r->yaml) : 0;
}

static int take_rule(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	struct nod_reader *r = c->reader;
	struct nod_id_rule parsed = {0};
	int status = nod_read_rule(r, item, &parsed);

	if (status)
		return status;
	if (++r->rules > NOD_VEHICLE_RULES_MAX)
		return nod_yaml_error(&r->yaml, item, "more than %d IDs and ranges in the file",
				      NOD_VEHICLE_RULES_MAX);
	struct nod_module *module = c->object;
	struct nod_id_rule *rule = nod_append(&module->ids, &module->id_count, sizeof(*rule));
	if (!rule)
		return nod_yaml_out_of_memory(&r->yaml);
	*rule = parsed;
	return claim(c, item, NOD_CLAIM_RULE, module->id_count - 1);
}

static int take_node(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	const struct nod_module *module = c->object;
	int node, status = nod_read_hex(c->reader, item, "a node address", 0, 0xFF, &node);

	if (!status)
		status = add_int(c, item, node);
	return status ? status : claim(c, item, NOD_CLAIM_NODE, module->node_count - 1);
}

static int take_address(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	const struct nod_module *module = c->object;
	int address, status = nod_read_hex(c->reader, item, "a J1939 source address", 0,
					   NOD_J1939_LAST_ADDRESS, &address);

	if (!status)
		status = add_int(c, item, address);
	return status ? status
		      : claim(c, item, NOD_CLAIM_ADDRESS, module->source_address_count - 1);
}

int nod_read_network_names(struct nod_reader *r, const struct nod_key *key,
			   const yaml_node_t *value, void *object)
{
	return each_item(r, key, value, object, take_network);
}

static int read_ids(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		    void *object)
{
	return each_item(r, key, value, object, take_rule);
}

static int read_nodes(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	return each_item(r, key, value, object, take_node);
}

static int read_addresses(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			  void *object)
{
	return each_item(r, key, value, object, take_address);
}

static int read_fuses(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	return each_item(r, key, value, object, take_fuse);
}

/* Wake-ups that are meant: from a second to a week after the lock. Chosen. */
#define WAKES_LEAST_NS NOD_NS_PER_S
#define WAKES_MOST_NS (7 * 86400 * NOD_NS_PER_S)

static int take_wake(void *context, const yaml_node_t *item)
{
	struct items *c = context;
	struct nod_module *module = c->object;
	struct nod_key one = *c->key;
	struct {
		nod_duration after;
	} read;

	one.at = 0;
	one.count = NOD_NO_FLAG;
	if (module->wakes_after_count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&c->reader->yaml, item, "more than %d items in `%s`",
				      NOD_VEHICLE_LIST_MAX, c->key->name);
	int status = nod_read_duration(c->reader, &one, item, &read);
	if (status)
		return status;
	nod_duration *slot = nod_append(&module->wakes_after, &module->wakes_after_count,
					sizeof(*slot));
	if (!slot)
		return nod_yaml_out_of_memory(&c->reader->yaml);
	*slot = read.after;
	return 0;
}

static int read_wakes(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	return each_item(r, key, value, object, take_wake);
}

#define AT(member) offsetof(struct nod_module, member)
/* clang-format off */
static const struct nod_key module_keys[] = {
	{.name = "networks", .read = nod_read_network_names, .at = AT(networks),
	 .count = AT(network_count)},
	{.name = "ids", .read = read_ids},
	{.name = "node", .read = read_nodes, .at = AT(nodes), .count = AT(node_count)},
	{.name = "source address", .read = read_addresses, .at = AT(source_addresses),
	 .count = AT(source_address_count)},
	{.name = "fuses", .read = read_fuses, .at = AT(fuses), .count = AT(fuse_count)},
	{.name = "place", .what = "a place", .read = nod_read_text, .at = AT(place)},
	{.name = "comment", .what = "a comment", .read = nod_read_text, .at = AT(comment)},
	{.name = "inputs", .what = "an input", .read = nod_read_texts, .at = AT(inputs),
	 .count = AT(input_count)},
	{.name = "cautions", .what = "a caution", .read = nod_read_texts, .at = AT(cautions),
	 .count = AT(caution_count)},
	{.name = "wakes after", .what = "a time after the lock", .read = read_wakes,
	 .least = WAKES_LEAST_NS, .most = WAKES_MOST_NS},
	{.name = "wakes every", .what = "how often it wakes", .read = nod_read_duration,
	 .at = AT(wakes_every), .count = NOD_NO_FLAG, .least = WAKES_LEAST_NS,
	 .most = WAKES_MOST_NS},
	{.name = "wakes for", .what = "how long it wakes at most", .read = nod_read_duration,
	 .at = AT(wakes_for), .count = NOD_NO_FLAG, .least = WAKES_LEAST_NS, .most = WAKES_MOST_NS},
	{.name = "gateway", .what = "whether it is a gateway", .read = nod_read_yes_no,
	 .at = AT(gateway)},
	{.name = NULL},
};
/* clang-format on */
#undef AT

int nod_read_module(void *reader, const char *name, const yaml_node_t *key,
		    const yaml_node_t *value)
{
	struct nod_reader *r = reader;
	struct nod_vehicle *v = r->vehicle;

	if (v->module_count >= NOD_VEHICLE_MODULES_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d modules",
				      NOD_VEHICLE_MODULES_MAX);
	struct nod_module *module = nod_append(&v->modules, &v->module_count, sizeof(*module));
	if (!module)
		return nod_yaml_out_of_memory(&r->yaml);
	module->line = nod_yaml_line(key);
	module->name = strdup(name);
	if (!module->name)
		return nod_yaml_out_of_memory(&r->yaml);
	return nod_read_object(r, value, "a module", module_keys, module);
}
