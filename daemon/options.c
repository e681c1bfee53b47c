/* SPDX-License-Identifier: MIT */
#include "options.h"

#include <errno.h>
#include <getopt.h>
#include <net/if.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bitrate.h"
#include "interface.h"

static const char help[] =
	"nodoffd: listens to the networks of a parked car, records and judges them\n"
	"\n"
	"usage: nodoffd [OPTION ...]\n"
	"\n"
	"  -v, --vehicle FILE     the map of the car: networks, bitrates, modules, fuses\n"
	"  -i, --interface NAME[=BITRATE]\n"
	"                         listen to this interface; may be given several times.\n"
	"                         Without it: one interface for every network of the\n"
	"                         vehicle file, or every CAN interface there is. A bitrate\n"
	"                         that nobody says is found by listening\n"
	"  -s, --socket PATH      where `nodoff` talks to it [root: " NOD_SERVICE_SOCKET ",\n"
	"                         others: $XDG_RUNTIME_DIR/nodoff/nodoff.sock]\n"
	"  -g, --group NAME       the members of this group may use the socket\n"
	"  -u, --user NAME        started by root: become this user\n"
	"  -d, --sessions DIR     where recordings go [root: " NOD_SERVICE_SESSIONS ", others:\n"
	"                         $XDG_DATA_HOME/nodoff/sessions]\n"
	"  -c, --current SOURCE   take the battery current from a file or pipe, a serial\n"
	"                         line (/dev/ttyUSB0@9600), tcp:HOST:PORT, unix:PATH, or\n"
	"                         a sysfs channel (/sys/.../in_current0_raw)\n"
	"  -n, --no-record        do not start a session; wait for `nodoff record`. With no\n"
	"                         -v and no -i, adapters are taken when a recording begins\n"
	"                         and left as they were found when it ends\n"
	"  -h, --help             this text\n"
	"      --version          the version\n"
	"\n"
	"It stays in the foreground and ends on SIGTERM or SIGINT. After its start it has\n"
	"no capability left, so that root without --user can write only what belongs to\n"
	"root. Setting interfaces up needs CAP_NET_ADMIN, which a helper process keeps;\n"
	"without it, those are used that somebody else has set up. Interfaces that are\n"
	"down are set to listen-only and switched on; one that is already up in a mode\n"
	"that acknowledges frames is reported and not used. nodoffd cannot send: after\n"
	"its start the kernel refuses every write to a CAN socket.\n";

/* clang-format off */
static const struct option long_options[] = {
	{"vehicle", required_argument, NULL, 'v'},   {"interface", required_argument, NULL, 'i'},
	{"socket", required_argument, NULL, 's'},    {"group", required_argument, NULL, 'g'},
	{"sessions", required_argument, NULL, 'd'},  {"current", required_argument, NULL, 'c'},
	{"user", required_argument, NULL, 'u'},	     {"no-record", no_argument, NULL, 'n'},
	{"help", no_argument, NULL, 'h'},	     {"version", no_argument, NULL, 'V'},
	{NULL, 0, NULL, 0},
};
/* clang-format on */

static int parse_bitrate(uint32_t *bitrate, const char *text, struct nod_error *err)
{
	uint64_t value;

	if (!nod_bitrate_parse(&value, text) || value < NOD_BITRATE_MIN || value > NOD_BITRATE_MAX)
		return nod_error_set(err, EINVAL, "expected a bitrate of %d to %d bit/s, not `%s`",
				     NOD_BITRATE_MIN, NOD_BITRATE_MAX, text);
	*bitrate = (uint32_t)value;
	return 0;
}

static int add_interface(struct nod_options *options, char *text, struct nod_error *err)
{
	struct nod_interface_option *option = &options->interfaces[options->interface_count];
	char *equals = strchr(text, '=');

	if (options->interface_count == NOD_TAPS_MAX)
		return nod_error_set(err, EINVAL, "more than %d interfaces", NOD_TAPS_MAX);
	if (equals)
		*equals++ = 0;
	if (!*text || strlen(text) >= IFNAMSIZ)
		return nod_error_set(err, EINVAL, "`%s` is no name of an interface", text);
	for (size_t i = 0; i < options->interface_count; i++)
		if (!strcmp(options->interfaces[i].name, text))
			return nod_error_set(err, EINVAL, "%s is given twice", text);
	option->name = text;
	options->interface_count++;
	return equals ? parse_bitrate(&option->bitrate, equals, err) : 0;
}

static int take_option(struct nod_options *options, int letter, struct nod_error *err)
{
	switch (letter) {
	case 'v':
		options->vehicle = optarg;
		return 0;
	case 'i':
		return add_interface(options, optarg, err);
	case 's':
		options->socket = optarg;
		return 0;
	case 'g':
		options->group = optarg;
		return 0;
	case 'u':
		options->user = optarg;
		return 0;
	case 'd':
		options->sessions = optarg;
		return 0;
	case 'c':
		options->current = optarg;
		return 0;
	case 'n':
		options->record = false;
		return 0;
	case 'h':
		fputs(help, stdout);
		return 1;
	case 'V':
		puts("nodoffd " NOD_VERSION);
		return 1;
	default:
		return nod_error_set(err, EINVAL, "try `nodoffd --help`");
	}
}

/* Nobody but root and the service can write to the service's. */
static const char *place(const char *given, const char *service, enum nod_own own, const char *name,
			 char buf[PATH_MAX])
{
	if (given)
		return given;
	return geteuid() && !nod_own_path(buf, own, name) ? buf : service;
}

static void choose_places(struct nod_options *o)
{
	o->socket = place(o->socket, NOD_SERVICE_SOCKET, NOD_OWN_RUNTIME, "nodoff.sock",
			  o->own_socket);
	o->sessions = place(o->sessions, NOD_SERVICE_SESSIONS, NOD_OWN_DATA, "sessions",
			    o->own_sessions);
}

int nod_options_parse(struct nod_options *options, int argc, char **argv, struct nod_error *err)
{
	int letter, status = 0;

	*options = (struct nod_options){.record = true};
	optind = 1;
	while (!status &&
	       (letter = getopt_long(argc, argv, "v:i:s:g:u:d:c:nhV", long_options, NULL)) != -1)
		status = take_option(options, letter, err);
	if (!status && optind < argc)
		return nod_error_set(err, EINVAL, "`%s` is not expected; try `nodoffd --help`",
				     argv[optind]);
	choose_places(options);
	return status;
}
