/* SPDX-License-Identifier: MIT */
#include "dbc-import.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "dbc-importer.h"
#include "j1939.h"
#include "signal-value.h"
#include "text-stream.h"
#include "utf8.h"
#include "vehicle-reader.h"

/* Names get at most this much of their own before " (418)" is added to part them. Bytes. */
#define NAME_BEFORE_SUFFIX 60

void nod_dbc_note(const struct nod_dbc_importer *im, const char *format, ...)
{
	char text[300];
	va_list args;

	if (!im->how->note)
		return;
	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	im->how->note(im->how->context, text);
}

/* Takes a text out of the DBC; an empty one is none. */
char *nod_dbc_take(char **text)
{
	char *taken = *text;

	*text = NULL;
	if (taken && !*taken) {
		free(taken);
		taken = NULL;
	}
	return taken;
}

/* ---- names that come twice ---- */

/* How much of a name fits, without cutting a character of UTF-8 in two. */
static int fitting(const char *name, size_t most)
{
	size_t length = strlen(name);

	if (length > most)
		for (length = most; length && ((unsigned char)name[length] & 0xC0) == 0x80;)
			length--;
	return (int)length;
}

static void part(char *out, size_t size, const char *name, const char *suffix)
{
	snprintf(out, size, "%.*s (%s)", fitting(name, NAME_BEFORE_SUFFIX), name, suffix);
}

/* The first of `name`, "name (suffix)", "name (suffix, 2)", ... that is not taken; NULL: out of memory. */
char *nod_dbc_free_name(const char *name, const char *suffix, nod_dbc_is_taken *taken,
			const void *among)
{
	char text[NOD_YAML_KEY_MAX + 1], number[32];

	snprintf(text, sizeof(text), "%.*s", fitting(name, NOD_YAML_KEY_MAX), name);
	if (!taken(among, text))
		return strdup(text);
	part(text, sizeof(text), name, suffix);
	for (unsigned i = 2; taken(among, text); i++) {
		snprintf(number, sizeof(number), "%s, %u", suffix, i);
		part(text, sizeof(text), name, number);
	}
	return strdup(text);
}

static bool is_module(const void *among, const char *name)
{
	return nod_vehicle_module_by_name(among, name) != NOD_NONE;
}

/* ---- modules ---- */

static int whole(const char *text, int least, int most)
{
	double number;

	if (!text || !nod_number_parse(&number, text) || number < least || number > most ||
	    number != floor(number))
		return -1;
	return (int)number;
}

static bool address_taken(const struct nod_vehicle *v, int address)
{
	for (size_t i = 0; i < v->module_count; i++)
		for (size_t k = 0;
		     k < v->modules[i].source_address_count + v->modules[i].node_count; k++)
			if ((k < v->modules[i].source_address_count
				     ? v->modules[i].source_addresses[k]
				     : v->modules[i]
					       .nodes[k - v->modules[i].source_address_count]) ==
			    address)
				return true;
	return false;
}

static int add_address(const struct nod_dbc_importer *im, struct nod_module *module,
		       const struct nod_dbc_node *node)
{
	const char *management = nod_dbc_value(im->dbc, "NmNode", node->management);
	int most = im->j1939 ? NOD_J1939_LAST_ADDRESS : 0xFF;
	int address = whole(node->address, 0, most), *slot;

	if (address < 0 || (!im->j1939 && (!management || strcasecmp(management, "yes"))))
		return 0;
	if (address_taken(im->vehicle, address)) {
		nod_dbc_note(im, "%s has the network-management address of another: left out",
			     module->name);
		return 0;
	}
	if (im->j1939)
		slot = nod_append(&module->source_addresses, &module->source_address_count,
				  sizeof(int));
	else
		slot = nod_append(&module->nodes, &module->node_count, sizeof(int));
	if (slot)
		*slot = address;
	return slot ? 0 : -ENOMEM;
}

static struct nod_module *add_module(struct nod_dbc_importer *im, const char *name)
{
	struct nod_vehicle *v = im->vehicle;
	char *own = nod_dbc_free_name(name, "2", is_module, v);
	struct nod_module *module = own ? nod_append(&v->modules, &v->module_count, sizeof(*module))
					: NULL;

	if (!module) {
		free(own);
		return NULL;
	}
	module->name = own;
	int *slot = im->network == NOD_NONE
			    ? NULL
			    : nod_append(&module->networks, &module->network_count, sizeof(int));
	if (slot)
		*slot = im->network;
	return slot || im->network == NOD_NONE ? module : NULL;
}

static int add_modules(struct nod_dbc_importer *im)
{
	for (size_t i = 0; i < im->dbc->node_count; i++) {
		struct nod_dbc_node *node = &im->dbc->nodes[i];
		struct nod_module *m = add_module(im,
						  node->long_name ? node->long_name : node->name);
		if (!m)
			return -ENOMEM;
		m->comment = nod_dbc_take(&node->comment);
		if (add_address(im, m, node))
			return -ENOMEM;
	}
	return 0;
}

/* The module of a node's name; one that BU_ forgot is made. NOD_NONE: out of memory. */
int nod_dbc_module_of(struct nod_dbc_importer *im, const char *name)
{
	int node = nod_name_table_find(&im->dbc->node_names, name);

	if (node != NOD_NAME_UNKNOWN)
		return node;
	int module = nod_vehicle_module_by_name(im->vehicle, name);
	if (module != NOD_NONE)
		return module;
	return add_module(im, name) ? (int)im->vehicle->module_count - 1 : NOD_NONE;
}

/* ---- all of it ---- */

static uint32_t rate_of(const struct nod_dbc_importer *im, const char *attribute,
			const char *assigned, int most)
{
	int rate = whole(nod_dbc_value(im->dbc, attribute, assigned), 5000, most);

	return rate < 0 ? 0 : (uint32_t)rate;
}

static int add_network(struct nod_dbc_importer *im)
{
	im->network = NOD_NONE;
	if (!im->how->network)
		return 0;
	im->network = nod_vehicle_add_network(im->vehicle, im->how->network, im->how->interface);
	if (im->network < 0)
		return -ENOMEM;
	struct nod_network *n = &im->vehicle->networks[0];
	n->bitrate = rate_of(im, "Baudrate", im->dbc->bitrate, 1000000);
	n->data_bitrate = rate_of(im, "BaudrateCANFD", im->dbc->data_bitrate, 8000000);
	if (im->j1939)
		n->nm.scheme = NOD_NM_J1939;
	return 0;
}

/* By what the file states, not by what a tool takes for granted: the default of the protocol
 * is often J1939 in files without one such message. */
static bool is_j1939(const struct nod_dbc_importer *im)
{
	const char *protocol = im->dbc->protocol;
	bool any = protocol &&
		   !strcasecmp(nod_dbc_value(im->dbc, "ProtocolType", protocol), "J1939");

	for (size_t i = 0; !any && i < im->dbc->message_count; i++)
		any = nod_dbc_is_j1939(im, &im->dbc->messages[i]);
	return any;
}

/* As a vehicle file gives it: written and loaded. */
static struct nod_vehicle *loaded(const struct nod_vehicle *v, const char *from,
				  struct nod_error *err)
{
	char name[200];

	snprintf(name, sizeof(name), "what %.150s became", from);
	struct nod_text_stream stream;
	struct nod_vehicle *again = NULL;

	if (nod_text_stream_open(&stream)) {
		errno = -nod_error_set(err, ENOMEM, "%s: out of memory", name);
		return NULL;
	}
	int status = nod_vehicle_write(v, stream.out), code;
	if (nod_text_stream_close(&stream) || status) {
		errno = -nod_error_set(err, ENOMEM, "%s: out of memory", name);
		return NULL;
	}
	again = nod_vehicle_parse(stream.text, stream.size, name, err);
	code = errno;
	free(stream.text);
	errno = code;
	return again;
}

static struct nod_vehicle *import(struct nod_dbc_importer *im, const char *name,
				  struct nod_error *err)
{
	int status = im->vehicle ? 0 : -ENOMEM;

	im->j1939 = is_j1939(im);
	if (!status)
		status = add_network(im);
	if (!status)
		status = add_modules(im);
	if (!status)
		status = nod_dbc_add_messages(im);
	if (status) {
		errno = -nod_error_set(err, ENOMEM, "%s: out of memory", name);
		return NULL;
	}
	if (!im->vehicle->message_count && !im->vehicle->module_count) {
		errno = -nod_error_set(err, EINVAL,
				       "%s: neither nodes nor messages stand in the file, "
				       "expected lines such as `BO_ 418 Name: 8 Sender`",
				       name);
		return NULL;
	}
	return loaded(im->vehicle, name, err);
}

struct nod_vehicle *nod_dbc_import(const char *text, size_t length, const char *name,
				   const struct nod_dbc_import *how, struct nod_error *err)
{
	struct nod_dbc_importer im = {.how = how, .name = name};
	struct nod_vehicle *vehicle = NULL;
	size_t size;

	if (length > NOD_DBC_BYTES_MAX) {
		errno = -nod_error_set(err, EFBIG, "%s: larger than %u MiB, expected a DBC file",
				       name, NOD_DBC_BYTES_MAX >> 20);
		return NULL;
	}
	char *utf8 = nod_utf8_from(text, length, &size);
	if (!utf8) {
		errno = -nod_error_set(err, ENOMEM, "%s: out of memory", name);
		return NULL;
	}
	im.dbc = nod_dbc_parse(utf8, size, name, err);
	int code = errno;
	free(utf8);
	if (im.dbc) {
		im.vehicle = nod_vehicle_new();
		vehicle = import(&im, name, err);
		code = errno;
	}
	nod_vehicle_free(im.vehicle);
	nod_dbc_free(im.dbc);
	errno = code;
	return vehicle;
}
