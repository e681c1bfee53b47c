/* SPDX-License-Identifier: MIT */
#include "simulated-can.h"

#include <linux/can.h>
#include <linux/errqueue.h>
#include <string.h>
#include <sys/eventfd.h>

#include "lockdown.h"

int __real_socket(int domain, int type, int protocol);
int __real_bind(int fd, const struct sockaddr *address, socklen_t length);
int __real_setsockopt(int fd, int level, int name, const void *value, socklen_t length);
int __wrap_socket(int domain, int type, int protocol);
int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length);
int __wrap_setsockopt(int fd, int level, int name, const void *value, socklen_t length);

int __wrap_socket(int domain, int type, int protocol)
{
	return domain == PF_CAN ? eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)
				: __real_socket(domain, type, protocol);
}

int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length)
{
	return fd >= NOD_LOCKDOWN_FIRST_CAN_FD ? 0 : __real_bind(fd, address, length);
}

int __wrap_setsockopt(int fd, int level, int name, const void *value, socklen_t length)
{
	return fd >= NOD_LOCKDOWN_FIRST_CAN_FD ? 0
					       : __real_setsockopt(fd, level, name, value, length);
}

void simulated_can_put(struct mmsghdr *message, const struct nod_frame *frame)
{
	struct canfd_frame raw = {.can_id = frame->id, .len = frame->length};
	struct msghdr *header = &message->msg_hdr;
	struct cmsghdr *beside = CMSG_FIRSTHDR(header);
	struct scm_timestamping stamps = {.ts[0] = {(time_t)(frame->time.ns / NOD_NS_PER_S),
						    (long)(frame->time.ns % NOD_NS_PER_S)}};
	bool fd = frame->flags & NOD_FRAME_FD;

	memcpy(raw.data, frame->data, frame->length);
	raw.flags = frame->flags & (CANFD_BRS | CANFD_ESI);
	memcpy(header->msg_iov->iov_base, &raw, sizeof(raw));
	message->msg_len = fd ? CANFD_MTU : CAN_MTU;
	beside->cmsg_level = SOL_SOCKET;
	beside->cmsg_type = SCM_TIMESTAMPING;
	beside->cmsg_len = CMSG_LEN(sizeof(stamps));
	memcpy(CMSG_DATA(beside), &stamps, sizeof(stamps));
	header->msg_controllen = CMSG_SPACE(sizeof(stamps));
}

struct nod_link simulated_can_link(const char *name, int index, uint32_t bitrate)
{
	struct nod_link link = {.index = index,
				.kind = "can",
				.is_can = true,
				.up = true,
				.has_parent = true,
				.has_mode = true,
				.listen_only = true,
				.set.bitrate = bitrate};

	strcpy(link.name, name);
	return link;
}
