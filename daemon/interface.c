/* SPDX-License-Identifier: MIT */
#include "interface.h"

#include <errno.h>

#include "bitrate-search.h"
#include "link-request.h"

/* What keeps a controller that is up from being used. */
static enum nod_interface_use refuse(const struct nod_link *link,
				     const struct nod_interface_settings *settings,
				     struct nod_error *why)
{
	if (!link->has_mode)
		nod_error_set(why, 0,
			      "%s does not say whether it is listen-only; it is not used (an "
			      "adapter on a serial line says it from Linux 6.0 on)",
			      link->name);
	else if (!link->listen_only)
		nod_error_set(
			why, 0,
			"%s is up and acknowledges frames, which can keep the network awake; "
			"it is not used. Switch it off (ip link set %s down) and it is set up "
			"listen-only",
			link->name, link->name);
	else if (!nod_bitrate_is(link->set.bitrate, settings->bitrate))
		nod_error_set(why, 0,
			      "%s is up with %u bit/s, not %u; it is not used. Switch it off "
			      "(ip link set %s down) and it is set up anew",
			      link->name, link->set.bitrate, settings->bitrate, link->name);
	else
		return NOD_USE_READY;
	return NOD_USE_REFUSED;
}

/* What is special about a controller that listens. */
static void say_limits(const struct nod_link *link, const struct nod_interface_settings *settings,
		       struct nod_error *why)
{
	uint32_t wanted = settings->data_bitrate;

	if (wanted && link->says_what_it_can && !link->can_be_fd)
		nod_error_set(why, 0,
			      "%s cannot do CAN FD, which this network carries by the map: its FD "
			      "frames are not heard. Take an adapter for CAN FD",
			      link->name);
	else if (wanted && !link->can_fd)
		nod_error_set(
			why, 0,
			"%s is set up for classical CAN: CAN FD with %u bit/s, as the map has "
			"it, could not be set up, and FD frames are not heard",
			link->name, wanted);
	else if (wanted && link->set.data_bitrate != wanted)
		nod_error_set(
			why, 0,
			"%s is up for CAN FD with %u bit/s, by the map it is %u: FD frames are "
			"not heard. Switch it off (ip link set %s down) and plug it in again",
			link->name, link->set.data_bitrate, wanted, link->name);
	else if (nod_link_is_serial(link))
		nod_error_set(
			why, 0,
			"%s is on a serial line: that it obeys, and works while it is silent, "
			"cannot be read back. If it hears nothing of a network that is awake, its "
			"firmware may lack listen-only (L)",
			link->name);
}

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
	if (refuse(link, settings, why) == NOD_USE_REFUSED)
		return NOD_USE_REFUSED;
	say_limits(link, settings, why);
	return NOD_USE_READY;
}

static int find_can(int netlink, int index, struct nod_link *link)
{
	int status = index > 0 ? nod_link_query(netlink, index, link) : -EINVAL;

	return status ? status : link->is_can ? 0 : -EINVAL;
}

/* Asks for as much as the controller can. slcan is not asked to restart after bus-off: before
 * that was refused (Linux 6.16 and its stable branches), a restart crashed the kernel. */
static int ask_for_all(int netlink, const struct nod_link *link,
		       const struct nod_interface_settings *settings)
{
	static const unsigned wishes[] = {NOD_LINK_BUS_ERRORS | NOD_LINK_RESTART, NOD_LINK_RESTART,
					  NOD_LINK_BUS_ERRORS, 0};
	struct nod_link_request request;
	int status = -EOPNOTSUPP;

	for (size_t i = 0; i < sizeof(wishes) / sizeof(wishes[0]) && status == -EOPNOTSUPP; i++) {
		if (nod_link_is_serial(link) && wishes[i] & NOD_LINK_RESTART)
			continue;
		nod_link_request_listen(&request, link->index, settings, wishes[i]);
		status = nod_link_request_send(netlink, &request);
	}
	return status;
}

/* A controller without CAN FD, or without that data bitrate, at least hears the classical frames. */
static int listen_with_controller(int netlink, const struct nod_link *link,
				  const struct nod_interface_settings *settings)
{
	struct nod_interface_settings classical = {.bitrate = settings->bitrate,
						   .sample_point = settings->sample_point};
	int status = ask_for_all(netlink, link, settings);

	if (settings->data_bitrate && (status == -EOPNOTSUPP || status == -EINVAL))
		status = ask_for_all(netlink, link, &classical);
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

int nod_interface_listen(int netlink, int index, const struct nod_interface_settings *settings)
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
	if (settings->bitrate < NOD_BITRATE_MIN || settings->bitrate > NOD_BITRATE_MAX)
		return -EINVAL;
	status = listen_with_controller(netlink, &link, settings);
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
