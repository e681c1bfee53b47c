/* SPDX-License-Identifier: MIT */
/* Which interfaces nodoffd listens to: part of daemon.h. */
#include <dirent.h>
#include <errno.h>
#include <net/if.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock-watch.h"
#include "daemon-internal.h"
#include "vehicle.h"

/* sys/class/net/NAME/type of a CAN interface (ARPHRD_CAN, linux/if_arp.h). */
#define TYPE_CAN 280

static bool is_can_interface(const char *name)
{
	char path[sizeof("/sys/class/net//type") + NAME_MAX];
	char type[16] = "";
	FILE *file;

	snprintf(path, sizeof(path), "/sys/class/net/%s/type", name);
	file = fopen(path, "re");
	if (!file)
		return false;
	bool known = fgets(type, sizeof(type), file);
	fclose(file);
	return known && strtoul(type, NULL, 10) == TYPE_CAN;
}

static void take_timing(struct nod_interface_settings *settings, const struct nod_network *network)
{
	settings->data_bitrate = network->data_bitrate;
	settings->sample_point = (uint32_t)network->sample_point;
	settings->data_sample_point = (uint32_t)network->data_sample_point;
}

static int add_tap(struct nod_daemon *daemon, const struct nod_vehicle *vehicle, const char *name,
		   uint32_t bitrate, struct nod_error *err)
{
	struct nod_tap *tap = &daemon->taps[daemon->tap_count];
	int network = vehicle ? nod_vehicle_network_of_interface(vehicle, name) : NOD_NONE;

	if (daemon->tap_count == NOD_TAPS_MAX)
		return nod_error_set(err, EINVAL, "more than %d interfaces", NOD_TAPS_MAX);
	if (strlen(name) >= IFNAMSIZ)
		return nod_error_set(err, EINVAL, "`%s` is no name of an interface", name);
	if (nod_interfaces_index(&daemon->interfaces, name, strlen(name)) != (int)daemon->tap_count)
		return nod_error_set(err, EINVAL, "%s is given twice", name);
	struct nod_listener listener = tap->listener;
	memset(tap, 0, sizeof(*tap));
	tap->listener = listener;
	strcpy(tap->interface, name);
	strcpy(tap->called, name);
	tap->settings.bitrate = bitrate;
	if (!bitrate && network != NOD_NONE)
		tap->settings.bitrate = vehicle->networks[network].bitrate;
	if (network != NOD_NONE)
		take_timing(&tap->settings, &vehicle->networks[network]);
	tap->searching = !tap->settings.bitrate;
	tap->since = tap->gap_from = nod_clock_now();
	tap->switcher = &daemon->switcher;
	daemon->tap_count++;
	return 0;
}

/* The interface of a network that is there, else its first. */
static const char *interface_of(const struct nod_network *network)
{
	for (size_t i = 0; i < network->interface_count; i++)
		if (is_can_interface(network->interfaces[i]))
			return network->interfaces[i];
	return network->interface_count ? network->interfaces[0] : NULL;
}

static int add_networks(struct nod_daemon *daemon, const struct nod_vehicle *vehicle,
			struct nod_error *err)
{
	int status = 0;

	for (size_t i = 0; i < vehicle->network_count && !status; i++) {
		const char *name = interface_of(&vehicle->networks[i]);
		if (name)
			status = add_tap(daemon, vehicle, name, 0, err);
	}
	return status;
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
	return strverscmp((*a)->d_name, (*b)->d_name);
}

static int add_all_present(struct nod_daemon *daemon, struct nod_error *err)
{
	struct dirent **entries;
	int status = 0, count = scandir("/sys/class/net", &entries, NULL, by_name);

	for (int i = 0; i < count; i++) {
		if (!status && is_can_interface(entries[i]->d_name))
			status = add_tap(daemon, NULL, entries[i]->d_name, 0, err);
		free(entries[i]);
	}
	if (count >= 0)
		free(entries);
	return status;
}

static int choose(struct nod_daemon *daemon, const struct nod_vehicle *vehicle,
		  struct nod_error *err)
{
	const struct nod_options *options = daemon->options;
	int status = 0;

	for (size_t i = 0; i < options->interface_count && !status; i++)
		status = add_tap(daemon, vehicle, options->interfaces[i].name,
				 options->interfaces[i].bitrate, err);
	if (!status && !daemon->tap_count && vehicle)
		status = add_networks(daemon, vehicle, err);
	if (!status && !daemon->tap_count)
		status = add_all_present(daemon, err);
	if (!status && !daemon->tap_count)
		return nod_error_set(err, ENODEV,
				     "there is no CAN interface; plug an adapter in, or name "
				     "one with --interface and plug it in later");
	return status;
}

int nod_daemon_choose_taps(struct nod_daemon *daemon, struct nod_error *err)
{
	const struct nod_options *options = daemon->options;
	struct nod_vehicle *vehicle;
	int status;

	daemon->as_needed = !options->record && !options->vehicle && !options->interface_count;
	if (daemon->as_needed)
		return 0;
	vehicle = options->vehicle ? nod_vehicle_load(options->vehicle, err) : NULL;
	if (options->vehicle && !vehicle)
		return -errno;
	status = choose(daemon, vehicle, err);
	nod_vehicle_free(vehicle);
	return status;
}

int nod_daemon_open_taps(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = 0;

	for (size_t i = 0; i < NOD_TAPS_MAX && !status; i++) {
		status = nod_listener_open(&daemon->taps[i].listener, (uint8_t)i, NOD_LANE_TAPS + i,
					   err);
		daemon->socket_count += !status;
	}
	return status;
}

static void release_all(struct nod_daemon *daemon)
{
	for (size_t i = 0; i < daemon->tap_count; i++) {
		nod_tap_release(&daemon->taps[i]);
		nod_listener_renew(&daemon->taps[i].listener);
	}
	daemon->tap_count = 0;
	daemon->interfaces.count = 0;
}

void nod_daemon_close_taps(struct nod_daemon *daemon)
{
	release_all(daemon);
	for (size_t i = 0; i < daemon->socket_count; i++)
		nod_listener_close(&daemon->taps[i].listener);
	daemon->socket_count = 0;
}

/* ---- for one recording ---- */

/* Listens to others from now on; without a vehicle as `path` says, to those of the options. */
static int change_taps(struct nod_daemon *daemon, const char *path,
		       const struct nod_vehicle *vehicle, bool any, struct nod_error *err)
{
	nod_daemon_flush(daemon);
	release_all(daemon);
	int status = any ? choose(daemon, vehicle, err) : 0;
	if (status)
		release_all(daemon); /* none is half chosen */
	daemon->live.vehicle_path = path;
	nod_time now = nod_daemon_mark_time(daemon);
	nod_live_renew(&daemon->live, now);
	nod_daemon_begin_gaps(daemon, now);
	return status ? status : nod_daemon_watch_links(daemon, err);
}

/* The map as a file: it is read again with each new analysis, and copied into the session. */
static int keep_map(struct nod_daemon *daemon, const char *map, struct nod_error *err)
{
	const char *sessions = daemon->options->sessions;
	int length = snprintf(daemon->map, sizeof(daemon->map), "%s/.map.yaml", sessions);
	FILE *file = length < (int)sizeof(daemon->map) ? fopen(daemon->map, "we") : NULL;
	int code = errno;
	bool written = file && fputs(map, file) >= 0;

	if (file && fclose(file))
		written = false;
	if (written)
		return 0;
	daemon->map[0] = '\0';
	return nod_error_set(err, file ? EIO : code, "%s: the map cannot be kept: %s", sessions,
			     strerror(file ? EIO : code));
}

int nod_daemon_take_adapters(struct nod_daemon *daemon, const char *map, struct nod_error *err)
{
	const char *path = daemon->options->vehicle;
	struct nod_vehicle *vehicle = NULL;
	int status = 0;

	if (map && !(vehicle = nod_vehicle_parse(map, strlen(map), "vehicle", err)))
		return -errno;
	if (map)
		status = keep_map(daemon, map, err);
	if (!status)
		status = change_taps(daemon, map ? daemon->map : path, vehicle, true, err);
	nod_vehicle_free(vehicle);
	if (status)
		nod_daemon_leave_adapters(daemon);
	return status;
}

void nod_daemon_leave_adapters(struct nod_daemon *daemon)
{
	const char *path = daemon->options->vehicle;
	struct nod_error err = {""};

	if (!daemon->as_needed && !daemon->map[0])
		return;
	struct nod_vehicle *vehicle = path ? nod_vehicle_load(path, &err) : NULL;
	daemon->map[0] = '\0';
	if ((path && !vehicle) || change_taps(daemon, path, vehicle, !daemon->as_needed, &err))
		nod_daemon_say("%s", err.text);
	nod_vehicle_free(vehicle);
}
