/* SPDX-License-Identifier: MIT */
/* The switcher: the one process that may change an interface.
 *
 * An adapter that is pulled out and plugged in again has to be set up again,
 * hours after the start, and that needs a privilege (CAP_NET_ADMIN). So that
 * the process that reads what comes from outside needs none, nod_switcher_start()
 * forks off a second one before anything is read. It keeps that one capability
 * and gives up the rest, and understands two requests of fixed size over a
 * pair of sockets:
 *
 *	set interface N up at bitrate B (for CAN FD a data bitrate and sample points, too),
 *	listen-only, if it is down
 *	switch interface N off, if it is listen-only
 *
 * It has no CAN socket, no file, and under its filter (lockdown.h) can only
 * talk over that pair and over the rtnetlink socket it opened at its start. It
 * ends when the other end of the pair is closed. */
#ifndef NOD_SWITCHER_H
#define NOD_SWITCHER_H

#include <sys/types.h>

#include "interface.h"
#include "privileges.h"

/* How long an answer may take, s. Chosen: a USB adapter's driver waits for
 * single transfers for up to 5 s (USB_CTRL_GET_TIMEOUT, linux/usb.h). */
#define NOD_SWITCHER_PATIENCE 6

struct nod_switcher {
	int fd; /* -1: there is none */
	pid_t pid;
	uint32_t serial; /* of the last request */
};

#define NOD_SWITCHER_NONE \
	{                 \
		-1, 0, 0  \
	}

/* The only descriptors it has beside the standard ones, which lead nowhere. */
enum { NOD_SWITCHER_CHANNEL = 3, NOD_SWITCHER_NETLINK = 4 };

/* Starts the switcher, as `account` (see privileges.h). Where this process has
 * no CAP_NET_ADMIN there is nothing to be kept: none is started, and requests
 * fail with -EPERM. Call while no other file is open. Returns 0 or a negative
 * errno with err set. */
int nod_switcher_start(struct nod_switcher *switcher, const struct nod_account *account,
		       struct nod_error *err);
void nod_switcher_stop(struct nod_switcher *switcher);

/* The two requests. Return 0, or a negative errno with err set: see
 * interface.h, -EPIPE when the switcher has ended, -ETIMEDOUT. */
int nod_switcher_listen(struct nod_switcher *switcher, const struct nod_link *link,
			const struct nod_interface_settings *settings, struct nod_error *err);
int nod_switcher_off(struct nod_switcher *switcher, const struct nod_link *link,
		     struct nod_error *err);

/* The switcher's own loop, for tests: answers requests from `channel` until it
 * is closed, with `netlink` for its work. Returns 0, or a negative errno. */
int nod_switcher_serve(int channel, int netlink);

/* One request, and its answer: here for tests. */
enum nod_switcher_verb { NOD_SWITCHER_LISTEN = 1, NOD_SWITCHER_OFF };

struct nod_switcher_request {
	uint32_t serial, verb;
	int32_t index;
	struct nod_interface_settings settings;
};

struct nod_switcher_answer {
	uint32_t serial;
	int32_t status;
};

#endif
