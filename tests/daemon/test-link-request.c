/* SPDX-License-Identifier: MIT */
/* Every request that can be made for a controller says listen-only. */
#include <stdarg.h>
#include <stddef.h>
#include <stdbool.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "link-request.h"

/* after net/if.h, which they clash with otherwise */
#include <linux/can/netlink.h>

struct found {
	unsigned attributes;
	char kind[16];
	struct can_ctrlmode mode;
	struct can_bittiming timing, data_timing;
	uint32_t restart;
};

static void read_attributes(struct found *found, const char *at, size_t length, int level);

static void read_attribute(struct found *found, const struct rtattr *a, int level)
{
	const char *data = RTA_DATA(a);
	size_t size = RTA_PAYLOAD(a);
	unsigned type = a->rta_type & (unsigned short)NLA_TYPE_MASK;

	if (level == 0) {
		assert_int_equal(type, IFLA_LINKINFO);
		read_attributes(found, data, size, 1);
	} else if (level == 1 && type == IFLA_INFO_DATA) {
		read_attributes(found, data, size, 2);
	} else if (level == 1) {
		assert_int_equal(type, IFLA_INFO_KIND);
		memcpy(found->kind, data, size);
	} else if (type == IFLA_CAN_CTRLMODE) {
		memcpy(&found->mode, data, sizeof(found->mode));
	} else if (type == IFLA_CAN_BITTIMING) {
		memcpy(&found->timing, data, sizeof(found->timing));
	} else if (type == IFLA_CAN_DATA_BITTIMING) {
		memcpy(&found->data_timing, data, sizeof(found->data_timing));
	} else {
		assert_int_equal(type, IFLA_CAN_RESTART_MS);
		memcpy(&found->restart, data, sizeof(found->restart));
	}
}

static void read_attributes(struct found *found, const char *at, size_t length, int level)
{
	while (length >= sizeof(struct rtattr)) {
		const struct rtattr *a = (const struct rtattr *)at;
		size_t step = RTA_ALIGN((size_t)a->rta_len);
		assert_true(a->rta_len >= sizeof(*a) && a->rta_len <= length);
		found->attributes++;
		read_attribute(found, a, level);
		at += step < length ? step : length;
		length -= step < length ? step : length;
	}
	assert_int_equal(length, 0);
}

static struct found read_request(const struct nod_link_request *request)
{
	struct found found = {0};

	assert_int_equal(request->header.nlmsg_type, RTM_NEWLINK);
	assert_false(request->header.nlmsg_flags & (NLM_F_CREATE | NLM_F_REPLACE));
	assert_true(request->header.nlmsg_len <= sizeof(*request));
	assert_int_equal(request->info.ifi_change, IFF_UP); /* and no other flag */
	read_attributes(&found, (const char *)request + NLMSG_LENGTH(sizeof(request->info)),
			request->header.nlmsg_len - NLMSG_LENGTH(sizeof(request->info)), 0);
	return found;
}

static void check_mode(const struct can_ctrlmode *mode, bool fd)
{
	uint32_t may_be = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_BERR_REPORTING |
			  (fd ? CAN_CTRLMODE_FD : 0);

	assert_true(mode->mask & mode->flags & CAN_CTRLMODE_LISTENONLY);
	assert_false(mode->flags & ~may_be);
	assert_true(mode->mask & CAN_CTRLMODE_LOOPBACK);
	assert_true(mode->mask & CAN_CTRLMODE_FD);
	assert_int_equal(!!(mode->flags & CAN_CTRLMODE_FD), fd);
	assert_false(mode->flags & ~mode->mask);
}

static void listens_only_whatever_is_wished(void **state)
{
	static const struct nod_interface_settings wanted[] = {
		{.bitrate = 125000},
		{.bitrate = 500000, .sample_point = 800},
		{.bitrate = 500000, .data_bitrate = 2000000},
		{.bitrate = 500000,
		 .sample_point = 800,
		 .data_bitrate = 5000000,
		 .data_sample_point = 700},
	};
	struct nod_link_request request;

	(void)state;
	for (unsigned i = 0; i < 16 * sizeof(wanted) / sizeof(wanted[0]); i++) {
		const struct nod_interface_settings *set = &wanted[i / 16];
		unsigned extras = i % 16;
		nod_link_request_listen(&request, 7, set, extras);
		struct found found = read_request(&request);
		assert_int_equal(request.info.ifi_index, 7);
		assert_int_equal(request.info.ifi_flags, IFF_UP);
		assert_string_equal(found.kind, "can");
		check_mode(&found.mode, set->data_bitrate);
		assert_int_equal(found.timing.bitrate, set->bitrate);
		assert_int_equal(found.timing.sample_point, set->sample_point);
		assert_int_equal(found.data_timing.bitrate, set->data_bitrate);
		assert_int_equal(found.data_timing.sample_point, set->data_sample_point);
		assert_int_equal(found.restart, extras & NOD_LINK_RESTART ? NOD_RESTART_MS : 0);
	}
}

static void switches_and_nothing_else(void **state)
{
	struct nod_link_request request;

	(void)state;
	nod_link_request_on(&request, 3);
	assert_int_equal(read_request(&request).attributes, 0);
	assert_int_equal(request.info.ifi_flags, IFF_UP);
	nod_link_request_off(&request, 3);
	assert_int_equal(read_request(&request).attributes, 0);
	assert_int_equal(request.info.ifi_flags, 0);
}

/* The loopback interface is everywhere and has index 1. */
static void asks_the_kernel(void **state)
{
	int fd = nod_link_request_open();
	struct nod_link link;

	(void)state;
	assert_true(fd >= 0);
	assert_int_equal(nod_link_query(fd, 1, &link), 0);
	assert_string_equal(link.name, "lo");
	assert_false(link.is_can);
	assert_int_equal(nod_link_query(fd, 2000000000, &link), -ENODEV);
	assert_int_equal(nod_link_query(fd, 1, &link), 0); /* in step after an error */
	close(fd);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(listens_only_whatever_is_wished),
		cmocka_unit_test(switches_and_nothing_else),
		cmocka_unit_test(asks_the_kernel),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
