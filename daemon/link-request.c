/* SPDX-License-Identifier: MIT */
#include "link-request.h"

#include <errno.h>
#include <linux/can/netlink.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Leaves the counters out of the answer to a query (RTEXT_FILTER_SKIP_STATS,
 * linux/rtnetlink.h). What is left of an interface is below 2 KiB. */
#define ANSWER_SIZE 16384

static void begin(struct nod_link_request *request, int index, unsigned flags, unsigned change)
{
	memset(request, 0, sizeof(*request));
	request->header = (struct nlmsghdr){
		.nlmsg_len = NLMSG_LENGTH(sizeof(request->info)),
		.nlmsg_type = RTM_NEWLINK,
		.nlmsg_flags = NLM_F_REQUEST | NLM_F_ACK,
	};
	request->info = (struct ifinfomsg){.ifi_family = AF_UNSPEC,
					   .ifi_index = index,
					   .ifi_flags = flags,
					   .ifi_change = change};
}

/* The attributes are few and of fixed size; they fit by construction. */
static struct rtattr *add(struct nod_link_request *request, unsigned short type, const void *data,
			  size_t size)
{
	size_t at = NLMSG_ALIGN((size_t)request->header.nlmsg_len);
	struct rtattr *a = (struct rtattr *)((char *)request + at);

	a->rta_type = type;
	a->rta_len = (unsigned short)RTA_LENGTH(size);
	if (size)
		memcpy(RTA_DATA(a), data, size);
	request->header.nlmsg_len = (uint32_t)(at + RTA_SPACE(size));
	return a;
}

static void close_nest(struct nod_link_request *request, struct rtattr *nest)
{
	nest->rta_len = (unsigned short)((char *)request + request->header.nlmsg_len -
					 (char *)nest);
}

void nod_link_request_listen(struct nod_link_request *request, int index, uint32_t bitrate,
			     unsigned extras)
{
	/* Loopback and one-shot are cleared. */
	struct can_ctrlmode mode = {
		.mask = CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_LOOPBACK | CAN_CTRLMODE_ONE_SHOT |
			CAN_CTRLMODE_BERR_REPORTING,
		.flags = CAN_CTRLMODE_LISTENONLY |
			 (extras & NOD_LINK_BUS_ERRORS ? CAN_CTRLMODE_BERR_REPORTING : 0),
	};
	struct can_bittiming timing = {.bitrate = bitrate};
	uint32_t restart = NOD_RESTART_MS;
	struct rtattr *info, *data;

	begin(request, index, IFF_UP, IFF_UP);
	info = add(request, IFLA_LINKINFO, NULL, 0);
	add(request, IFLA_INFO_KIND, "can", sizeof("can"));
	data = add(request, IFLA_INFO_DATA, NULL, 0);
	add(request, IFLA_CAN_CTRLMODE, &mode, sizeof(mode));
	add(request, IFLA_CAN_BITTIMING, &timing, sizeof(timing));
	if (extras & NOD_LINK_RESTART)
		add(request, IFLA_CAN_RESTART_MS, &restart, sizeof(restart));
	close_nest(request, data);
	close_nest(request, info);
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
		if (NLMSG_OK(message, (size_t)received) && message->nlmsg_seq == request->nlmsg_seq)
			return message;
	}
	*status = -EIO;
	return NULL;
}

static int error_of(const struct nlmsghdr *message)
{
	const struct nlmsgerr *error = NLMSG_DATA(message);

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
	uint32_t without_counters = RTEXT_FILTER_SKIP_STATS;
	struct nod_link_request request;
	const struct nlmsghdr *message;
	int status;

	begin(&request, index, 0, 0);
	request.header.nlmsg_type = RTM_GETLINK;
	request.header.nlmsg_flags = NLM_F_REQUEST;
	add(&request, IFLA_EXT_MASK, &without_counters, sizeof(without_counters));
	message = exchange(fd, &request.header, answer, &status);
	if (!message)
		return status;
	if (message->nlmsg_type == NLMSG_ERROR)
		return error_of(message);
	return nod_link_parse(link, message);
}
