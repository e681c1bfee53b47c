/* SPDX-License-Identifier: MIT */
#include "vehicle.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "id-rule.h"
#include "signal-value.h"
#include "vehicle-check.h"
#include "vehicle-index.h"

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
	free(module->comment);
	free_texts(module->inputs, module->input_count);
	free_texts(module->cautions, module->caution_count);
	free(module->wakes_after);
}

void nod_signal_clear(struct nod_signal *signal)
{
	free(signal->name);
	free(signal->unit);
	free(signal->comment);
	for (size_t i = 0; i < signal->value_count; i++)
		free(signal->values[i].text);
	free(signal->values);
	free(signal->selected);
}

void nod_message_clear(struct nod_message *message)
{
	free(message->name);
	free(message->networks);
	free(message->sent);
	free(message->comment);
	free_texts(message->senders, message->sender_count);
	for (size_t i = 0; i < message->signal_count; i++)
		nod_signal_clear(&message->signals[i]);
	free(message->signals);
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
	for (size_t i = 0; i < vehicle->message_count; i++)
		nod_message_clear(&vehicle->messages[i]);
	free(vehicle->messages);
	free(vehicle->networks);
	free(vehicle->modules);
	free(vehicle->fuses);
	nod_vehicle_index_free(vehicle->index);
	free(vehicle->battery.type);
	free(vehicle->title);
	free(vehicle->path);
	free(vehicle);
}

struct nod_nm_layout nod_nm_layout_default(void)
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
	struct nod_network *networks = realloc(vehicle->networks, (count + 1) * sizeof(*networks));

	if (!networks)
		return -ENOMEM;
	vehicle->networks = networks;
	struct nod_network *network = &networks[count];
	memset(network, 0, sizeof(*network));
	network->nm = nod_nm_layout_default();
	network->sleeps_within = nod_seconds(NOD_DEFAULT_SLEEPS_WITHIN_S);
	network->quiet_time = nod_seconds(NOD_DEFAULT_QUIET_TIME_S);
	network->name = strdup(name);
	network->interfaces = calloc(1, sizeof(char *));
	if (network->interfaces && interface)
		network->interfaces[0] = strdup(interface);
	if (!network->name || !network->interfaces || (interface && !network->interfaces[0])) {
		free(network->name);
		free_texts(network->interfaces, network->interfaces ? 1 : 0);
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

static bool may_be_on(const struct nod_module *module, int network)
{
	return network == NOD_NONE || nod_module_sits_on(module, network);
}

static bool claims_id(const struct nod_module *module, uint32_t id)
{
	for (size_t i = 0; i < module->id_count; i++)
		if (nod_id_rule_matches(&module->ids[i], id))
			return true;
	return false;
}

static int module_by_rule(const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	if (vehicle->index)
		return nod_vehicle_index_find(vehicle->index, network, id);
	for (size_t i = 0; i < vehicle->module_count; i++)
		if (may_be_on(&vehicle->modules[i], network) && claims_id(&vehicle->modules[i], id))
			return (int)i;
	return NOD_NONE;
}

int nod_vehicle_module_of_address(const struct nod_vehicle *vehicle, int network, int address)
{
	if (vehicle->index)
		return nod_vehicle_index_address(vehicle->index, network, address);
	for (size_t i = 0; i < vehicle->module_count; i++) {
		const struct nod_module *m = &vehicle->modules[i];
		if (may_be_on(m, network) &&
		    contains(m->source_addresses, m->source_address_count, address))
			return (int)i;
	}
	return NOD_NONE;
}

int nod_vehicle_module_of_node(const struct nod_vehicle *vehicle, int network, int node)
{
	if (node < 0 || node > 0xFF)
		return NOD_NONE;
	if (vehicle->index)
		return nod_vehicle_index_node(vehicle->index, network, node);
	for (size_t i = 0; i < vehicle->module_count; i++) {
		const struct nod_module *m = &vehicle->modules[i];
		if (may_be_on(m, network) && contains(m->nodes, m->node_count, node))
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
		module = nod_vehicle_module_of_address(vehicle, network, (int)(id & 0xFF));
	if (module == NOD_NONE && is_nm_pdu(vehicle, network, id))
		module = nod_vehicle_module_of_node(
			vehicle, network, (int)(id - vehicle->networks[network].nm.first_id));
	return module;
}

int nod_vehicle_message_of_id(const struct nod_vehicle *vehicle, int network, uint32_t id)
{
	if (!vehicle->index)
		return NOD_NONE;
	return nod_vehicle_index_message(vehicle->index, vehicle, network, id);
}
