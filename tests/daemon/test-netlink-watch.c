/* SPDX-License-Identifier: MIT */
/* What the kernel says of its interfaces is handed on: CAN interfaces, come or gone. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>

#include "netlink-watch.h"

/* after net/if.h, which they clash with otherwise */
#include <linux/if_arp.h>
#include <linux/rtnetlink.h>

ssize_t __wrap_recv(int fd, void *buffer, size_t size, int flags);
ssize_t __wrap_send(int fd, const void *message, size_t size, int flags);

/* What is read, one after another; 0 bytes: it was lost on the way. */
static struct {
	char bytes[8][256];
	size_t lengths[8], count, read;
	unsigned asked;
} kernel;

ssize_t __wrap_recv(int fd, void *buffer, size_t size, int flags)
{
	(void)fd, (void)flags;
	assert_true(kernel.read < kernel.count); /* nothing is waited for */
	size_t length = kernel.lengths[kernel.read];
	assert_true(length <= size);
	memcpy(buffer, kernel.bytes[kernel.read++], length);
	errno = ENOBUFS;
	return length ? (ssize_t)length : -1;
}

ssize_t __wrap_send(int fd, const void *message, size_t size, int flags)
{
	const struct nlmsghdr *header = message;

	(void)fd, (void)flags;
	assert_int_equal(header->nlmsg_type, RTM_GETLINK);
	kernel.asked++;
	return (ssize_t)size;
}

static void say(uint16_t type, int index, uint16_t kind, const char *name)
{
	char *bytes = kernel.bytes[kernel.count];
	struct nlmsghdr *header = (struct nlmsghdr *)(void *)bytes;
	struct ifinfomsg *info = NLMSG_DATA(header);
	struct rtattr *a = (struct rtattr *)(void *)(bytes + NLMSG_SPACE(sizeof(*info)));

	*info = (struct ifinfomsg){.ifi_index = index, .ifi_type = kind};
	a->rta_type = IFLA_IFNAME;
	a->rta_len = (unsigned short)RTA_LENGTH(strlen(name) + 1);
	memcpy(RTA_DATA(a), name, strlen(name) + 1);
	*header = (struct nlmsghdr){
		.nlmsg_type = type,
		.nlmsg_len = (unsigned)(NLMSG_SPACE(sizeof(*info)) + RTA_ALIGN(a->rta_len))};
	kernel.lengths[kernel.count++] = header->nlmsg_len;
}

static void lose(void)
{
	kernel.lengths[kernel.count++] = 0;
}

static void note(void *context, const struct nod_link *link, bool gone)
{
	char *heard = context;

	snprintf(heard + strlen(heard), 200 - strlen(heard), "%s%s ", gone ? "-" : "+", link->name);
}

static void can_interfaces_that_come_and_go_are_told(void **state)
{
	struct ev_loop *loop = ev_loop_new(EVBACKEND_EPOLL);
	struct nod_error err = {""};
	char heard[200] = "";
	struct nod_netlink_watch *watch = nod_netlink_watch_new(loop, note, heard, &err);

	(void)state;
	if (!watch)
		fail_msg("%s", err.text);
	say(RTM_NEWLINK, 1, ARPHRD_LOOPBACK, "lo");
	say(RTM_NEWLINK, 3, ARPHRD_CAN, "can0");
	say(RTM_DELLINK, 4, ARPHRD_CAN, "can1");
	lose(); /* all is asked for once more */
	say(RTM_NEWLINK, 3, ARPHRD_CAN, "can0");
	say(NLMSG_DONE, 0, 0, "");
	assert_int_equal(nod_netlink_watch_list(watch), 0);
	assert_string_equal(heard, "+can0 -can1 +can0 ");
	assert_int_equal(kernel.asked, 2);
	assert_int_equal(kernel.read, kernel.count);
	nod_netlink_watch_free(watch);
	ev_loop_destroy(loop);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(can_interfaces_that_come_and_go_are_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
