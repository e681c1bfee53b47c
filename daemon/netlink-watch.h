/* SPDX-License-Identifier: MIT */
/* Watches interfaces come, go, change their name, and go up and down, over
 * rtnetlink. */
#ifndef NOD_NETLINK_WATCH_H
#define NOD_NETLINK_WATCH_H

#include <ev.h>

#include "error.h"
#include "link.h"

struct nod_netlink_watch;

/* Called for every CAN interface that exists when the watch is listed, and
 * then for every change. `gone`: it was removed. */
typedef void nod_netlink_watch_function(void *context, const struct nod_link *link, bool gone);

/* Starts watching; nothing is reported before nod_netlink_watch_list() or the
 * first run of the loop. NULL with errno and err set when the kernel refuses. */
struct nod_netlink_watch *nod_netlink_watch_new(struct ev_loop *loop,
						nod_netlink_watch_function *function, void *context,
						struct nod_error *err);
void nod_netlink_watch_free(struct nod_netlink_watch *watch);

/* Asks the kernel for all interfaces and reports each. Returns 0 or a
 * negative errno. Also done by itself when the kernel dropped messages. */
int nod_netlink_watch_list(struct nod_netlink_watch *watch);

#endif
