/* SPDX-License-Identifier: MIT */
/* Frames that wait in simulated CAN sockets, with all that the kernel says beside them, and
 * clocks that a test sets. Included by one file of a test. */
#ifndef QUEUED_CAN_H
#define QUEUED_CAN_H

#include <errno.h>
#include <time.h> /* before errqueue.h, which needs it */

#include <linux/can.h>
#include <linux/errqueue.h>
#include <string.h>

#include "lockdown.h"
#include "simulated-can.h"
#include "timestamp.h"

#define QUEUED_SOCKETS 2
#define QUEUED_MAX 4096
#define QUEUED_START (INT64_C(1700000000) * NOD_NS_PER_S)

struct queued {
	struct canfd_frame raw;
	unsigned size; /* CAN_MTU, CANFD_MTU */
	nod_time software, hardware;
	uint32_t dropped; /* since the socket was opened */
	int flags;        /* of the message */
};

static struct {
	int64_t now;            /* CLOCK_REALTIME, ns; 0: the machine's own */
	int64_t set, suspended; /* of that, what the clock was set by and slept through */
	unsigned reads;
	struct {
		struct queued frames[QUEUED_MAX];
		size_t first, last;
		int ends; /* an errno, when all was read */
	} sockets[QUEUED_SOCKETS];
} kernel;

static inline void queued_reset(void)
{
	memset(&kernel, 0, sizeof(kernel));
	kernel.now = QUEUED_START;
}

static inline nod_time queued_at(int64_t ms)
{
	return (nod_time){QUEUED_START + ms * NOD_NS_PER_MS};
}

/* A classical frame of 8 bytes, stamped by the kernel; to be changed as the test likes. */
static inline struct queued *queued_add(unsigned socket, int64_t ms, uint32_t id)
{
	struct queued *q = &kernel.sockets[socket].frames[kernel.sockets[socket].last++];

	assert_true(kernel.sockets[socket].last <= QUEUED_MAX);
	*q = (struct queued){.raw = {.can_id = id, .len = 8},
			     .size = CAN_MTU,
			     .software = queued_at(ms),
			     .hardware = NOD_TIME_NONE,
			     .dropped = q > kernel.sockets[socket].frames ? q[-1].dropped : 0};
	return q;
}

int __wrap_clock_gettime(clockid_t id, struct timespec *ts)
{
	int64_t ns = kernel.now;

	if (!kernel.now)
		return __real_clock_gettime(id, ts);
	if (id != CLOCK_REALTIME)
		ns -= kernel.set + (id == CLOCK_BOOTTIME ? 0 : kernel.suspended);
	*ts = (struct timespec){(time_t)(ns / NOD_NS_PER_S), (long)(ns % NOD_NS_PER_S)};
	return 0;
}

static inline struct timespec queued_timespec(nod_time t)
{
	return nod_time_is_set(t) ? (struct timespec){(time_t)(t.ns / NOD_NS_PER_S),
						      (long)(t.ns % NOD_NS_PER_S)}
				  : (struct timespec){0, 0};
}

static inline void *queued_beside(struct msghdr *header, struct cmsghdr **next, int type,
				  size_t size)
{
	struct cmsghdr *c = *next;

	c->cmsg_level = SOL_SOCKET;
	c->cmsg_type = type;
	c->cmsg_len = CMSG_LEN(size);
	*next = (struct cmsghdr *)(void *)((char *)c + CMSG_SPACE(size));
	header->msg_controllen += CMSG_SPACE(size);
	return CMSG_DATA(c);
}

static inline void queued_put(struct mmsghdr *message, const struct queued *q)
{
	struct msghdr *header = &message->msg_hdr;
	struct cmsghdr *next = CMSG_FIRSTHDR(header);
	struct scm_timestamping stamps = {.ts[0] = queued_timespec(q->software),
					  .ts[2] = queued_timespec(q->hardware)};

	header->msg_controllen = 0;
	memcpy(header->msg_iov->iov_base, &q->raw, sizeof(q->raw));
	message->msg_len = q->size;
	header->msg_flags = q->flags;
	memcpy(queued_beside(header, &next, SCM_TIMESTAMPING, sizeof(stamps)), &stamps,
	       sizeof(stamps));
	memcpy(queued_beside(header, &next, SO_RXQ_OVFL, sizeof(q->dropped)), &q->dropped,
	       sizeof(q->dropped));
}

int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout)
{
	unsigned place = (unsigned)(fd - NOD_LOCKDOWN_FIRST_CAN_FD), taken = 0;

	(void)flags, (void)timeout;
	assert_true(place < QUEUED_SOCKETS);
	kernel.reads++;
	while (taken < count && kernel.sockets[place].first < kernel.sockets[place].last)
		queued_put(&messages[taken++],
			   &kernel.sockets[place].frames[kernel.sockets[place].first++]);
	errno = kernel.sockets[place].ends ? kernel.sockets[place].ends : EAGAIN;
	return taken ? (int)taken : -1;
}

#endif
