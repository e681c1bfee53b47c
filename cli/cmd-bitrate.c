/* SPDX-License-Identifier: MIT */
/* nodoff bitrate: finds the bitrate of a network by listening only. */
#include <errno.h>
#include <ev.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bitrate.h"
#include "clock-watch.h"
#include "command.h"
#include "interface.h"
#include "listener.h"
#include "lockdown.h"
#include "lockdown-files.h"
#include "netlink-watch.h"
#include "option.h"
#include "privileges.h"
#include "receivers.h"
#include "switcher.h"

int nod_cmd_bitrate(int argc, char **argv);

static const char help[] =
	"usage: nodoff bitrate INTERFACE [--seconds N] [RATE ...]\n"
	"\n"
	"Finds the bitrate of a network by listening only: sets the controller to\n"
	"listen-only at one rate after the other and looks for frames. A frame that\n"
	"arrives whole was read at the right rate (its checksum says so); at a wrong\n"
	"one there are only error reports. The network must be awake. The interface\n"
	"must be down or listen-only, and is left as it was. One that another program\n"
	"listens to, such as nodoffd, is not taken.\n"
	"\n"
	"  --seconds N        how long to listen at each rate, where that is not said\n"
	"                     sooner [2]\n"
	"  RATE ...           bit/s, also 500k [500000 250000 125000 1000000 100000 83333\n"
	"                     50000 33333]\n"
	"  --json             an object a line for each rate that is tried\n";

#define RATES_MAX 32

struct search {
	const char *interface;
	int seconds;
	uint32_t rates[RATES_MAX];
	size_t rate_count;
	bool json;
	struct nod_link link;  /* index 0: not seen */
	struct nod_link found; /* as it was before */
	struct nod_listener listener;
	struct nod_netlink_watch *watch;
	struct nod_switcher switcher;
};

static void link_seen(void *context, const struct nod_link *link, bool gone)
{
	struct search *search = context;

	if (!strcmp(link->name, search->interface) && !gone)
		search->link = *link;
}

/* Listens until it can be said, at most for so many seconds. */
static enum nod_bitrate_step listen_for(struct search *search, struct nod_bitrate_heard *heard)
{
	struct nod_listener *listener = &search->listener;
	int64_t end = nod_clock_monotonic().ns + search->seconds * NOD_NS_PER_S, now;
	struct pollfd waiting = {listener->fd, POLLIN, 0};
	enum nod_bitrate_step step;

	listener->tried = (struct nod_bitrate_heard){0, 0};
	do {
		now = nod_clock_monotonic().ns;
		if (now < end)
			poll(&waiting, 1, (int)((end - now) / NOD_NS_PER_MS) + 1);
		nod_listener_read(listener, NULL, 1024);
		step = nod_bitrate_judge(listener->tried, now >= end);
	} while (step == NOD_BITRATE_LISTEN);
	*heard = listener->tried;
	return step;
}

/* Sets the interface up at a rate, listens, and switches it off again. */
static int try_rate(struct search *search, uint32_t rate, enum nod_bitrate_step *step,
		    struct nod_bitrate_heard *heard, struct nod_error *err)
{
	struct nod_interface_settings settings = {.bitrate = rate};
	int status = nod_switcher_listen(&search->switcher, &search->link, &settings, err);

	if (status)
		return status;
	nod_netlink_watch_list(search->watch);
	if (nod_interface_judge(&search->link, &settings, err) != NOD_USE_READY &&
	    !search->link.listen_only)
		status = -EPERM; /* err says why */
	if (!status)
		status = nod_listener_bind(&search->listener, search->link.index, false);
	if (!status)
		*step = listen_for(search, heard);
	nod_listener_mute(&search->listener);
	nod_switcher_off(&search->switcher, &search->link, NULL);
	return status;
}

/* heard NULL: the controller cannot be set to the rate. */
static void tell(const struct search *search, uint32_t rate, const struct nod_bitrate_heard *heard,
		 bool found)
{
	if (search->json)
		nod_option_print_json_line(
			json_pack("{s:s, s:I, s:b, s:I, s:I, s:b}", "interface", search->interface,
				  "rate", (json_int_t)rate, "possible", heard != NULL, "frames",
				  heard ? (json_int_t)heard->frames : 0, "errors",
				  heard ? (json_int_t)heard->errors : 0, "found", (int)found));
	else if (!heard)
		printf("%7u bit/s: the controller cannot\n", rate);
	else
		printf("%7u bit/s: %llu frames, %llu error reports\n", rate,
		       (unsigned long long)heard->frames, (unsigned long long)heard->errors);
	if (found && !search->json)
		printf("%s runs at %u bit/s\n", search->interface, rate);
	fflush(stdout);
}

static int try_all(struct search *search, struct nod_error *err)
{
	for (size_t i = 0; i < search->rate_count; i++) {
		enum nod_bitrate_step step = NOD_BITRATE_NEXT;
		struct nod_bitrate_heard heard;
		int status = try_rate(search, search->rates[i], &step, &heard, err);
		if (status == -EPERM || status == -ENODEV)
			return status;
		tell(search, search->rates[i], status ? NULL : &heard, step == NOD_BITRATE_FOUND);
		if (step == NOD_BITRATE_FOUND)
			return 1;
	}
	return 0;
}

/* Only what is down or passive may be taken. */
static int find_interface(struct search *search, struct nod_error *err)
{
	search->watch = nod_netlink_watch_new(ev_default_loop(0), link_seen, search, err);
	if (!search->watch)
		return -errno;
	nod_netlink_watch_list(search->watch);
	if (!search->link.index)
		return nod_error_set(err, ENODEV, "there is no CAN interface %s",
				     search->interface);
	if (nod_link_is_virtual(&search->link) || !search->link.has_mode)
		return nod_error_set(err, EINVAL, "%s has no controller with a bitrate",
				     search->interface);
	if (nod_receivers_found(NOD_RECEIVERS_DIRECTORY, search->interface))
		return nod_error_set(err, EBUSY,
				     "another program listens to %s now, nodoffd perhaps, "
				     "and would hear no more: end it first",
				     search->interface);
	if (search->link.up && !search->link.listen_only)
		return nod_error_set(err, EBUSY,
				     "%s is up and not listen-only; switch it off first "
				     "(ip link set %s down)",
				     search->interface, search->interface);
	return 0;
}

/* Everything is opened, and then the process gives up what could send, or
 * change an interface: the switcher does that. */
static int prepare(struct search *search, struct nod_error *err)
{
	const struct nod_account nobody_else = {.name = NULL, .joins = (gid_t)-1};
	int status = nod_switcher_start(&search->switcher, &nobody_else, err);

	if (!status)
		status = find_interface(search, err);
	if (!status)
		status = nod_listener_open(&search->listener, 0, 0, err);
	if (!status)
		status = nod_privileges_drop(&nobody_else, NOD_PRIVILEGES_NONE, err);
	if (!status)
		status = nod_lockdown_files(NULL, NULL, err);
	if (status >= 0)
		status = nod_lockdown(NOD_LOCKDOWN_NO_SOCKETS, err);
	search->listener.trying = true;
	search->found = search->link;
	if (!status && search->found.up)
		status = nod_switcher_off(&search->switcher, &search->link, err);
	return status;
}

static int run(struct search *search)
{
	struct nod_error err = {""};
	int status;

	search->listener.fd = -1;
	search->switcher = (struct nod_switcher)NOD_SWITCHER_NONE;
	status = prepare(search, &err);
	if (!status)
		status = try_all(search, &err);
	if (search->found.up) /* as it was */
		nod_switcher_listen(&search->switcher, &search->link, &search->found.set, NULL);
	nod_listener_close(&search->listener);
	nod_netlink_watch_free(search->watch);
	nod_switcher_stop(&search->switcher);
	if (status < 0)
		return nod_unreadable("%s", err.text);
	if (!status && !search->json)
		printf("nothing was heard whole at any rate: is the network awake, and CANH and "
		       "CANL on the right pins?\n");
	return status ? nod_option_finish() : NOD_EXIT_FAILED;
}

static int parse_rates(struct search *search, char **words)
{
	for (; *words; words++) {
		uint64_t rate;
		if (!nod_bitrate_parse(&rate, *words) || rate < 5000 || rate > 1000000 ||
		    search->rate_count == RATES_MAX)
			return nod_usage("bitrate", "`%s` is no bitrate of 5000 to 1000000 bit/s",
					 *words);
		search->rates[search->rate_count++] = (uint32_t)rate;
	}
	if (!search->rate_count) {
		search->rate_count = NOD_BITRATE_USUAL_COUNT;
		memcpy(search->rates, nod_bitrate_usual, sizeof(nod_bitrate_usual));
	}
	return 0;
}

static int take_seconds(void *self, const struct nod_given *given)
{
	struct search *search = self;

	char *end;
	long seconds = strtol(given->value, &end, 10);
	if (end == given->value || *end || seconds < 1 || seconds > 3600)
		return nod_usage("bitrate", "expected 1 to 3600 seconds");
	search->seconds = (int)seconds;
	return NOD_EXIT_OK;
}

int nod_cmd_bitrate(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TAKE(0, "seconds", take_seconds),
						 NOD_FLAG(0, "json", struct search, json),
						 {0}};
	static const struct nod_options options = {
		.command = "bitrate", .help = help, .list = list};
	struct search search = {.seconds = 2};
	int status, first = nod_options_walk(&options, &search, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("bitrate", "expected an interface");
	search.interface = argv[first];
	status = parse_rates(&search, argv + first + 1);
	return status ? status : run(&search);
}
