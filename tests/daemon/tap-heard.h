/* SPDX-License-Identifier: MIT */
/* A tap, the controller behind it, and what the tap reports. */
#ifndef TAP_HEARD_H
#define TAP_HEARD_H

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "tap.h"

struct heard {
	unsigned changes, gaps, deaf;
	nod_time since;    /* nobody listens */
	nod_time from, to; /* of the last gap */
	int64_t total;     /* of all gaps, ns */
	char text[600];
};

static inline void changed(void *context, struct nod_tap *tap, const char *text)
{
	struct heard *heard = context;

	(void)tap;
	heard->changes++;
	snprintf(heard->text, sizeof(heard->text), "%s", text);
}

static inline void gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	struct heard *heard = context;
	int64_t length = to.ns - from.ns;

	(void)tap;
	heard->gaps++;
	heard->from = from;
	heard->to = to;
	heard->total += length;
}

static inline void deaf(void *context, struct nod_tap *tap, nod_time from)
{
	struct heard *heard = context;

	(void)tap;
	heard->deaf++;
	heard->since = from;
}

static inline nod_time at(int64_t seconds)
{
	return (nod_time){seconds * NOD_NS_PER_S};
}

static inline struct nod_tap make_tap(void)
{
	struct nod_tap tap = {.interface = "can0", .settings = {.bitrate = 500000}};

	tap.listener.fd = -1;
	tap.since = tap.gap_from = at(100);
	return tap;
}

static inline struct nod_link controller(bool listen_only)
{
	return (struct nod_link){.index = 3,
				 .name = "can0",
				 .kind = "can",
				 .is_can = true,
				 .up = true,
				 .has_mode = true,
				 .has_parent = true,
				 .listen_only = listen_only,
				 .set.bitrate = 500000};
}

#endif
