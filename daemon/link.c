/* SPDX-License-Identifier: MIT */
#include "link.h"

#include <errno.h>
#include <libmnl/libmnl.h>
#include <linux/can/netlink.h>
#include <linux/if_arp.h>
#include <linux/rtnetlink.h>
#include <stdio.h>
#include <string.h>

/* Copies a string attribute, cut to fit. */
static void copy_text(char *to, size_t size, const struct nlattr *a)
{
	snprintf(to, size, "%.*s", (int)mnl_attr_get_payload_len(a),
		 (const char *)mnl_attr_get_payload(a));
}

/* Copies a fixed-size attribute; a shorter one leaves the rest zero. */
static void copy_struct(void *to, size_t size, const struct nlattr *a)
{
	size_t length = mnl_attr_get_payload_len(a);

	memset(to, 0, size);
	memcpy(to, mnl_attr_get_payload(a), length < size ? length : size);
}

static uint32_t read_u32(const struct nlattr *a)
{
	uint32_t value;

	copy_struct(&value, sizeof(value), a);
	return value;
}

static void take_timing(uint32_t *bitrate, uint32_t *sample_point, const struct nlattr *a)
{
	struct can_bittiming timing;

	copy_struct(&timing, sizeof(timing), a);
	*bitrate = timing.bitrate;
	*sample_point = timing.sample_point;
}

static void take_mode(struct nod_link *link, const struct nlattr *a)
{
	struct can_ctrlmode mode;

	copy_struct(&mode, sizeof(mode), a);
	link->has_mode = true;
	link->listen_only = mode.flags & CAN_CTRLMODE_LISTENONLY;
	link->can_fd = mode.flags & CAN_CTRLMODE_FD;
}

static void take_counters(struct nod_link *link, const struct nlattr *a)
{
	struct can_berr_counter counters;

	copy_struct(&counters, sizeof(counters), a);
	link->has_counters = true;
	link->receive_errors = counters.rxerr;
	link->transmit_errors = counters.txerr;
}

static int take_ability(const struct nlattr *a, void *data)
{
	struct nod_link *link = data;
	uint32_t modes = read_u32(a);

	if (mnl_attr_get_type(a) != IFLA_CAN_CTRLMODE_SUPPORTED)
		return MNL_CB_OK;
	link->says_what_it_can = true;
	link->can_be_fd = modes & CAN_CTRLMODE_FD;
	link->can_be_listen_only = modes & CAN_CTRLMODE_LISTENONLY;
	return MNL_CB_OK;
}

static int take_of_controller(const struct nlattr *a, void *data)
{
	struct nod_link *link = data;

	switch (mnl_attr_get_type(a)) {
	case IFLA_CAN_CTRLMODE:
		take_mode(link, a);
		break;
	case IFLA_CAN_BITTIMING:
		take_timing(&link->set.bitrate, &link->set.sample_point, a);
		break;
	case IFLA_CAN_DATA_BITTIMING:
		take_timing(&link->set.data_bitrate, &link->set.data_sample_point, a);
		break;
	case IFLA_CAN_STATE:
		link->has_state = true;
		link->state = read_u32(a);
		break;
	case IFLA_CAN_RESTART_MS:
		link->restart_ms = read_u32(a);
		break;
	case IFLA_CAN_BERR_COUNTER:
		take_counters(link, a);
		break;
	case IFLA_CAN_CTRLMODE_EXT:
		mnl_attr_parse_nested(a, take_ability, link);
		break;
	}
	return MNL_CB_OK;
}

struct info {
	struct nod_link *link;
	const struct nlattr *controller;
};

static int take_info(const struct nlattr *a, void *data)
{
	struct info *info = data;

	if (mnl_attr_get_type(a) == IFLA_INFO_KIND)
		copy_text(info->link->kind, sizeof(info->link->kind), a);
	else if (mnl_attr_get_type(a) == IFLA_INFO_DATA)
		info->controller = a;
	return MNL_CB_OK;
}

static int take_attribute(const struct nlattr *a, void *data)
{
	struct nod_link *link = data;
	struct info info = {link, NULL};

	switch (mnl_attr_get_type(a)) {
	case IFLA_IFNAME:
		copy_text(link->name, sizeof(link->name), a);
		break;
	case IFLA_PARENT_DEV_NAME:
		link->has_parent = true;
		break;
	case IFLA_LINKINFO:
		mnl_attr_parse_nested(a, take_info, &info);
		if (info.controller && !strcmp(link->kind, "can"))
			mnl_attr_parse_nested(info.controller, take_of_controller, link);
	}
	return MNL_CB_OK;
}

int nod_link_parse(struct nod_link *link, const struct nlmsghdr *message)
{
	const struct ifinfomsg *info = mnl_nlmsg_get_payload(message);

	memset(link, 0, sizeof(*link));
	if ((message->nlmsg_type != RTM_NEWLINK && message->nlmsg_type != RTM_DELLINK) ||
	    message->nlmsg_len < NLMSG_LENGTH(sizeof(*info)))
		return -EINVAL;
	link->index = info->ifi_index;
	link->is_can = info->ifi_type == ARPHRD_CAN;
	link->up = info->ifi_flags & IFF_UP;
	mnl_attr_parse(message, sizeof(*info), take_attribute, link);
	return 0;
}

bool nod_link_is_virtual(const struct nod_link *link)
{
	return !strcmp(link->kind, "vcan") || !strcmp(link->kind, "vxcan");
}

bool nod_link_is_serial(const struct nod_link *link)
{
	return link->has_mode && !link->has_parent;
}

bool nod_link_is_bus_off(const struct nod_link *link)
{
	return link->has_state && link->state == CAN_STATE_BUS_OFF;
}

const char *nod_link_state_name(const struct nod_link *link)
{
	static const char *const names[CAN_STATE_MAX] = {
		[CAN_STATE_ERROR_ACTIVE] = "error-active",
		[CAN_STATE_ERROR_WARNING] = "error-warning",
		[CAN_STATE_ERROR_PASSIVE] = "error-passive",
		[CAN_STATE_BUS_OFF] = "bus-off",
		[CAN_STATE_STOPPED] = "stopped",
		[CAN_STATE_SLEEPING] = "sleeping",
	};

	return link->has_state && link->state < CAN_STATE_MAX ? names[link->state] : "";
}
