#include "vehicle.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct nod_vehicle *nod_vehicle_new(void)
{
	struct nod_vehicle *vehicle = calloc(1, sizeof(*vehicle));

	if (vehicle)
		vehicle->key_off_current_ua = NOD_DEFAULT_KEY_OFF_CURRENT_UA;
	return vehicle;
}

static void free_texts(char **texts, size_t count)
{
	for (size_t i = 0; i < count; i++)
		free(texts[i]);
	free(texts);
}

static void free_module(struct nod_module *module)
{
	free(module->name);
	free(module->networks);
	free(module->ids);
	free(module->nodes);
	free(module->source_addresses);
	free(module->fuses);
	free(module->place);
	free_texts(module->inputs, module->input_count);
	free_texts(module->cautions, module->caution_count);
}

static void free_fuse(struct nod_fuse *fuse)
{
	free(fuse->name);
	free(fuse->family);
	free(fuse->box);
	free_texts(fuse->feeds, fuse->feed_count);
	free_texts(fuse->cautions, fuse->caution_count);
}

void nod_vehicle_free(struct nod_vehicle *vehicle)
{
	if (!vehicle)
		return;
	for (size_t i = 0; i < vehicle->network_count; i++) {
		free(vehicle->networks[i].name);
		free_texts(vehicle->networks[i].interfaces, vehicle->networks[i].interface_count);
	}
	for (size_t i = 0; i < vehicle->module_count; i++)
		free_module(&vehicle->modules[i]);
	for (size_t i = 0; i < vehicle->fuse_count; i++)
		free_fuse(&vehicle->fuses[i]);
	free(vehicle->networks);
	free(vehicle->modules);
	free(vehicle->fuses);
	free(vehicle->battery.type);
	free(vehicle->title);
	free(vehicle->path);
	free(vehicle);
}

static struct nod_nm_layout default_layout(void)
{
	return (struct nod_nm_layout){
		.scheme = NOD_NM_UNKNOWN,
		.node_byte = 0,
		.control_byte = 1,
		.partial_first = -1,
		.partial_last = -1,
		.osek_alive = 0x01,
		.osek_ring = 0x02,
		.osek_limp_home = 0x04,
		.osek_sleep_indication = 0x10,
		.osek_sleep_acknowledge = 0x20,
	};
}

int nod_vehicle_add_network(struct nod_vehicle *vehicle, const char *name, const char *interface)
{
	size_t count = vehicle->network_count;
	struct nod_network *networks =
		realloc(vehicle->networks, (count + 1) * sizeof(*networks));

	if (!networks)
		return -ENOMEM;
	vehicle->networks = networks;
	struct nod_network *network = &networks[count];
	memset(network, 0, sizeof(*network));
	network->nm = default_layout();
	network->sleeps_within = nod_seconds(NOD_DEFAULT_SLEEPS_WITHIN_S);
	network->quiet_time = nod_seconds(NOD_DEFAULT_QUIET_TIME_S);
	network->name = strdup(name);
	network->interfaces = calloc(1, sizeof(char *));
	if (network->interfaces && interface)
		network->interfaces[0] = strdup(interface);
	if (!network->name || !network->interfaces || (interface && !network->interfaces[0])) {
		free(network->name);
		free_texts(network->interfaces, 1);
		return -ENOMEM;
	}
	network->interface_count = interface != NULL;
	vehicle->network_count++;
	return (int)count;
}

int nod_vehicle_network_of_interface(const struct nod_vehicle *vehicle, const char *interface)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		for (size_t k = 0; k < vehicle->networks[i].interface_count; k++)
			if (!strcmp(vehicle->networks[i].interfaces[k], interface))
				return (int)i;
	return NOD_NONE;
}

static bool contains(const int *items, size_t count, int value)
{
	for (size_t i = 0; i < count; i++)
		if (items[i] == value)
			return true;
	return false;
}

static bool sits_on(const struct nod_module *module, int network)
{
	return !module->network_count || network == NOD_NONE ||
	       contains(module->networks, module->network_count, network);
}

static bool rule_matches(const struct nod_id_rule *rule, uint32_t id)
{
	if (rule->mask)
		return (id & (rule->mask | NOD_ID_EXTENDED)) == rule->first;
	return id >= rule->first && id <= rule->last;
}

static int module_by_rule(const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	for (size_t i = 0; i < vehicle->module_count; i++) {
		const struct nod_module *module = &vehicle->modules[i];
		if (!sits_on(module, network))
			continue;
		for (size_t k = 0; k < module->id_count; k++)
			if (rule_matches(&module->ids[k], id))
				return (int)i;
	}
	return NOD_NONE;
}

static int module_by_address(const struct nod_vehicle *vehicle, int network, int address)
{
	for (size_t i = 0; i < vehicle->module_count; i++) {
		const struct nod_module *module = &vehicle->modules[i];
		if (sits_on(module, network) &&
		    contains(module->source_addresses, module->source_address_count, address))
			return (int)i;
	}
	return NOD_NONE;
}

static int module_by_node(const struct nod_vehicle *vehicle, int network, int node)
{
	for (size_t i = 0; i < vehicle->module_count; i++) {
		const struct nod_module *module = &vehicle->modules[i];
		if (sits_on(module, network) &&
		    contains(module->nodes, module->node_count, node))
			return (int)i;
	}
	return NOD_NONE;
}

static bool is_j1939(const struct nod_vehicle *vehicle, int network)
{
	return network != NOD_NONE && vehicle->networks[network].nm.scheme == NOD_NM_J1939;
}

static bool is_nm_pdu(const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	if (network == NOD_NONE)
		return false;
	const struct nod_nm_layout *nm = &vehicle->networks[network].nm;
	return nm->ids_given && id >= nm->first_id && id <= nm->last_id;
}

int nod_vehicle_module_of_id(const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	int module = module_by_rule(vehicle, network, id);

	if (module == NOD_NONE && id & NOD_ID_EXTENDED && is_j1939(vehicle, network))
		module = module_by_address(vehicle, network, (int)(id & 0xFF));
	if (module == NOD_NONE && is_nm_pdu(vehicle, network, id))
		module = module_by_node(vehicle, network,
					(int)(id - vehicle->networks[network].nm.first_id));
	return module;
}

int nod_vehicle_fuse_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->fuse_count; i++)
		if (!strcasecmp(vehicle->fuses[i].name, name))
			return (int)i;
	return NOD_NONE;
}

int nod_vehicle_module_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->module_count; i++)
		if (!strcasecmp(vehicle->modules[i].name, name))
			return (int)i;
	return NOD_NONE;
}

/* Skips a leading word with its blanks, when it is there. */
static const char *without(const char *text, const char *word)
{
	size_t length = strlen(word);

	if (!strncasecmp(text, word, length) && text[length] == ' ')
		for (text += length; *text == ' ';)
			text++;
	return text;
}

bool nod_vehicle_resolve(const struct nod_vehicle *vehicle, const char *subject, int *fuse,
			 int *module)
{
	const char *text = without(without(subject, "the"), "fuse");

	*fuse = nod_vehicle_fuse_by_name(vehicle, text);
	*module = NOD_NONE;
	if (*fuse == NOD_NONE)
		*module = nod_vehicle_module_by_name(vehicle, text);
	if (*fuse == NOD_NONE && *module == NOD_NONE)
		*module = nod_vehicle_module_by_name(vehicle, without(text, "module"));
	return *fuse != NOD_NONE || *module != NOD_NONE;
}

bool nod_cautions_contain(char *const *cautions, size_t count, const char *keyword)
{
	for (size_t i = 0; i < count; i++)
		if (!strcasecmp(cautions[i], keyword))
			return true;
	return false;
}
