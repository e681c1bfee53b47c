/* SPDX-License-Identifier: MIT */
#include "link-request.h"

#include <errno.h>
#include <libmnl/libmnl.h>
#include <linux/can/netlink.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* libsocketcan cannot make one message of it: its calls set bitrate, mode and "up" one after the
 * other, each over a socket of its own, so that between them, or when the program ends there, a
 * controller may be up as it was before. libmnl makes and reads the attributes; its sockets are
 * not used, because they receive by recvmsg(), which could be handed descriptors and for which
 * the switcher's filter kills. */

/* Leaves the counters out of the answer to a query (RTEXT_FILTER_SKIP_STATS,
 * linux/rtnetlink.h). What is left of an interface is below 2 KiB. */
#define ANSWER_SIZE 16384

static void begin(struct nod_link_request *request, int index, unsigned flags, unsigned change)
{
	struct nlmsghdr *header = mnl_nlmsg_put_header(request);
	struct ifinfomsg *info = mnl_nlmsg_put_extra_header(header, sizeof(*info));

	header->nlmsg_type = RTM_NEWLINK;
	header->nlmsg_flags = NLM_F_REQUEST | NLM_F_ACK;
	info->ifi_index = index;
	info->ifi_flags = flags;
	info->ifi_change = change;
}

static void put_timing(struct nod_link_request *request, uint16_t type, uint32_t bitrate,
		       uint32_t sample_point)
{
	struct can_bittiming timing = {.bitrate = bitrate, .sample_point = sample_point};

	mnl_attr_put(&request->header, type, sizeof(timing), &timing);
}

/* Everything that would send or make a difference to what is heard is cleared. */
static void put_mode(struct nod_link_request *request, bool fd, unsigned extras)
{
	struct can_ctrlmode mode = {
		.mask = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_LOOPBACK | CAN_CTRLMODE_ONE_SHOT |
			CAN_CTRLMODE_BERR_REPORTING | CAN_CTRLMODE_FD | CAN_CTRLMODE_FD_NON_ISO |
			CAN_CTRLMODE_PRESUME_ACK,
		.flags = CAN_CTRLMODE_LISTENONLY | (fd ? CAN_CTRLMODE_FD : 0) |
			 (extras & NOD_LINK_BUS_ERRORS ? CAN_CTRLMODE_BERR_REPORTING : 0),
	};

	mnl_attr_put(&request->header, IFLA_CAN_CTRLMODE, sizeof(mode), &mode);
}

/* The attributes are few and of fixed size; they fit by construction. */
void nod_link_request_listen(struct nod_link_request *request, int index,
			     const struct nod_interface_settings *settings, unsigned extras)
{
	bool fd = settings->data_bitrate;
	struct nlattr *info, *data;

	begin(request, index, IFF_UP, IFF_UP);
	info = mnl_attr_nest_start(&request->header, IFLA_LINKINFO);
	mnl_attr_put_strz(&request->header, IFLA_INFO_KIND, "can");
	data = mnl_attr_nest_start(&request->header, IFLA_INFO_DATA);
	put_mode(request, fd, extras);
	put_timing(request, IFLA_CAN_BITTIMING, settings->bitrate, settings->sample_point);
	if (fd)
		put_timing(request, IFLA_CAN_DATA_BITTIMING, settings->data_bitrate,
			   settings->data_sample_point);
	if (extras & NOD_LINK_RESTART)
		mnl_attr_put_u32(&request->header, IFLA_CAN_RESTART_MS, NOD_RESTART_MS);
	mnl_attr_nest_end(&request->header, data);
	mnl_attr_nest_end(&request->header, info);
}

void nod_link_request_on(struct nod_link_request *request, int index)
{
	begin(request, index, IFF_UP, IFF_UP);
}

void nod_link_request_off(struct nod_link_request *request, int index)
{
	begin(request, index, 0, IFF_UP);
}

int nod_link_request_open(void)
{
	struct sockaddr_nl address = {.nl_family = AF_NETLINK};
	int fd = socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC, NETLINK_ROUTE);

	if (fd >= 0 && bind(fd, (struct sockaddr *)&address, sizeof(address))) {
		int code = errno;
		close(fd);
		return -code;
	}
	return fd < 0 ? -errno : fd;
}

/* The kernel answers before send() returns; an answer to an earlier request
 * that was not waited for is skipped. */
static const struct nlmsghdr *exchange(int fd, struct nlmsghdr *request, char *answer, int *status)
{
	static const int attempts = 16; /* more strangers do not wait in a socket of our own */
	ssize_t received;

	request->nlmsg_seq = 1;
	*status = 0;
	if (send(fd, request, request->nlmsg_len, 0) < 0) {
		*status = -errno;
		return NULL;
	}
	for (int i = 0; i < attempts; i++) {
		const struct nlmsghdr *message = (const struct nlmsghdr *)answer;
		received = recv(fd, answer, ANSWER_SIZE, 0);
		if (received < 0) {
			*status = -errno;
			return NULL;
		}
		if (mnl_nlmsg_ok(message, (int)received) &&
		    message->nlmsg_seq == request->nlmsg_seq)
			return message;
	}
	*status = -EIO;
	return NULL;
}

static int error_of(const struct nlmsghdr *message)
{
	const struct nlmsgerr *error = mnl_nlmsg_get_payload(message);

	if (message->nlmsg_type != NLMSG_ERROR || message->nlmsg_len < NLMSG_LENGTH(sizeof(*error)))
		return -EIO;
	return error->error;
}

int nod_link_request_send(int fd, struct nod_link_request *request)
{
	_Alignas(struct nlmsghdr) char answer[ANSWER_SIZE];
	int status;
	const struct nlmsghdr *message = exchange(fd, &request->header, answer, &status);

	return message ? error_of(message) : status;
}

int nod_link_query(int fd, int index, struct nod_link *link)
{
	_Alignas(struct nlmsghdr) char answer[ANSWER_SIZE];
	struct nod_link_request request;
	const struct nlmsghdr *message;
	int status;

	begin(&request, index, 0, 0);
	request.header.nlmsg_type = RTM_GETLINK;
	request.header.nlmsg_flags = NLM_F_REQUEST;
	mnl_attr_put_u32(&request.header, IFLA_EXT_MASK, RTEXT_FILTER_SKIP_STATS);
	message = exchange(fd, &request.header, answer, &status);
	if (!message)
		return status;
	if (message->nlmsg_type == NLMSG_ERROR)
		return error_of(message);
	return nod_link_parse(link, message);
}
