/* SPDX-License-Identifier: MIT */
/* From the text of a vehicle file to struct nod_vehicle. */
#include <errno.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "file-read.h"
#include "message-index.h"
#include "vehicle-index.h"
#include "vehicle-reader.h"

/* Limits of what makes sense; chosen. */
#define KEY_OFF_LEAST_UA 1000
#define KEY_OFF_MOST_UA 10000000
#define CAPACITY_LEAST_MAH 1000
#define CAPACITY_MOST_MAH 2000000
#define RESERVE_LEAST (60 * NOD_NS_PER_S)
#define RESERVE_MOST (24 * 3600 * NOD_NS_PER_S)

static int read_key_off(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	r->vehicle->key_off_current_given = true;
	return nod_read_quantity(r, key, value, object);
}

/* clang-format off */
static const struct nod_key limit_keys[] = {
	{.name = "key-off current", .what = "the key-off current", .read = read_key_off,
	 .at = offsetof(struct nod_vehicle, key_off_current_ua), .unit = NOD_UNIT_AMPERE,
	 .micro = 1, .least = KEY_OFF_LEAST_UA, .most = KEY_OFF_MOST_UA},
	{.name = NULL},
};
/* clang-format on */

static int read_battery_type(struct nod_reader *r, const struct nod_key *key,
			     const yaml_node_t *value, void *object)
{
	static const char *const words[] = {"flooded", "agm", NULL};
	struct nod_battery_data *battery = object;
	int word = nod_read_word(r, value, key->what, words);

	if (word < 0)
		return word;
	battery->type = strdup(words[word]);
	return battery->type ? 0 : nod_yaml_out_of_memory(&r->yaml);
}

static int read_reserve(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	struct nod_key plain = {
		.what = key->what, .count = NOD_NO_FLAG, .least = key->least, .most = key->most};
	struct nod_battery_data *battery = object;
	nod_duration d;
	int status = nod_read_duration(r, &plain, value, &d);

	if (!status)
		battery->reserve_minutes = d.ns / (60 * NOD_NS_PER_S);
	return status;
}

/* clang-format off */
static const struct nod_key battery_keys[] = {
	{.name = "type", .what = "a battery type", .read = read_battery_type},
	{.name = "capacity", .what = "the capacity", .read = nod_read_quantity,
	 .at = offsetof(struct nod_battery_data, capacity_mah), .unit = NOD_UNIT_AMPERE_HOUR,
	 .micro = 1000, .least = CAPACITY_LEAST_MAH, .most = CAPACITY_MOST_MAH},
	{.name = "reserve", .what = "the reserve", .read = read_reserve, .least = RESERVE_LEAST,
	 .most = RESERVE_MOST},
	{.name = NULL},
};
/* clang-format on */

static int read_limits(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	return nod_read_object(r, value, key->what, limit_keys, object);
}

static int read_battery(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	(void)object;
	return nod_read_object(r, value, key->what, battery_keys, &r->vehicle->battery);
}

static int read_networks(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			 void *object)
{
	(void)object;
	return nod_yaml_each_pair(&r->yaml, value, key->what, nod_read_network, r);
}

static int read_fuses(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	(void)object;
	return nod_yaml_each_pair(&r->yaml, value, key->what, nod_read_fuse, r);
}

static int read_modules(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	(void)object;
	return nod_yaml_each_pair(&r->yaml, value, key->what, nod_read_module, r);
}

static int read_messages(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			 void *object)
{
	(void)object;
	return nod_yaml_each_pair(&r->yaml, value, key->what, nod_read_message, r);
}

static int skip(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		void *object)
{
	(void)r, (void)key, (void)value, (void)object;
	return 0;
}

/* Modules and messages refer to networks and fuses, wherever those stand in the file, so
 * they are read in a second pass. */
static const struct nod_key first_pass[] = {
	{.name = "vehicle",
	 .what = "a title",
	 .read = nod_read_text,
	 .at = offsetof(struct nod_vehicle, title)},
	{.name = "limits", .what = "limits", .read = read_limits},
	{.name = "battery", .what = "battery data", .read = read_battery},
	{.name = "networks", .what = "networks", .read = read_networks},
	{.name = "fuses", .what = "fuses", .read = read_fuses},
	{.name = "modules", .read = skip},
	{.name = "messages", .read = skip},
	{.name = NULL},
};

static const struct nod_key second_pass[] = {
	{.name = "vehicle", .read = skip},
	{.name = "limits", .read = skip},
	{.name = "battery", .read = skip},
	{.name = "networks", .read = skip},
	{.name = "fuses", .read = skip},
	{.name = "modules", .what = "modules", .read = read_modules},
	{.name = "messages", .what = "messages", .read = read_messages},
	{.name = NULL},
};

static int read_file(struct nod_reader *r)
{
	const yaml_node_t *root = yaml_document_get_root_node(&r->yaml.document);
	int status;

	if (!root)
		return nod_error_at(r->yaml.err, EINVAL, r->yaml.name, 1, 1,
				    "the file is empty, expected at least `networks:`");
	status = nod_read_object(r, root, "a vehicle file", first_pass, r->vehicle);
	if (!status)
		status = nod_read_object(r, root, "a vehicle file", second_pass, r->vehicle);
	if (!status && !r->vehicle->network_count && !r->vehicle->message_count &&
	    !r->vehicle->module_count)
		status = nod_yaml_error(&r->yaml, root,
					"no network stands in the file, expected at least one "
					"under `networks:`");
	if (!status)
		status = nod_vehicle_check(r->vehicle, &r->claims, r->yaml.name, r->yaml.err);
	if (!status)
		status = nod_messages_check(r->vehicle, r->yaml.name, r->yaml.err);
	return status;
}

/* Everything but the document. */
static int finish(struct nod_reader *r, const char *name)
{
	r->vehicle->path = strdup(name);
	if (!r->vehicle->path || nod_vehicle_index(r->vehicle))
		return nod_yaml_out_of_memory(&r->yaml);
	return 0;
}

static int parse(struct nod_reader *r, const char *text, size_t length, const char *name,
		 struct nod_error *err)
{
	int status = nod_yaml_load(&r->yaml, text, length, name, err);

	if (status)
		return status;
	status = read_file(r);
	if (!status)
		status = finish(r, name);
	nod_yaml_clear(&r->yaml);
	nod_name_table_clear(&r->network_names);
	nod_name_table_clear(&r->fuse_names);
	free(r->claims.items);
	return status;
}

struct nod_vehicle *nod_vehicle_parse(const char *text, size_t length, const char *name,
				      struct nod_error *err)
{
	struct nod_reader r = {.vehicle = nod_vehicle_new()};
	int status = r.vehicle ? parse(&r, text, length, name, err)
			       : nod_error_set(err, ENOMEM, "%s: out of memory", name);

	if (!status)
		return r.vehicle;
	nod_vehicle_free(r.vehicle);
	errno = -status;
	return NULL;
}

struct nod_vehicle *nod_vehicle_load(const char *path, struct nod_error *err)
{
	size_t length;
	char *text = nod_file_read(path, NOD_YAML_BYTES_MAX, &length, err);

	if (!text)
		return NULL;
	struct nod_vehicle *vehicle = nod_vehicle_parse(text, length, path, err);
	int code = errno;
	free(text);
	errno = code;
	return vehicle;
}
