/* SPDX-License-Identifier: MIT */
#include "interface.h"

#include <errno.h>

#include "bitrate-search.h"
#include "link-request.h"

enum nod_interface_use nod_interface_judge(const struct nod_link *link,
					   const struct nod_interface_settings *settings,
					   struct nod_error *why)
{
	nod_error_set(why, 0, "%s", "");
	if (!link->up)
		return NOD_USE_SET_UP;
	if (nod_link_is_virtual(link)) {
		nod_error_set(why, 0, "%s is virtual: it has no controller and no mode",
			      link->name);
		return NOD_USE_READY;
	}
	if (!link->has_mode) {
		nod_error_set(why, 0, "%s does not say whether it is listen-only; it is not used",
			      link->name);
		return NOD_USE_REFUSED;
	}
	if (!link->listen_only) {
		nod_error_set(
			why, 0,
			"%s is up and acknowledges frames, which can keep the network awake; "
			"it is not used. Switch it off (ip link set %s down) and it is set up "
			"listen-only",
			link->name, link->name);
		return NOD_USE_REFUSED;
	}
	if (!nod_bitrate_is(link->bitrate, settings->bitrate)) {
		nod_error_set(why, 0,
			      "%s is up with %u bit/s, not %u; it is not used. Switch it off "
			      "(ip link set %s down) and it is set up anew",
			      link->name, link->bitrate, settings->bitrate, link->name);
		return NOD_USE_REFUSED;
	}
	return NOD_USE_READY;
}

static int find_can(int netlink, int index, struct nod_link *link)
{
	int status = index > 0 ? nod_link_query(netlink, index, link) : -EINVAL;

	return status ? status : link->is_can ? 0 : -EINVAL;
}

/* Asks for as much as the controller can. */
static int listen_with_controller(int netlink, int index, uint32_t bitrate)
{
	static const unsigned wishes[] = {NOD_LINK_BUS_ERRORS | NOD_LINK_RESTART, NOD_LINK_RESTART,
					  NOD_LINK_BUS_ERRORS, 0};
	struct nod_link_request request;
	int status = -EOPNOTSUPP;

	for (size_t i = 0; i < sizeof(wishes) / sizeof(wishes[0]) && status == -EOPNOTSUPP; i++) {
		nod_link_request_listen(&request, index, bitrate, wishes[i]);
		status = nod_link_request_send(netlink, &request);
	}
	return status;
}

/* A driver that took the request and does not listen as told is switched off. */
static int make_sure(int netlink, int index)
{
	struct nod_link_request request;
	struct nod_link link;
	int status = nod_link_query(netlink, index, &link);

	if (!status && link.has_mode && link.listen_only)
		return 0;
	nod_link_request_off(&request, index);
	nod_link_request_send(netlink, &request);
	return status ? status : -EOPNOTSUPP;
}

int nod_interface_listen(int netlink, int index, uint32_t bitrate)
{
	struct nod_link_request request;
	struct nod_link link;
	int status = find_can(netlink, index, &link);

	if (status)
		return status;
	if (link.up)
		return -EBUSY;
	if (nod_link_is_virtual(&link)) {
		nod_link_request_on(&request, index);
		return nod_link_request_send(netlink, &request);
	}
	if (bitrate < NOD_BITRATE_MIN || bitrate > NOD_BITRATE_MAX)
		return -EINVAL;
	status = listen_with_controller(netlink, index, bitrate);
	return status ? status : make_sure(netlink, index);
}

int nod_interface_off(int netlink, int index)
{
	struct nod_link_request request;
	struct nod_link link;
	int status = find_can(netlink, index, &link);

	if (status)
		return status;
	if (!link.up)
		return 0;
	if (!link.listen_only)
		return -EBUSY;
	nod_link_request_off(&request, index);
	return nod_link_request_send(netlink, &request);
}
