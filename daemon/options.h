/* SPDX-License-Identifier: MIT */
/* The command line of nodoffd. */
#ifndef NOD_OPTIONS_H
#define NOD_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"

/* One socket each, opened before the daemon gives up the right to make more.
 * Chosen: more than a car has networks. */
#define NOD_TAPS_MAX 32

#define NOD_SOCKET_DEFAULT "/run/nodoff/nodoff.sock"
#define NOD_SESSIONS_DEFAULT "/var/lib/nodoff"

struct nod_interface_option {
	const char *name;
	uint32_t bitrate; /* 0: not given */
};

struct nod_options {
	const char *vehicle; /* NULL: none */
	const char *socket, *sessions;
	const char *user;    /* who to become; NULL: stay who we are */
	const char *group;   /* who may talk to the socket beside its owner; NULL: nobody */
	const char *current; /* where current samples come from; NULL: nowhere */
	bool record;         /* start a session at once */
	struct nod_interface_option interfaces[NOD_TAPS_MAX];
	size_t interface_count;
};

/* Reads the command line. Returns 0 to go on, 1 when help or the version has
 * been printed, -EINVAL with err set. Strings point into argv. */
int nod_options_parse(struct nod_options *options, int argc, char **argv, struct nod_error *err);

#endif
