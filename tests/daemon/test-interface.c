/* SPDX-License-Identifier: MIT */
/* Sets adapters up against a kernel that is played: a thread at the other end of the socket
 * answers as Linux 6.1 does (drivers/net/can/dev/netlink.c) for adapters that can more or less. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <errno.h>
#include <libmnl/libmnl.h>
#include <linux/rtnetlink.h>
#include <pthread.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "interface.h"
#include "link-request.h"

/* after net/if.h, which they clash with otherwise */
#include <linux/can/netlink.h>
#include <linux/if_arp.h>

/* The adapter, and what it was asked. */
struct adapter {
	uint32_t able;        /* modes, CAN_CTRLMODE_... */
	bool serial, restart; /* on no bus; can restart after bus-off */
	uint32_t most;        /* data bitrate that it can */
	bool disobeys;        /* takes listen-only and does not do it */
	int fd;
	bool up;
	uint32_t mode;
	struct can_bittiming timing, data_timing;
	unsigned requests, restarts, offs;
};

struct wish {
	struct can_ctrlmode mode;
	struct can_bittiming timing, data_timing;
	bool restart;
};

static int take_wish(const struct nlattr *a, void *data)
{
	struct wish *wish = data;

	switch (mnl_attr_get_type(a)) {
	case IFLA_CAN_CTRLMODE:
		memcpy(&wish->mode, mnl_attr_get_payload(a), sizeof(wish->mode));
		break;
	case IFLA_CAN_BITTIMING:
		memcpy(&wish->timing, mnl_attr_get_payload(a), sizeof(wish->timing));
		break;
	case IFLA_CAN_DATA_BITTIMING:
		memcpy(&wish->data_timing, mnl_attr_get_payload(a), sizeof(wish->data_timing));
		break;
	case IFLA_CAN_RESTART_MS:
		wish->restart = true;
	}
	return MNL_CB_OK;
}

static int find_data(const struct nlattr *a, void *data)
{
	if (mnl_attr_get_type(a) == IFLA_INFO_DATA)
		return mnl_attr_parse_nested(a, take_wish, data);
	return MNL_CB_OK;
}

static int find_info(const struct nlattr *a, void *data)
{
	if (mnl_attr_get_type(a) == IFLA_LINKINFO)
		return mnl_attr_parse_nested(a, find_data, data);
	return MNL_CB_OK;
}

static int set_up(struct adapter *adapter, const struct nlmsghdr *request)
{
	const struct ifinfomsg *info = mnl_nlmsg_get_payload(request);
	struct wish wish = {0};

	adapter->requests++;
	mnl_attr_parse(request, sizeof(*info), find_info, &wish);
	adapter->restarts += wish.restart;
	if (wish.mode.flags & wish.mode.mask & ~adapter->able)
		return -EOPNOTSUPP;
	if (wish.restart && !adapter->restart)
		return -EOPNOTSUPP;
	if (wish.data_timing.bitrate > adapter->most)
		return -EINVAL;
	adapter->offs += !info->ifi_flags;
	adapter->up = info->ifi_flags & IFF_UP;
	adapter->mode = (adapter->mode & ~wish.mode.mask) | (wish.mode.flags & wish.mode.mask);
	if (adapter->disobeys)
		adapter->mode &= ~(uint32_t)CAN_CTRLMODE_LISTENONLY;
	adapter->timing = wish.timing;
	adapter->data_timing = wish.data_timing;
	return 0;
}

static void describe(const struct adapter *adapter, struct nlmsghdr *message)
{
	struct ifinfomsg *info = mnl_nlmsg_put_extra_header(message, sizeof(*info));
	struct can_ctrlmode mode = {.flags = adapter->mode};
	struct nlattr *link_info, *data;

	message->nlmsg_type = RTM_NEWLINK;
	info->ifi_index = 3;
	info->ifi_type = ARPHRD_CAN;
	info->ifi_flags = adapter->up ? IFF_UP : 0;
	mnl_attr_put_strz(message, IFLA_IFNAME, "can0");
	link_info = mnl_attr_nest_start(message, IFLA_LINKINFO);
	mnl_attr_put_strz(message, IFLA_INFO_KIND, "can");
	data = mnl_attr_nest_start(message, IFLA_INFO_DATA);
	mnl_attr_put(message, IFLA_CAN_CTRLMODE, sizeof(mode), &mode);
	mnl_attr_nest_end(message, data);
	mnl_attr_nest_end(message, link_info);
	if (!adapter->serial)
		mnl_attr_put_strz(message, IFLA_PARENT_DEV_NAME, "1-1:1.0");
}

static void *play(void *context)
{
	struct adapter *adapter = context;
	_Alignas(struct nlmsghdr) char request[1024], answer[1024];

	while (recv(adapter->fd, request, sizeof(request), 0) > 0) {
		const struct nlmsghdr *asked = (const struct nlmsghdr *)request;
		struct nlmsghdr *message = mnl_nlmsg_put_header(answer);
		message->nlmsg_seq = asked->nlmsg_seq;
		if (asked->nlmsg_type == RTM_GETLINK) {
			describe(adapter, message);
		} else {
			struct nlmsgerr *error = mnl_nlmsg_put_extra_header(message,
									    sizeof(*error));
			message->nlmsg_type = NLMSG_ERROR;
			error->error = set_up(adapter, asked);
		}
		send(adapter->fd, answer, message->nlmsg_len, 0);
	}
	return NULL;
}

static int listen_with(struct adapter *adapter, const struct nod_interface_settings *settings)
{
	pthread_t thread;
	int ends[2], status;

	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, ends), 0);
	adapter->fd = ends[1];
	assert_int_equal(pthread_create(&thread, NULL, play, adapter), 0);
	status = nod_interface_listen(ends[0], 3, settings);
	close(ends[0]);
	pthread_join(thread, NULL);
	close(ends[1]);
	return status;
}

#define CLASSICAL (CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_BERR_REPORTING)
static const struct nod_interface_settings fd = {
	.bitrate = 500000, .sample_point = 800, .data_bitrate = 2000000, .data_sample_point = 700};

static void sets_fd_up_where_it_can(void **state)
{
	struct adapter adapter = {
		.able = CLASSICAL | CAN_CTRLMODE_FD, .restart = true, .most = 8000000};

	(void)state;
	assert_int_equal(listen_with(&adapter, &fd), 0);
	assert_int_equal(adapter.requests, 1);
	assert_int_equal(adapter.mode, CLASSICAL | CAN_CTRLMODE_FD);
	assert_int_equal(adapter.timing.sample_point, 800);
	assert_int_equal(adapter.data_timing.bitrate, 2000000);
	assert_int_equal(adapter.data_timing.sample_point, 700);
}

/* Without CAN FD, or without that data bitrate, classical frames are heard. */
static void goes_on_without_fd(void **state)
{
	struct adapter classical = {.able = CLASSICAL, .restart = true, .most = 8000000};
	struct adapter slow = {
		.able = CLASSICAL | CAN_CTRLMODE_FD, .restart = true, .most = 1000000};

	(void)state;
	assert_int_equal(listen_with(&classical, &fd), 0);
	assert_int_equal(classical.mode, CLASSICAL);
	assert_int_equal(classical.timing.bitrate, 500000);
	assert_int_equal(listen_with(&slow, &fd), 0);
	assert_int_equal(slow.mode, CLASSICAL);
	assert_int_equal(slow.data_timing.bitrate, 0);
}

static void takes_less_than_it_wishes(void **state)
{
	struct adapter plain = {.able = CAN_CTRLMODE_LISTENONLY};

	(void)state;
	assert_int_equal(listen_with(&plain, &(struct nod_interface_settings){.bitrate = 125000}),
			 0);
	assert_int_equal(plain.mode, CAN_CTRLMODE_LISTENONLY);
	assert_int_equal(plain.timing.bitrate, 125000);
	assert_true(plain.restarts > 0);
}

/* slcan is never asked to restart: see interface.c. */
static void spares_a_serial_line_the_restart(void **state)
{
	struct adapter line = {.able = CAN_CTRLMODE_LISTENONLY, .serial = true};

	(void)state;
	assert_int_equal(listen_with(&line, &fd), 0);
	assert_int_equal(line.mode, CAN_CTRLMODE_LISTENONLY);
	assert_int_equal(line.restarts, 0);
}

static void refuses_what_cannot_listen_only(void **state)
{
	struct adapter talker = {.able = CAN_CTRLMODE_BERR_REPORTING, .restart = true};
	struct adapter liar = {.able = CLASSICAL, .restart = true, .disobeys = true};
	struct nod_interface_settings none = {.bitrate = 0};

	(void)state;
	assert_int_equal(listen_with(&talker, &fd), -EOPNOTSUPP);
	assert_false(talker.up);
	assert_int_equal(listen_with(&liar, &fd), -EOPNOTSUPP);
	assert_false(liar.up);
	assert_int_equal(liar.offs, 1);
	liar.up = true;
	assert_int_equal(listen_with(&liar, &fd), -EBUSY);
	talker.requests = 0;
	assert_int_equal(listen_with(&talker, &none), -EINVAL);
	assert_int_equal(talker.requests, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sets_fd_up_where_it_can),
		cmocka_unit_test(goes_on_without_fd),
		cmocka_unit_test(takes_less_than_it_wishes),
		cmocka_unit_test(spares_a_serial_line_the_restart),
		cmocka_unit_test(refuses_what_cannot_listen_only),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
