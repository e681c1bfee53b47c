/* SPDX-License-Identifier: MIT */
/* Hears one network: a raw CAN socket that is only ever read.
 *
 * The socket is opened once, before nod_lockdown(), and bound again whenever
 * its adapter comes back. It delivers frames of both formats (CAN FD too),
 * error reports, and the number of frames the kernel had to drop. */
#ifndef NOD_LISTENER_H
#define NOD_LISTENER_H

#include <stdint.h>

#include "bitrate-search.h"
#include "error.h"
#include "hardware-clock.h"
#include "merger.h"

/* Which clock the times of the frames come from. */
enum nod_stamp_clock {
	NOD_STAMP_NONE,    /* no frame yet */
	NOD_STAMP_KERNEL,  /* the kernel's, when the frame reached it */
	NOD_STAMP_HARDWARE /* the adapter's, put on the system clock */
};

/* "kernel receive time", ...: for people. */
const char *nod_stamp_clock_name(enum nod_stamp_clock clock);

struct nod_listener {
	int fd;
	int link;          /* index of the interface it is bound to, 0: none */
	uint8_t interface; /* index in the session's table */
	size_t lane;       /* in the merger */
	bool virtual_link; /* on vcan every frame comes from this machine */
	enum nod_stamp_clock clock;
	struct nod_hardware_clock hardware;
	uint32_t dropped; /* the kernel's counter at the last frame */
	uint64_t frames;  /* delivered, error reports included */
	uint64_t lost;    /* dropped by the kernel, or (at least) by the controller */
	uint64_t errors;  /* error reports */
	uint32_t untold;  /* of those lost: not in the merger yet, for want of room */
	bool bus_off;     /* the last error report about it said so */
	bool trying;      /* out a bitrate: what is heard is only counted, in `tried` */
	struct nod_bitrate_heard tried;
};

/* Opens the socket at a reserved descriptor and sets it up; it hears nothing
 * until it is bound. Returns 0 or a negative errno with err set. */
int nod_listener_open(struct nod_listener *listener, uint8_t interface, size_t lane,
		      struct nod_error *err);
void nod_listener_close(struct nod_listener *listener);

/* Forgets what was heard: the socket is to be used for another interface. */
void nod_listener_renew(struct nod_listener *listener);

/* Starts to hear the interface with this index. Returns 0 or a negative errno. */
int nod_listener_bind(struct nod_listener *listener, int link, bool virtual_link);

/* Stops hearing; frames that wait in the socket are thrown away. */
void nod_listener_mute(struct nod_listener *listener);

/* The time of a frame is cut to microseconds, as the recording has it.
 * Moves what waits in the socket into the merger's lane, at most `most`
 * frames. Returns their number (less than `most`: the socket is empty) or a
 * negative errno (-ENETDOWN, -ENODEV: the interface went away; what came
 * before has been delivered). Frames for which the merger has no room are lost:
 * counted, and told as soon as there is some. While it only tries, nothing comes into the
 * merger, which may be NULL. */
int nod_listener_read(struct nod_listener *listener, struct nod_merger *merger, unsigned most);

#endif
