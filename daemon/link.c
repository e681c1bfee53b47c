/* SPDX-License-Identifier: MIT */
#include "link.h"

#include <errno.h>
#include <linux/can/netlink.h>
#include <linux/if_arp.h>
#include <linux/rtnetlink.h>
#include <stdio.h>
#include <string.h>

/* Walks the attributes in `length` bytes (the macros of rtnetlink.h do the
 * same with signs that gcc warns about). */
#define for_each_attribute(a, first, length) \
	for ((a) = check((first), (length)); (a); (a) = next((a), &(length)))

static const struct rtattr *check(const struct rtattr *a, size_t length)
{
	bool whole = length >= sizeof(*a) && a->rta_len >= sizeof(*a) && a->rta_len <= length;

	return whole ? a : NULL;
}

static const struct rtattr *next(const struct rtattr *a, size_t *length)
{
	size_t step = RTA_ALIGN((size_t)a->rta_len);

	if (step >= *length)
		return NULL;
	*length -= step;
	return check((const struct rtattr *)((const char *)a + step), *length);
}

/* Copies a string attribute, cut to fit. */
static void copy_text(char *to, size_t size, const struct rtattr *a)
{
	snprintf(to, size, "%.*s", (int)RTA_PAYLOAD(a), (const char *)RTA_DATA(a));
}

/* Copies a fixed-size attribute; a shorter one leaves the rest zero. */
static void copy_struct(void *to, size_t size, const struct rtattr *a)
{
	size_t length = RTA_PAYLOAD(a);

	memset(to, 0, size);
	memcpy(to, RTA_DATA(a), length < size ? length : size);
}

static uint32_t read_u32(const struct rtattr *a)
{
	uint32_t value;

	copy_struct(&value, sizeof(value), a);
	return value;
}

static uint32_t read_bitrate(const struct rtattr *a)
{
	struct can_bittiming timing;

	copy_struct(&timing, sizeof(timing), a);
	return timing.bitrate;
}

static void parse_mode(struct nod_link *link, const struct rtattr *a)
{
	struct can_ctrlmode mode;

	copy_struct(&mode, sizeof(mode), a);
	link->has_mode = true;
	link->listen_only = mode.flags & CAN_CTRLMODE_LISTENONLY;
	link->can_fd = mode.flags & CAN_CTRLMODE_FD;
}

static void parse_can(struct nod_link *link, const struct rtattr *data)
{
	size_t length = RTA_PAYLOAD(data);
	const struct rtattr *a;

	for_each_attribute(a, RTA_DATA(data), length)
	{
		switch (a->rta_type) {
		case IFLA_CAN_CTRLMODE:
			parse_mode(link, a);
			break;
		case IFLA_CAN_BITTIMING:
			link->bitrate = read_bitrate(a);
			break;
		case IFLA_CAN_DATA_BITTIMING:
			link->data_bitrate = read_bitrate(a);
			break;
		case IFLA_CAN_STATE:
			link->bus_off = read_u32(a) == CAN_STATE_BUS_OFF;
			break;
		case IFLA_CAN_RESTART_MS:
			link->restart_ms = read_u32(a);
			break;
		}
	}
}

static void parse_info(struct nod_link *link, const struct rtattr *info)
{
	size_t length = RTA_PAYLOAD(info);
	const struct rtattr *a, *data = NULL;

	for_each_attribute(a, RTA_DATA(info), length)
	{
		if (a->rta_type == IFLA_INFO_KIND)
			copy_text(link->kind, sizeof(link->kind), a);
		else if (a->rta_type == IFLA_INFO_DATA)
			data = a;
	}
	if (data && !strcmp(link->kind, "can"))
		parse_can(link, data);
}

int nod_link_parse(struct nod_link *link, const struct nlmsghdr *message)
{
	const struct ifinfomsg *info = NLMSG_DATA(message);
	const struct rtattr *a;
	size_t length;

	memset(link, 0, sizeof(*link));
	if ((message->nlmsg_type != RTM_NEWLINK && message->nlmsg_type != RTM_DELLINK) ||
	    message->nlmsg_len < NLMSG_LENGTH(sizeof(*info)))
		return -EINVAL;
	length = message->nlmsg_len - NLMSG_LENGTH(sizeof(*info));
	link->index = info->ifi_index;
	link->is_can = info->ifi_type == ARPHRD_CAN;
	link->up = info->ifi_flags & IFF_UP;
	for_each_attribute(a, IFLA_RTA(info), length)
	{
		if (a->rta_type == IFLA_IFNAME)
			copy_text(link->name, sizeof(link->name), a);
		else if ((a->rta_type & NLA_TYPE_MASK) == IFLA_LINKINFO)
			parse_info(link, a);
	}
	return 0;
}

bool nod_link_is_virtual(const struct nod_link *link)
{
	return !strcmp(link->kind, "vcan") || !strcmp(link->kind, "vxcan");
}
