/* SPDX-License-Identifier: MIT */
/* Sets an interface up for listening, and says whether it may be used.
 *
 * A controller that acknowledges frames can itself keep a network awake, so
 * only listen-only controllers are used. */
#ifndef NOD_INTERFACE_H
#define NOD_INTERFACE_H

#include "error.h"
#include "link.h"

/* What a controller can be told, bit/s: the range of the options. */
#define NOD_BITRATE_MIN 5000
#define NOD_BITRATE_MAX 1000000

enum nod_interface_use {
	NOD_USE_READY,  /* up and passive: listen */
	NOD_USE_SET_UP, /* down: may be set up */
	NOD_USE_REFUSED /* up, but in a way that must not be used */
};

/* Judges an interface as it is; `why` says what is wrong with a refused one
 * and what to do, or what is special about a ready one ("" when nothing). */
enum nod_interface_use nod_interface_judge(const struct nod_link *link,
					   const struct nod_interface_settings *settings,
					   struct nod_error *why);

/* The two things that are ever done to an interface, over a socket of
 * nod_link_request_open(). What the interface is, is asked of the kernel; the
 * caller is not believed. Both return 0 or a negative errno:
 * -EPERM	needs CAP_NET_ADMIN
 * -EINVAL	it is no CAN interface, or the bitrate is none
 * -EOPNOTSUPP	the controller cannot listen without acknowledging
 * -EBUSY	it is up (to be set up), or up and not listen-only (to be switched off)
 *
 * Sets one that is down to the bitrate, listen-only and automatic restart, and
 * switches it on; with CAN FD where that is wanted and it can, else without. Virtual interfaces
 * are only switched on. */
int nod_interface_listen(int netlink, int index, const struct nod_interface_settings *settings);
/* Switches one off that is listen-only. */
int nod_interface_off(int netlink, int index);

#endif
