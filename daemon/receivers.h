/* SPDX-License-Identifier: MIT */
/* Who else listens to an interface: the kernel lists the sockets that receive from it. */
#ifndef NOD_RECEIVERS_H
#define NOD_RECEIVERS_H

#include <stdbool.h>

#define NOD_RECEIVERS_DIRECTORY "/proc/net/can"

/* True when some program on this machine receives frames of just this interface, by the
 * lists in `directory` (linux/net/can/proc.c: rcvlist_all, _fil, _inv, _sff, _eff). */
bool nod_receivers_found(const char *directory, const char *interface);

#endif
