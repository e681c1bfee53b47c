/* SPDX-License-Identifier: MIT */
/* The requests that change an interface, as rtnetlink messages. There are
 * three, and only they exist: listen with a controller, switch a virtual
 * interface on, switch an interface off.
 *
 * The request to listen carries mode, bitrate and "up" in one message: the
 * kernel takes all of it or nothing, so a controller is never up in another
 * mode than listen-only. */
#ifndef NOD_LINK_REQUEST_H
#define NOD_LINK_REQUEST_H

#include <linux/netlink.h>
#include <linux/rtnetlink.h>
#include <stdint.h>

#include "link.h"

/* After bus-off the controller starts again by itself.
 * Chosen: short against any quiet time, long enough not to be a storm. */
#define NOD_RESTART_MS 100

/* What not every controller can do and a request to listen may go without. */
enum nod_link_extras {
	NOD_LINK_BUS_ERRORS = 1, /* reports of single bus errors */
	NOD_LINK_RESTART = 2     /* automatic restart after bus-off */
};

struct nod_link_request {
	struct nlmsghdr header;
	struct ifinfomsg info;
	_Alignas(struct rtattr) char attributes[256];
};

/* Make a request about the interface with this index. */
void nod_link_request_listen(struct nod_link_request *request, int index,
			     const struct nod_interface_settings *settings, unsigned extras);
void nod_link_request_on(struct nod_link_request *request, int index);
void nod_link_request_off(struct nod_link_request *request, int index);

/* Opens a socket for requests. Returns the descriptor or a negative errno. */
int nod_link_request_open(void);

/* Sends a request over such a socket and waits for the kernel's word. Returns
 * 0 or a negative errno (-EPERM: needs CAP_NET_ADMIN). */
int nod_link_request_send(int fd, struct nod_link_request *request);

/* Asks what the interface with this index is. Returns 0 or a negative errno
 * (-ENODEV: there is none). */
int nod_link_query(int fd, int index, struct nod_link *link);

#endif
