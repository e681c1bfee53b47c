/* SPDX-License-Identifier: MIT */
/* CAN sockets without a kernel: the linker sends the daemon's calls for them here (--wrap). What
 * clock_gettime() and recvmmsg() say is the test's own. */
#ifndef SIMULATED_CAN_H
#define SIMULATED_CAN_H

#include <sys/socket.h>
#include <time.h>

#include "frame.h"
#include "link.h"

int __real_clock_gettime(clockid_t id, struct timespec *ts);

/* To be defined by the test. */
int __wrap_clock_gettime(clockid_t id, struct timespec *ts);
int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout);

/* As recvmmsg() gives a frame that the kernel stamped at its time. */
void simulated_can_put(struct mmsghdr *message, const struct nod_frame *frame);

/* A controller that is up, listens only and has a parent. */
struct nod_link simulated_can_link(const char *name, int index, uint32_t bitrate);

#endif
