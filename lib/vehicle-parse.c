/* From the text of a vehicle file to struct nod_vehicle: one table of keys per
 * kind of object, one function per key. */
#include "vehicle.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "quantity.h"
#include "vehicle-check.h"
#include "yaml-doc.h"

/* Far above any car; a file over them is a mistake or an attack. */
#define NETWORKS_MAX 64
#define MODULES_MAX 10000
#define FUSES_MAX 10000
#define LIST_MAX 10000

struct parse {
	struct nod_yaml yaml;
	struct nod_vehicle *vehicle;
	struct nod_network *network; /* the object whose keys are being read */
	struct nod_module *module;
	struct nod_fuse *fuse;
	const char *object; /* its name, for messages */
};

struct key {
	const char *name;
	int (*take)(struct parse *p, const yaml_node_t *value);
};

/* ---- keys ---- */

static size_t edit_distance(const char *a, const char *b)
{
	size_t row[32], n = strlen(b);

	if (n >= 32 || strlen(a) >= 32)
		return 99;
	for (size_t j = 0; j <= n; j++)
		row[j] = j;
	for (size_t i = 1; a[i - 1]; i++) {
		size_t diagonal = row[0];
		row[0] = i;
		for (size_t j = 1; j <= n; j++) {
			size_t above = row[j], best = diagonal + (a[i - 1] != b[j - 1]);
			if (above + 1 < best)
				best = above + 1;
			if (row[j - 1] + 1 < best)
				best = row[j - 1] + 1;
			diagonal = above;
			row[j] = best;
		}
	}
	return row[n];
}

static int unknown_key(struct parse *p, const struct key *keys, const char *key,
		       const yaml_node_t *node)
{
	char list[300] = "";
	const char *nearest = NULL;
	size_t best = 4;

	for (const struct key *k = keys; k->name; k++) {
		size_t distance = edit_distance(key, k->name), used = strlen(list);
		snprintf(list + used, sizeof(list) - used, "%s%s", used ? ", " : "", k->name);
		if (distance < best) {
			best = distance;
			nearest = k->name;
		}
	}
	if (nearest)
		return nod_yaml_error(&p->yaml, node, "unknown key `%s`; did you mean `%s`?", key,
				      nearest);
	return nod_yaml_error(&p->yaml, node, "unknown key `%s`; expected one of: %s", key, list);
}

struct keyed {
	struct parse *p;
	const struct key *keys;
};

static int take_key(void *context, const char *key, const yaml_node_t *key_node,
		    const yaml_node_t *value)
{
	struct keyed *c = context;

	for (const struct key *k = c->keys; k->name; k++)
		if (!strcasecmp(k->name, key))
			return k->take(c->p, value);
	return unknown_key(c->p, c->keys, key, key_node);
}

static int read_object(struct parse *p, const yaml_node_t *node, const char *what,
		       const struct key *keys)
{
	struct keyed context = {p, keys};

	return nod_yaml_each_pair(&p->yaml, node, what, take_key, &context);
}

/* ---- values ---- */

static int out_of_memory(struct parse *p)
{
	return nod_error_set(p->yaml.err, ENOMEM, "%s: out of memory", p->yaml.name);
}

static int set_text(struct parse *p, char **to, const yaml_node_t *node, const char *what)
{
	const char *text = nod_yaml_text(&p->yaml, node, what);

	if (!text)
		return -EINVAL;
	free(*to);
	*to = strdup(text);
	return *to ? 0 : out_of_memory(p);
}

/* Grows an array by one zeroed item and returns it, or NULL. */
static void *append(void **items, size_t *count, size_t size)
{
	char *grown = realloc(*items, (*count + 1) * size);

	if (!grown)
		return NULL;
	*items = grown;
	memset(grown + *count * size, 0, size);
	return grown + (*count)++ * size;
}

struct text_list {
	struct parse *p;
	char ***items;
	size_t *count;
	const char *what;
};

static int take_text_item(void *context, const yaml_node_t *item)
{
	struct text_list *l = context;

	if (*l->count >= LIST_MAX)
		return nod_yaml_error(&l->p->yaml, item, "more than %d %s", LIST_MAX, l->what);
	char **slot = append((void **)l->items, l->count, sizeof(char *));
	return slot ? set_text(l->p, slot, item, l->what) : out_of_memory(l->p);
}

static int read_texts(struct parse *p, const yaml_node_t *node, char ***items, size_t *count,
		      const char *what)
{
	struct text_list list = {p, items, count, what};

	return nod_yaml_each_item(&p->yaml, node, take_text_item, &list);
}

static int read_quantity(struct parse *p, const yaml_node_t *node, enum nod_unit unit,
			 const char *what, int64_t *micro)
{
	const char *text = nod_yaml_text(&p->yaml, node, what);
	struct nod_error err = {""};
	struct nod_quantity q;

	if (!text)
		return -EINVAL;
	if (nod_quantity_parse_as(&q, text, unit, what, &err))
		return nod_yaml_error(&p->yaml, node, "%s", err.text);
	if (q.micro < 0)
		return nod_yaml_error(&p->yaml, node, "%s cannot be negative: `%s`", what, text);
	*micro = q.micro;
	return 0;
}

static int read_duration(struct parse *p, const yaml_node_t *node, const char *what,
			 nod_duration *d)
{
	const char *text = nod_yaml_text(&p->yaml, node, what);

	if (!text)
		return -EINVAL;
	if (nod_duration_parse(d, text) || d->ns <= 0)
		return nod_yaml_error(&p->yaml, node,
				      "expected %s as a time such as `10 min` or `2 s`, found `%s`",
				      what, text);
	return 0;
}

/* "500000", "500k", "500 kbit/s", "1M" */
static int read_bitrate(struct parse *p, const yaml_node_t *node, uint32_t *bitrate)
{
	const char *text = nod_yaml_text(&p->yaml, node, "a bitrate");
	unsigned long value = 0, factor = 1;
	char *end;

	if (!text)
		return -EINVAL;
	value = strtoul(text, &end, 10);
	while (*end == ' ')
		end++;
	if (*end == 'k' || *end == 'K')
		factor = 1000, end++;
	else if (*end == 'M')
		factor = 1000000, end++;
	if (!strcasecmp(end, "bit/s") || !strcasecmp(end, "bps") || !strcasecmp(end, "bd"))
		end += strlen(end);
	if (end == text || *end || *text == '-' || value * factor < 5000 || value > 20000000 ||
	    value * factor > 20000000)
		return nod_yaml_error(&p->yaml, node,
				      "expected a bitrate from 5000 to 20000000 such as `500000` or "
				      "`500k`, found `%s`",
				      text);
	*bitrate = (uint32_t)(value * factor);
	return 0;
}

static int read_bool(struct parse *p, const yaml_node_t *node, bool *value)
{
	const char *text = nod_yaml_text(&p->yaml, node, "yes or no");

	if (!text)
		return -EINVAL;
	*value = !strcasecmp(text, "yes") || !strcasecmp(text, "true");
	if (!*value && strcasecmp(text, "no") && strcasecmp(text, "false"))
		return nod_yaml_error(&p->yaml, node, "expected yes or no, found `%s`", text);
	return 0;
}

/* A small hex number as technicians write addresses: "21", "0x21", "21h". */
static int read_address(struct parse *p, const yaml_node_t *node, const char *what, int max,
			int *value)
{
	const char *text = nod_yaml_text(&p->yaml, node, what);
	char *end;

	if (!text)
		return -EINVAL;
	unsigned long number = strtoul(text, &end, 16);
	if (*end == 'h' || *end == 'H')
		end++;
	if (end == text || *end || *text == '-' || number > (unsigned long)max)
		return nod_yaml_error(&p->yaml, node, "expected %s in hex from 0 to %X, found `%s`",
				      what, (unsigned)max, text);
	*value = (int)number;
	return 0;
}

/* ---- IDs ---- */

static int parse_id(struct parse *p, const yaml_node_t *node, const char *text, size_t length,
		    uint32_t *id)
{
	int status = nod_id_parse(id, text, (unsigned)length);

	if (status == -ERANGE)
		return nod_yaml_error(&p->yaml, node, "ID `%.*s` is above %s", (int)length, text,
				      length == 8 ? "1FFFFFFF" : "7FF");
	if (status)
		return nod_yaml_error(&p->yaml, node,
				      "expected an ID of 1 to 3 hex digits (standard) or exactly 8 "
				      "(extended), found `%.*s`",
				      (int)length, text);
	return 0;
}

static int parse_mask_rule(struct parse *p, const yaml_node_t *node, const char *text,
			   const char *slash, struct nod_id_rule *rule)
{
	int status = parse_id(p, node, text, (size_t)(slash - text), &rule->first);

	if (!status)
		status = parse_id(p, node, slash + 1, strlen(slash + 1), &rule->mask);
	if (status)
		return status;
	if ((rule->first ^ rule->mask) & NOD_ID_EXTENDED)
		return nod_yaml_error(&p->yaml, node,
				      "value and mask of `%s` must have the same number of digits",
				      text);
	rule->mask &= ~NOD_ID_EXTENDED;
	if (!rule->mask)
		return nod_yaml_error(&p->yaml, node, "the mask of `%s` is zero: it fits every ID",
				      text);
	if (rule->first & NOD_ID_EXTENDED_MASK & ~rule->mask)
		return nod_yaml_error(&p->yaml, node,
				      "`%s` has bits outside its mask, so it fits no ID", text);
	return 0;
}

static int parse_range_rule(struct parse *p, const yaml_node_t *node, const char *text,
			    const char *dash, struct nod_id_rule *rule)
{
	int status = parse_id(p, node, text, (size_t)(dash - text), &rule->first);

	if (!status)
		status = parse_id(p, node, dash + 1, strlen(dash + 1), &rule->last);
	if (status)
		return status;
	if ((rule->first ^ rule->last) & NOD_ID_EXTENDED)
		return nod_yaml_error(&p->yaml, node,
				      "range `%s` begins standard and ends extended, or the reverse",
				      text);
	if (rule->first > rule->last)
		return nod_yaml_error(&p->yaml, node, "range `%s` is upside down", text);
	return 0;
}

static int parse_rule(struct parse *p, const yaml_node_t *node, struct nod_id_rule *rule)
{
	const char *text = nod_yaml_text(&p->yaml, node, "an ID, a range or a value/mask");

	if (!text)
		return -EINVAL;
	rule->line = nod_yaml_line(node);
	const char *slash = strchr(text, '/'), *dash = strchr(text, '-');
	if (slash)
		return parse_mask_rule(p, node, text, slash, rule);
	if (dash)
		return parse_range_rule(p, node, text, dash, rule);
	int status = parse_id(p, node, text, strlen(text), &rule->first);
	rule->last = rule->first;
	return status;
}

/* ---- network management ---- */

static int nm_scheme(struct parse *p, const yaml_node_t *value)
{
	static const char *const names[] = {"unknown", "none", "autosar", "osek", "j1939"};
	const char *text = nod_yaml_text(&p->yaml, value, "a scheme");

	if (!text)
		return -EINVAL;
	for (int i = 0; i < 5; i++)
		if (!strcasecmp(names[i], text)) {
			p->network->nm.scheme = (enum nod_nm_scheme)i;
			return 0;
		}
	return nod_yaml_error(&p->yaml, value,
			      "expected a scheme: autosar, osek, j1939, none or unknown; found `%s`",
			      text);
}

static int nm_ids(struct parse *p, const yaml_node_t *value)
{
	struct nod_id_rule rule = {0};
	int status = parse_rule(p, value, &rule);

	if (status)
		return status;
	if (rule.mask)
		return nod_yaml_error(&p->yaml, value, "expected a range of IDs such as `500-53F`");
	p->network->nm.first_id = rule.first;
	p->network->nm.last_id = rule.last;
	p->network->nm.ids_given = true;
	return 0;
}

static int byte_position(struct parse *p, const yaml_node_t *value, int *position)
{
	const char *text = nod_yaml_text(&p->yaml, value, "a byte position");

	if (!text)
		return -EINVAL;
	if (!strcasecmp(text, "none")) {
		*position = -1;
		return 0;
	}
	if (strlen(text) != 1 || *text < '0' || *text > '7')
		return nod_yaml_error(&p->yaml, value,
				      "expected a byte position from 0 to 7, or none; found `%s`",
				      text);
	*position = *text - '0';
	return 0;
}

static int nm_node_byte(struct parse *p, const yaml_node_t *value)
{
	return byte_position(p, value, &p->network->nm.node_byte);
}

static int nm_control_byte(struct parse *p, const yaml_node_t *value)
{
	return byte_position(p, value, &p->network->nm.control_byte);
}

static int nm_partial(struct parse *p, const yaml_node_t *value)
{
	const char *text = nod_yaml_text(&p->yaml, value, "byte positions");
	struct nod_nm_layout *nm = &p->network->nm;

	if (!text)
		return -EINVAL;
	bool one = strlen(text) == 1, two = strlen(text) == 3 && text[1] == '-';
	if ((!one && !two) || text[0] < '0' || text[0] > '7' ||
	    (two && (text[2] < text[0] || text[2] > '7')))
		return nod_yaml_error(&p->yaml, value,
				      "expected byte positions such as `4-5` from 0 to 7, found `%s`",
				      text);
	nm->partial_first = text[0] - '0';
	nm->partial_last = text[two ? 2 : 0] - '0';
	return 0;
}

static int opcode(struct parse *p, const yaml_node_t *value, uint8_t *bits)
{
	int number, status = read_address(p, value, "opcode bits", 0xFF, &number);

	if (!status)
		*bits = (uint8_t)number;
	return status;
}

static int osek_alive(struct parse *p, const yaml_node_t *value)
{
	return opcode(p, value, &p->network->nm.osek_alive);
}

static int osek_ring(struct parse *p, const yaml_node_t *value)
{
	return opcode(p, value, &p->network->nm.osek_ring);
}

static int osek_limp_home(struct parse *p, const yaml_node_t *value)
{
	return opcode(p, value, &p->network->nm.osek_limp_home);
}

static int osek_indication(struct parse *p, const yaml_node_t *value)
{
	return opcode(p, value, &p->network->nm.osek_sleep_indication);
}

static int osek_acknowledge(struct parse *p, const yaml_node_t *value)
{
	return opcode(p, value, &p->network->nm.osek_sleep_acknowledge);
}

static const struct key management_keys[] = {
	{"scheme", nm_scheme},
	{"ids", nm_ids},
	{"node byte", nm_node_byte},
	{"control byte", nm_control_byte},
	{"partial network bytes", nm_partial},
	{"alive", osek_alive},
	{"ring", osek_ring},
	{"limp home", osek_limp_home},
	{"sleep indication", osek_indication},
	{"sleep acknowledge", osek_acknowledge},
	{NULL, NULL},
};

/* ---- networks ---- */

static int network_interfaces(struct parse *p, const yaml_node_t *value)
{
	return read_texts(p, value, &p->network->interfaces, &p->network->interface_count,
			  "an interface name");
}

static int network_bitrate(struct parse *p, const yaml_node_t *value)
{
	return read_bitrate(p, value, &p->network->bitrate);
}

static int network_data_bitrate(struct parse *p, const yaml_node_t *value)
{
	return read_bitrate(p, value, &p->network->data_bitrate);
}

static int network_layer(struct parse *p, const yaml_node_t *value)
{
	const char *text = nod_yaml_text(&p->yaml, value, "a physical layer");

	if (!text)
		return -EINVAL;
	if (strcasecmp(text, "high-speed") && strcasecmp(text, "fault-tolerant"))
		return nod_yaml_error(&p->yaml, value,
				      "expected high-speed or fault-tolerant, found `%s`", text);
	p->network->layer =
		*text == 'h' || *text == 'H' ? NOD_LAYER_HIGH_SPEED : NOD_LAYER_FAULT_TOLERANT;
	return 0;
}

static int network_sleeps(struct parse *p, const yaml_node_t *value)
{
	p->network->sleeps_within_given = true;
	return read_duration(p, value, "the time to sleep after lock", &p->network->sleeps_within);
}

static int network_quiet(struct parse *p, const yaml_node_t *value)
{
	p->network->quiet_time_given = true;
	return read_duration(p, value, "the quiet time", &p->network->quiet_time);
}

static int network_management(struct parse *p, const yaml_node_t *value)
{
	return read_object(p, value, "network management", management_keys);
}

static const struct key network_keys[] = {
	{"interfaces", network_interfaces},
	{"bitrate", network_bitrate},
	{"data bitrate", network_data_bitrate},
	{"physical layer", network_layer},
	{"sleeps within", network_sleeps},
	{"quiet time", network_quiet},
	{"management", network_management},
	{NULL, NULL},
};

static int take_network(void *context, const char *key, const yaml_node_t *key_node,
			const yaml_node_t *value)
{
	struct parse *p = context;

	if (p->vehicle->network_count >= NETWORKS_MAX)
		return nod_yaml_error(&p->yaml, key_node, "more than %d networks", NETWORKS_MAX);
	int index = nod_vehicle_add_network(p->vehicle, key, NULL);
	if (index < 0)
		return out_of_memory(p);
	p->network = &p->vehicle->networks[index];
	p->network->line = nod_yaml_line(key_node);
	return read_object(p, value, "a network", network_keys);
}

/* ---- fuses ---- */

static int fuse_family(struct parse *p, const yaml_node_t *value)
{
	int status = set_text(p, &p->fuse->family, value, "a fuse family");

	for (char *c = p->fuse->family; !status && *c; c++)
		*c = (char)(*c >= 'A' && *c <= 'Z' ? *c + 32 : *c);
	return status;
}

static int fuse_rating(struct parse *p, const yaml_node_t *value)
{
	int64_t micro;
	int status = read_quantity(p, value, NOD_UNIT_AMPERE, "the rating", &micro);

	p->fuse->rating_ma = status ? 0 : micro / 1000;
	return status;
}

static int fuse_resistance(struct parse *p, const yaml_node_t *value)
{
	return read_quantity(p, value, NOD_UNIT_OHM, "the resistance", &p->fuse->resistance_uohm);
}

static int fuse_box(struct parse *p, const yaml_node_t *value)
{
	return set_text(p, &p->fuse->box, value, "a fuse box");
}

static int fuse_feeds(struct parse *p, const yaml_node_t *value)
{
	return read_texts(p, value, &p->fuse->feeds, &p->fuse->feed_count, "what it feeds");
}

static int fuse_cautions(struct parse *p, const yaml_node_t *value)
{
	return read_texts(p, value, &p->fuse->cautions, &p->fuse->caution_count, "a caution");
}

static const struct key fuse_keys[] = {
	{"family", fuse_family},	 {"rating", fuse_rating}, {"box", fuse_box},
	{"feeds", fuse_feeds},		 {"resistance", fuse_resistance},
	{"cautions", fuse_cautions},	 {NULL, NULL},
};

static int take_fuse(void *context, const char *key, const yaml_node_t *key_node,
		     const yaml_node_t *value)
{
	struct parse *p = context;

	if (p->vehicle->fuse_count >= FUSES_MAX)
		return nod_yaml_error(&p->yaml, key_node, "more than %d fuses", FUSES_MAX);
	p->fuse = append((void **)&p->vehicle->fuses, &p->vehicle->fuse_count, sizeof(*p->fuse));
	if (!p->fuse)
		return out_of_memory(p);
	p->fuse->name = strdup(key);
	p->fuse->line = nod_yaml_line(key_node);
	if (!p->fuse->name)
		return out_of_memory(p);
	return read_object(p, value, "a fuse", fuse_keys);
}

/* ---- modules ---- */

static int add_int(struct parse *p, int **items, size_t *count, int value)
{
	int *slot = append((void **)items, count, sizeof(int));

	if (!slot)
		return out_of_memory(p);
	*slot = value;
	return 0;
}

static int module_network_item(void *context, const yaml_node_t *item)
{
	struct parse *p = context;
	const char *text = nod_yaml_text(&p->yaml, item, "the name of a network");

	if (!text)
		return -EINVAL;
	for (size_t i = 0; i < p->vehicle->network_count; i++)
		if (!strcasecmp(p->vehicle->networks[i].name, text))
			return add_int(p, &p->module->networks, &p->module->network_count, (int)i);
	return nod_yaml_error(&p->yaml, item, "there is no network `%s` under `networks`", text);
}

static int module_networks(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_item(&p->yaml, value, module_network_item, p);
}

static int module_id_item(void *context, const yaml_node_t *item)
{
	struct parse *p = context;

	if (p->module->id_count >= LIST_MAX)
		return nod_yaml_error(&p->yaml, item, "more than %d IDs", LIST_MAX);
	struct nod_id_rule *rule =
		append((void **)&p->module->ids, &p->module->id_count, sizeof(*rule));
	return rule ? parse_rule(p, item, rule) : out_of_memory(p);
}

static int module_ids(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_item(&p->yaml, value, module_id_item, p);
}

static int module_node_item(void *context, const yaml_node_t *item)
{
	struct parse *p = context;
	int node, status = read_address(p, item, "a node address", 0xFF, &node);

	return status ? status : add_int(p, &p->module->nodes, &p->module->node_count, node);
}

static int module_nodes(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_item(&p->yaml, value, module_node_item, p);
}

static int module_address_item(void *context, const yaml_node_t *item)
{
	struct parse *p = context;
	int address, status = read_address(p, item, "a J1939 source address", 0xFD, &address);

	return status ? status
		      : add_int(p, &p->module->source_addresses,
				&p->module->source_address_count, address);
}

static int module_addresses(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_item(&p->yaml, value, module_address_item, p);
}

static int module_fuse_item(void *context, const yaml_node_t *item)
{
	struct parse *p = context;
	const char *text = nod_yaml_text(&p->yaml, item, "the name of a fuse");

	if (!text)
		return -EINVAL;
	int fuse = nod_vehicle_fuse_by_name(p->vehicle, text);
	if (fuse == NOD_NONE)
		return nod_yaml_error(&p->yaml, item, "there is no fuse `%s` under `fuses`", text);
	return add_int(p, &p->module->fuses, &p->module->fuse_count, fuse);
}

static int module_fuses(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_item(&p->yaml, value, module_fuse_item, p);
}

static int module_place(struct parse *p, const yaml_node_t *value)
{
	return set_text(p, &p->module->place, value, "a place");
}

static int module_inputs(struct parse *p, const yaml_node_t *value)
{
	return read_texts(p, value, &p->module->inputs, &p->module->input_count, "an input");
}

static int module_cautions(struct parse *p, const yaml_node_t *value)
{
	return read_texts(p, value, &p->module->cautions, &p->module->caution_count, "a caution");
}

static int module_gateway(struct parse *p, const yaml_node_t *value)
{
	return read_bool(p, value, &p->module->gateway);
}

static const struct key module_keys[] = {
	{"networks", module_networks},
	{"ids", module_ids},
	{"node", module_nodes},
	{"source address", module_addresses},
	{"fuses", module_fuses},
	{"place", module_place},
	{"inputs", module_inputs},
	{"cautions", module_cautions},
	{"gateway", module_gateway},
	{NULL, NULL},
};

static int take_module(void *context, const char *key, const yaml_node_t *key_node,
		       const yaml_node_t *value)
{
	struct parse *p = context;

	if (p->vehicle->module_count >= MODULES_MAX)
		return nod_yaml_error(&p->yaml, key_node, "more than %d modules", MODULES_MAX);
	p->module =
		append((void **)&p->vehicle->modules, &p->vehicle->module_count, sizeof(*p->module));
	if (!p->module)
		return out_of_memory(p);
	p->module->name = strdup(key);
	p->module->line = nod_yaml_line(key_node);
	if (!p->module->name)
		return out_of_memory(p);
	return read_object(p, value, "a module", module_keys);
}

/* ---- the file ---- */

static int limit_current(struct parse *p, const yaml_node_t *value)
{
	p->vehicle->key_off_current_given = true;
	return read_quantity(p, value, NOD_UNIT_AMPERE, "the key-off current",
			     &p->vehicle->key_off_current_ua);
}

static const struct key limit_keys[] = {{"key-off current", limit_current}, {NULL, NULL}};

static int battery_type(struct parse *p, const yaml_node_t *value)
{
	const char *text = nod_yaml_text(&p->yaml, value, "a battery type");

	if (!text)
		return -EINVAL;
	if (strcmp(text, "flooded") && strcmp(text, "agm"))
		return nod_yaml_error(&p->yaml, value, "expected flooded or agm, found `%s`", text);
	return set_text(p, &p->vehicle->battery.type, value, "a battery type");
}

static int battery_capacity(struct parse *p, const yaml_node_t *value)
{
	int64_t micro;
	int status = read_quantity(p, value, NOD_UNIT_AMPERE_HOUR, "the capacity", &micro);

	p->vehicle->battery.capacity_mah = status ? 0 : micro / 1000;
	return status;
}

static int battery_reserve(struct parse *p, const yaml_node_t *value)
{
	nod_duration d;
	int status = read_duration(p, value, "the reserve", &d);

	p->vehicle->battery.reserve_minutes = status ? 0 : d.ns / (60 * NOD_NS_PER_S);
	return status;
}

static const struct key battery_keys[] = {
	{"type", battery_type},
	{"capacity", battery_capacity},
	{"reserve", battery_reserve},
	{NULL, NULL},
};

static int file_title(struct parse *p, const yaml_node_t *value)
{
	return set_text(p, &p->vehicle->title, value, "a title");
}

static int file_limits(struct parse *p, const yaml_node_t *value)
{
	return read_object(p, value, "limits", limit_keys);
}

static int file_battery(struct parse *p, const yaml_node_t *value)
{
	return read_object(p, value, "battery data", battery_keys);
}

static int file_networks(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_pair(&p->yaml, value, "networks", take_network, p);
}

static int file_fuses(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_pair(&p->yaml, value, "fuses", take_fuse, p);
}

static int file_modules(struct parse *p, const yaml_node_t *value)
{
	return nod_yaml_each_pair(&p->yaml, value, "modules", take_module, p);
}

static int later(struct parse *p, const yaml_node_t *value)
{
	(void)p;
	(void)value;
	return 0;
}

/* Modules refer to networks and fuses, wherever those stand in the file. */
static const struct key first_pass[] = {
	{"vehicle", file_title},     {"limits", file_limits}, {"battery", file_battery},
	{"networks", file_networks}, {"fuses", file_fuses},   {"modules", later},
	{NULL, NULL},
};

static const struct key second_pass[] = {
	{"vehicle", later}, {"limits", later}, {"battery", later},	  {"networks", later},
	{"fuses", later},   {"modules", file_modules}, {NULL, NULL},
};

static int read_file(struct parse *p)
{
	const yaml_node_t *root = yaml_document_get_root_node(&p->yaml.document);
	int status;

	if (!root)
		return nod_error_at(p->yaml.err, EINVAL, p->yaml.name, 1, 1,
				    "the file is empty; expected at least `networks:`");
	status = read_object(p, root, "a vehicle file", first_pass);
	if (!status)
		status = read_object(p, root, "a vehicle file", second_pass);
	if (!status && !p->vehicle->network_count)
		status = nod_yaml_error(&p->yaml, root, "no networks; expected `networks:`");
	return status ? status : nod_vehicle_check(p->vehicle, p->yaml.name, p->yaml.err);
}

struct nod_vehicle *nod_vehicle_parse(const char *text, size_t length, const char *name,
				      struct nod_error *err)
{
	struct parse p = {.vehicle = nod_vehicle_new()};
	int status = p.vehicle ? nod_yaml_load(&p.yaml, text, length, name, err) : -ENOMEM;

	if (!status) {
		status = read_file(&p);
		nod_yaml_clear(&p.yaml);
	}
	if (!status) {
		p.vehicle->path = strdup(name);
		status = p.vehicle->path ? 0 : -ENOMEM;
	}
	if (!status)
		return p.vehicle;
	nod_vehicle_free(p.vehicle);
	errno = -status;
	return NULL;
}

static char *read_whole(const char *path, size_t *length, struct nod_error *err)
{
	FILE *file = fopen(path, "rb");
	char *text = NULL;
	size_t room = NOD_YAML_BYTES_MAX + 1;

	if (file)
		text = malloc(room);
	if (text)
		*length = fread(text, 1, room, file);
	if (!file || !text || ferror(file)) {
		nod_error_set(err, errno, "%s: %s", path, strerror(errno));
		free(text);
		text = NULL;
	}
	if (file)
		fclose(file);
	return text;
}

struct nod_vehicle *nod_vehicle_load(const char *path, struct nod_error *err)
{
	size_t length;
	char *text = read_whole(path, &length, err);

	if (!text)
		return NULL;
	struct nod_vehicle *vehicle = nod_vehicle_parse(text, length, path, err);
	int saved = errno;
	free(text);
	errno = saved;
	return vehicle;
}
