/* SPDX-License-Identifier: MIT */
/* nodoff page: what nodoffd hears, on a phone. */
#include <arpa/inet.h>
#include <errno.h>
#include <ifaddrs.h>
#include <math.h>
#include <net/if.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "client.h"
#include "command.h"
#include "door.h"
#include "option.h"
#include "page.h"
#include "page-server.h"
#include "settings.h"

int nod_cmd_page(int argc, char **argv);

/* Chosen: above the ports of services, and in none of the usual lists (/etc/services). */
#define PORT 8474

static const char help[] =
	"usage: nodoff page [--on ADDRESS[:PORT]] [--socket PATH]\n"
	"       nodoff page [--on ADDRESS[:PORT]] [--speed N] SESSION\n"
	"\n"
	"Shows what nodoffd hears on a phone: which networks are awake, the time to go,\n"
	"the current, who is suspected and what to do next, with buttons that put marks\n"
	"into the journal at the moment they are tapped. Prints the link and a code to\n"
	"scan. The link has a key that ends with this command; whoever has it may read\n"
	"the page and make marks, and can do nothing else. Several phones may use it.\n"
	"\n"
	"With a SESSION (or a capture) it plays that again, for practice: what is tapped is\n"
	"judged, but written nowhere.\n"
	"\n"
	"  --on ADDRESS       the laptop's address to listen on, as that of its hotspot, with\n"
	"                     :PORT or not [127.0.0.1:8474]\n"
	"  --speed N          plays N times as fast as it was recorded [1]\n" NOD_CLIENT_HELP;

static volatile sig_atomic_t is_over;

static void end(int number)
{
	(void)number;
	is_over = 1;
}

int nod_page_is_over(void)
{
	return is_over;
}

/* Addresses at which a phone could reach this machine, for who gave none. */
static void list_addresses(void)
{
	struct ifaddrs *all, *one;
	char text[INET_ADDRSTRLEN];

	if (getifaddrs(&all))
		return;
	for (one = all; one; one = one->ifa_next) {
		if (!one->ifa_addr || one->ifa_addr->sa_family != AF_INET ||
		    one->ifa_flags & IFF_LOOPBACK)
			continue;
		const struct sockaddr_in *in = (const void *)one->ifa_addr;
		printf("  --on %-15s  %s\n", inet_ntop(AF_INET, &in->sin_addr, text, sizeof(text)),
		       one->ifa_name);
	}
	freeifaddrs(all);
}

static void say_ready(const char *address)
{
	nod_door_allow_colours();
	if (isatty(STDOUT_FILENO) && !nod_page_code(stdout, address))
		fprintf(stderr, "nodoff: the code to scan could not be made\n");
	printf("%s\n", address);
	if (strstr(address, "//127.")) {
		printf("Only this machine can open it. For a phone, listen on one of:\n");
		list_addresses();
	}
	printf("Ends with Ctrl-C, and the link with it.\n");
	fflush(stdout);
}

void nod_page_tell(const struct nod_page *page, const struct nod_page_options *options,
		   nod_page_ready *ready)
{
	char host[INET_ADDRSTRLEN], address[128];

	inet_ntop(AF_INET, &options->where.sin_addr, host, sizeof(host));
	snprintf(address, sizeof(address), "http://%s:%d/%s/", host, nod_page_port(page),
		 nod_page_key(page));
	ready(address);
}

static bool parse_where(struct sockaddr_in *where, const char *text)
{
	const char *colon = strchr(text, ':');
	char host[INET_ADDRSTRLEN], *rest;
	size_t length = colon ? (size_t)(colon - text) : strlen(text);
	unsigned long port = PORT;

	if (length >= sizeof(host))
		return false;
	memcpy(host, text, length);
	host[length] = 0;
	if (colon) {
		errno = 0;
		port = strtoul(colon + 1, &rest, 10);
		if (errno || rest == colon + 1 || *rest || port > 65535)
			return false;
	}
	where->sin_family = AF_INET;
	where->sin_port = htons((uint16_t)port);
	return inet_pton(AF_INET, host, &where->sin_addr) == 1;
}

static bool parse_speed(double *speed, const char *text)
{
	char *rest;

	*speed = strtod(text, &rest);
	return rest != text && !*rest && isfinite(*speed) && *speed > 0 && *speed <= 100000;
}

static int run(const struct nod_page_options *options)
{
	struct nod_error err = {""};
	struct sigaction action = {.sa_handler = end};

	sigaction(SIGINT, &action, NULL);
	sigaction(SIGTERM, &action, NULL);
	signal(SIGPIPE, SIG_IGN);
	int status = options->session ? nod_page_replay(options, say_ready, &err)
				      : nod_page_live(options, say_ready, &err);
	return status ? nod_unreadable("%s", err.text) : nod_option_finish();
}

static int take_where(void *self, const struct nod_given *given)
{
	struct nod_page_options *o = self;

	return parse_where(&o->where, given->value)
		       ? NOD_EXIT_OK
		       : nod_given_wrong(given, "an address as 192.0.2.1 or 192.0.2.1:8474");
}

static int take_speed(void *self, const struct nod_given *given)
{
	struct nod_page_options *o = self;

	return parse_speed(&o->speed, given->value)
		       ? NOD_EXIT_OK
		       : nod_given_wrong(given, "a number up to 100000");
}

int nod_cmd_page(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TAKE(0, "on", take_where),
		NOD_TAKE(0, "speed", take_speed),
		NOD_TEXT(0, "socket", struct nod_page_options, socket),
		{0}};
	static const struct nod_options options = {.command = "page", .help = help, .list = list};
	struct nod_page_options o = {.speed = 1};
	int status, first;

	parse_where(&o.where, "127.0.0.1");
	first = nod_options_walk(&options, &o, argc, argv, &status);
	if (!first)
		return status;
	if (first + 1 < argc)
		return nod_usage("page", "`%s` is not expected", argv[first + 1]);
	o.session = argv[first] ? nod_find_session(argv[first]) : NULL;
	return run(&o);
}
