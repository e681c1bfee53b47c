/* SPDX-License-Identifier: MIT */
/* The command line of nodoffd. */
#ifndef NOD_OPTIONS_H
#define NOD_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "own-path.h"

/* One socket each, opened before the daemon gives up the right to make more.
 * Chosen: more than a car has networks. */
#define NOD_TAPS_MAX 32

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
	char own_socket[PATH_MAX], own_sessions[PATH_MAX]; /* where they are the person's own */
};

/* Reads the command line. Where no socket or place for recordings is given, they are the
 * service's for root, and the person's own for anybody else. Returns 0 to go on, 1 when help or the version has
 * been printed, -EINVAL with err set. Strings point into argv. */
int nod_options_parse(struct nod_options *options, int argc, char **argv, struct nod_error *err);

#endif
