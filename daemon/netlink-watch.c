/* SPDX-License-Identifier: MIT */
#include "netlink-watch.h"

#include <errno.h>
#include <libmnl/libmnl.h>
#include <linux/rtnetlink.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* The kernel fills at most 32 KiB into one read of a dump
 * (Documentation/userspace-api/netlink/intro.rst). */
#define READ_SIZE 32768

struct nod_netlink_watch {
	struct ev_loop *loop;
	ev_io readable;
	int fd;
	nod_netlink_watch_function *function;
	void *context;
	_Alignas(struct nlmsghdr) char buffer[READ_SIZE];
};

static int report(const struct nlmsghdr *message, void *data)
{
	struct nod_netlink_watch *watch = data;
	struct nod_link link;

	if (!nod_link_parse(&link, message) && link.is_can)
		watch->function(watch->context, &link, message->nlmsg_type == RTM_DELLINK);
	return MNL_CB_OK;
}

/* Returns false at the end of a dump, or where it breaks off. */
static bool take_messages(struct nod_netlink_watch *watch, ssize_t received)
{
	return mnl_cb_run(watch->buffer, (size_t)received, 0, 0, report, watch) > 0;
}

int nod_netlink_watch_list(struct nod_netlink_watch *watch)
{
	struct {
		struct nlmsghdr header;
		struct ifinfomsg info;
	} request = {
		.header = {.nlmsg_len = sizeof(request),
			   .nlmsg_type = RTM_GETLINK,
			   .nlmsg_flags = NLM_F_REQUEST | NLM_F_DUMP},
		.info = {.ifi_family = AF_UNSPEC},
	};

	for (;;) {
		if (send(watch->fd, &request, sizeof(request), 0) < 0)
			return -errno;
		for (;;) {
			ssize_t received = recv(watch->fd, watch->buffer, READ_SIZE, 0);
			if (received < 0 && errno == ENOBUFS)
				break; /* messages were dropped: ask again */
			if (received < 0)
				return -errno;
			if (!take_messages(watch, received))
				return 0;
		}
	}
}

static void on_readable(struct ev_loop *loop, ev_io *io, int events)
{
	struct nod_netlink_watch *watch = io->data;
	ssize_t received;

	(void)loop, (void)events;
	while ((received = recv(watch->fd, watch->buffer, READ_SIZE, MSG_DONTWAIT)) > 0)
		take_messages(watch, received);
	if (received < 0 && errno == ENOBUFS)
		nod_netlink_watch_list(watch);
}

static int open_socket(struct nod_error *err)
{
	struct sockaddr_nl address = {.nl_family = AF_NETLINK, .nl_groups = RTMGRP_LINK};
	struct timeval limit = {.tv_sec = 2}; /* a dump takes milliseconds */
	int fd = socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC, NETLINK_ROUTE);

	if (fd < 0)
		return nod_error_set(err, errno, "cannot open rtnetlink: %s", strerror(errno));
	if (bind(fd, (struct sockaddr *)&address, sizeof(address)) ||
	    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof(limit))) {
		int code = errno;
		close(fd);
		return nod_error_set(err, code, "cannot watch interfaces: %s", strerror(code));
	}
	return fd;
}

struct nod_netlink_watch *nod_netlink_watch_new(struct ev_loop *loop,
						nod_netlink_watch_function *function, void *context,
						struct nod_error *err)
{
	struct nod_netlink_watch *watch = calloc(1, sizeof(*watch));

	if (!watch) {
		nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	watch->loop = loop;
	watch->function = function;
	watch->context = context;
	watch->fd = open_socket(err);
	if (watch->fd < 0) {
		errno = -watch->fd;
		free(watch);
		return NULL;
	}
	ev_io_init(&watch->readable, on_readable, watch->fd, EV_READ);
	watch->readable.data = watch;
	ev_io_start(loop, &watch->readable);
	return watch;
}

void nod_netlink_watch_free(struct nod_netlink_watch *watch)
{
	if (!watch)
		return;
	ev_io_stop(watch->loop, &watch->readable);
	close(watch->fd);
	free(watch);
}
