/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <string.h>

#include "interface.h"
#include "link.h"

/* after net/if.h, which they clash with otherwise */
#include <linux/can/netlink.h>
#include <linux/if_arp.h>
#include <linux/rtnetlink.h>

/* A message as the kernel would send it, built attribute by attribute. */
struct message {
	union {
		struct nlmsghdr header;
		char bytes[1024];
	};
};

static void begin(struct message *m, int index, unsigned flags)
{
	struct ifinfomsg *info = NLMSG_DATA(&m->header);

	memset(m, 0, sizeof(*m));
	m->header.nlmsg_type = RTM_NEWLINK;
	m->header.nlmsg_len = NLMSG_LENGTH(sizeof(*info));
	info->ifi_index = index;
	info->ifi_type = ARPHRD_CAN;
	info->ifi_flags = flags;
}

static struct rtattr *add(struct message *m, unsigned short type, const void *data, size_t size)
{
	struct rtattr *a = (struct rtattr *)(m->bytes + NLMSG_ALIGN(m->header.nlmsg_len));

	a->rta_type = type;
	a->rta_len = (unsigned short)RTA_LENGTH(size);
	if (size)
		memcpy(RTA_DATA(a), data, size);
	m->header.nlmsg_len = (unsigned)(NLMSG_ALIGN(m->header.nlmsg_len) +
					 RTA_ALIGN(RTA_LENGTH(size)));
	return a;
}

static void close_nest(struct message *m, struct rtattr *nest)
{
	nest->rta_len = (unsigned short)(m->bytes + m->header.nlmsg_len - (char *)nest);
}

static void build_can(struct message *m, unsigned flags, uint32_t mode)
{
	struct can_ctrlmode ctrlmode = {.mask = ~0U, .flags = mode};
	struct can_bittiming timing = {.bitrate = 500000, .sample_point = 875};
	struct can_bittiming data_timing = {.bitrate = 2000000, .sample_point = 750};
	struct can_berr_counter counters = {.txerr = 7, .rxerr = 128};
	uint32_t state = CAN_STATE_ERROR_PASSIVE, restart = 100;
	uint32_t able = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_FD;
	struct rtattr *info, *data, *extended;

	begin(m, 3, flags);
	add(m, IFLA_IFNAME, "can0", 5);
	info = add(m, IFLA_LINKINFO, NULL, 0);
	add(m, IFLA_INFO_KIND, "can", 4);
	data = add(m, IFLA_INFO_DATA, NULL, 0);
	add(m, IFLA_CAN_BITTIMING, &timing, sizeof(timing));
	add(m, IFLA_CAN_STATE, &state, sizeof(state));
	add(m, IFLA_CAN_CTRLMODE, &ctrlmode, sizeof(ctrlmode));
	add(m, IFLA_CAN_RESTART_MS, &restart, sizeof(restart));
	add(m, IFLA_CAN_BERR_COUNTER, &counters, sizeof(counters));
	add(m, IFLA_CAN_DATA_BITTIMING, &data_timing, sizeof(data_timing));
	extended = add(m, IFLA_CAN_CTRLMODE_EXT, NULL, 0);
	add(m, IFLA_CAN_CTRLMODE_SUPPORTED, &able, sizeof(able));
	close_nest(m, extended);
	close_nest(m, data);
	close_nest(m, info);
	add(m, IFLA_PARENT_DEV_NAME, "0000:00:06.0", 13);
}

static void reads_a_controller(void **state)
{
	struct message m;
	struct nod_link link;

	(void)state;
	build_can(&m, IFF_UP, CAN_CTRLMODE_LISTENONLY);
	assert_int_equal(nod_link_parse(&link, &m.header), 0);
	assert_int_equal(link.index, 3);
	assert_string_equal(link.name, "can0");
	assert_string_equal(link.kind, "can");
	assert_true(link.is_can && link.up && link.has_mode && link.listen_only);
	assert_false(link.can_fd || nod_link_is_bus_off(&link) || nod_link_is_virtual(&link));
	assert_int_equal(link.set.bitrate, 500000);
	assert_int_equal(link.set.sample_point, 875);
	assert_int_equal(link.set.data_bitrate, 2000000);
	assert_int_equal(link.set.data_sample_point, 750);
	assert_int_equal(link.restart_ms, 100);
	assert_true(link.says_what_it_can && link.can_be_fd);
	assert_true(link.has_parent && !nod_link_is_serial(&link));
	assert_string_equal(nod_link_state_name(&link), "error-passive");
	assert_true(link.has_counters);
	assert_int_equal(link.receive_errors, 128);
	assert_int_equal(link.transmit_errors, 7);
	link.state = CAN_STATE_BUS_OFF;
	assert_true(nod_link_is_bus_off(&link));
	assert_string_equal(nod_link_state_name(&link), "bus-off");
	link.state = CAN_STATE_MAX; /* of a kernel to come */
	assert_string_equal(nod_link_state_name(&link), "");
}

/* Whatever is cut off or wrong in its lengths is left out, never read past. */
static void survives_every_truncation(void **state)
{
	struct message m;
	struct nod_link link;

	(void)state;
	build_can(&m, IFF_UP, 0);
	for (unsigned length = m.header.nlmsg_len; length >= NLMSG_LENGTH(0); length--) {
		struct message cut = m;
		cut.header.nlmsg_len = length;
		nod_link_parse(&link, &cut.header);
		for (unsigned k = NLMSG_LENGTH(sizeof(struct ifinfomsg)); k < length; k++) {
			struct message wrong = m;
			wrong.header.nlmsg_len = length;
			wrong.bytes[k] = (char)0xFF;
			nod_link_parse(&link, &wrong.header);
		}
	}
	m.header.nlmsg_len = NLMSG_LENGTH(sizeof(struct ifinfomsg)) - 1;
	assert_int_equal(nod_link_parse(&link, &m.header), -EINVAL);
	m.header.nlmsg_type = RTM_NEWADDR;
	assert_int_equal(nod_link_parse(&link, &m.header), -EINVAL);
}

static enum nod_interface_use judge(const struct message *m, uint32_t bitrate,
				    struct nod_error *why)
{
	struct nod_interface_settings settings = {.bitrate = bitrate};
	struct nod_link link;

	assert_int_equal(nod_link_parse(&link, &m->header), 0);
	return nod_interface_judge(&link, &settings, why);
}

static void uses_only_what_is_passive(void **state)
{
	struct message m;
	struct nod_error why;

	(void)state;
	build_can(&m, IFF_UP, CAN_CTRLMODE_LISTENONLY);
	assert_int_equal(judge(&m, 500000, &why), NOD_USE_READY);
	assert_string_equal(why.text, "");
	assert_int_equal(judge(&m, 125000, &why), NOD_USE_REFUSED);
	assert_non_null(strstr(why.text, "500000 bit/s, not 125000"));
	build_can(&m, IFF_UP, 0);
	assert_int_equal(judge(&m, 500000, &why), NOD_USE_REFUSED);
	assert_non_null(strstr(why.text, "acknowledges"));
	build_can(&m, 0, 0);
	assert_int_equal(judge(&m, 500000, &why), NOD_USE_SET_UP);
}

static void allows_a_virtual_interface_and_says_so(void **state)
{
	struct message m;
	struct rtattr *info;
	struct nod_error why;

	(void)state;
	begin(&m, 4, IFF_UP);
	add(&m, IFLA_IFNAME, "vcan0", 6);
	info = add(&m, IFLA_LINKINFO, NULL, 0);
	add(&m, IFLA_INFO_KIND, "vcan", 5);
	close_nest(&m, info);
	assert_int_equal(judge(&m, 500000, &why), NOD_USE_READY);
	assert_non_null(strstr(why.text, "virtual"));
	begin(&m, 4, IFF_UP); /* of an unknown driver: nobody knows whether it acknowledges */
	add(&m, IFLA_IFNAME, "odd0", 5);
	assert_int_equal(judge(&m, 500000, &why), NOD_USE_REFUSED);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(reads_a_controller),
		cmocka_unit_test(survives_every_truncation),
		cmocka_unit_test(uses_only_what_is_passive),
		cmocka_unit_test(allows_a_virtual_interface_and_says_so),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
