/* SPDX-License-Identifier: MIT */
#include "switcher.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/capability.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include "link-request.h"
#include "lockdown.h"

/* ---- the other process ---- */

static int obey(int netlink, const struct nod_switcher_request *request)
{
	switch (request->verb) {
	case NOD_SWITCHER_LISTEN:
		return nod_interface_listen(netlink, request->index, &request->settings);
	case NOD_SWITCHER_OFF:
		return nod_interface_off(netlink, request->index);
	default:
		return -EINVAL;
	}
}

int nod_switcher_serve(int channel, int netlink)
{
	struct nod_switcher_request request;
	struct nod_switcher_answer answer;
	ssize_t received;

	while ((received = recv(channel, &request, sizeof(request), MSG_TRUNC)) > 0) {
		if (received != sizeof(request))
			return -EPROTO;
		answer.serial = request.serial;
		answer.status = obey(netlink, &request);
		if (send(channel, &answer, sizeof(answer), MSG_NOSIGNAL) != sizeof(answer))
			return -errno;
	}
	return received < 0 ? -errno : 0;
}

/* Keeps two descriptors and no other; the standard ones lead nowhere. */
static int keep_only(int *channel, int *netlink)
{
	int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);
	int kept_channel = fcntl(*channel, F_DUPFD_CLOEXEC, NOD_SWITCHER_NETLINK + 1);
	int kept_netlink = fcntl(*netlink, F_DUPFD_CLOEXEC, NOD_SWITCHER_NETLINK + 1);

	if (nowhere < 0 || kept_channel < 0 || kept_netlink < 0)
		return -errno;
	for (int fd = 0; fd < NOD_SWITCHER_CHANNEL; fd++)
		if (dup2(nowhere, fd) < 0)
			return -errno;
	*channel = dup2(kept_channel, NOD_SWITCHER_CHANNEL);
	*netlink = dup2(kept_netlink, NOD_SWITCHER_NETLINK);
	return *channel < 0 || *netlink < 0 || close_range(NOD_SWITCHER_NETLINK + 1, ~0U, 0)
		       ? -errno
		       : 0;
}

/* Says what went wrong as its first answer. (The address sanitizer would put a
 * system call before its end that the filter kills it for.) */
__attribute__((no_sanitize("address"))) static _Noreturn void be_the_switcher(
	int channel, const struct nod_account *account)
{
	struct nod_switcher_answer ready = {0, 0};
	int netlink = nod_link_request_open();

	signal(SIGINT, SIG_IGN); /* it ends when the other process has ended */
	signal(SIGTERM, SIG_IGN);
	signal(SIGHUP, SIG_IGN);
	prctl(PR_SET_NAME, "nodoffd-switch");
	prctl(PR_SET_DUMPABLE, 0); /* others of its user cannot look into it or steer it */
	ready.status = netlink < 0 ? netlink : keep_only(&channel, &netlink);
	if (!ready.status)
		ready.status = nod_privileges_drop(account, CAP_NET_ADMIN, NULL);
	if (!ready.status)
		ready.status = nod_lockdown_switcher(channel, netlink, NULL);
	if (send(channel, &ready, sizeof(ready), MSG_NOSIGNAL) != sizeof(ready) || ready.status)
		_exit(1);
	_exit(nod_switcher_serve(channel, netlink) ? 1 : 0);
}

/* ---- this process ---- */

static int receive(struct nod_switcher *switcher)
{
	struct nod_switcher_answer answer;
	ssize_t received;

	do { /* an answer that came too late is skipped */
		received = recv(switcher->fd, &answer, sizeof(answer), 0);
	} while (received == sizeof(answer) && answer.serial != switcher->serial);
	if (received == sizeof(answer))
		return answer.status;
	if (received >= 0 || errno == ECONNRESET)
		return -EPIPE;
	return errno == EAGAIN ? -ETIMEDOUT : -errno;
}

static int ask(struct nod_switcher *switcher, struct nod_switcher_request request)
{
	if (switcher->fd < 0)
		return -EPERM;
	request.serial = ++switcher->serial;
	if (send(switcher->fd, &request, sizeof(request), MSG_NOSIGNAL) < 0)
		return errno == ECONNRESET ? -EPIPE : -errno;
	return receive(switcher);
}

static int split(struct nod_switcher *switcher, const struct nod_account *account)
{
	struct timeval patience = {.tv_sec = NOD_SWITCHER_PATIENCE};
	int ends[2];

	if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends))
		return -errno;
	switcher->pid = fork();
	if (!switcher->pid)
		be_the_switcher(ends[1], account);
	close(ends[1]);
	if (switcher->pid < 0 ||
	    setsockopt(ends[0], SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience))) {
		close(ends[0]);
		return -errno;
	}
	switcher->fd = ends[0];
	return receive(switcher);
}

int nod_switcher_start(struct nod_switcher *switcher, const struct nod_account *account,
		       struct nod_error *err)
{
	int status;

	*switcher = (struct nod_switcher)NOD_SWITCHER_NONE;
	if (!nod_privileges_has(CAP_NET_ADMIN))
		return 0;
	status = split(switcher, account);
	if (!status)
		return 0;
	nod_switcher_stop(switcher);
	return nod_error_set(err, -status, "cannot start the process that sets interfaces up: %s",
			     strerror(-status));
}

void nod_switcher_stop(struct nod_switcher *switcher)
{
	if (switcher->fd >= 0)
		close(switcher->fd);
	switcher->fd = -1;
}

static int failed(const struct nod_link *link, const char *what, int status, struct nod_error *err)
{
	static const struct {
		int status;
		const char *text;
	} hints[] = {
		{-EPERM, " (needs CAP_NET_ADMIN)"},
		{-EPIPE, " (the process that does it has ended; start nodoffd again)"},
		{-EOPNOTSUPP,
		 " (it cannot listen without acknowledging frames, and is not used: take "
		 "another adapter)"},
		{-EINVAL, " (it cannot do that bitrate)"},
		{-ETIMEDOUT, " (the adapter does not answer: unplug it and plug it in again)"},
	};
	const char *hint = "";

	for (size_t i = 0; i < sizeof(hints) / sizeof(hints[0]); i++)
		if (hints[i].status == status)
			hint = hints[i].text;
	return nod_error_set(err, -status, "%s: cannot %s: %s%s", link->name, what,
			     strerror(-status), hint);
}

int nod_switcher_listen(struct nod_switcher *switcher, const struct nod_link *link,
			const struct nod_interface_settings *settings, struct nod_error *err)
{
	struct nod_switcher_request request = {
		.verb = NOD_SWITCHER_LISTEN, .index = link->index, .settings = *settings};
	int status = ask(switcher, request);

	return status ? failed(link, "set it up listen-only", status, err) : 0;
}

int nod_switcher_off(struct nod_switcher *switcher, const struct nod_link *link,
		     struct nod_error *err)
{
	struct nod_switcher_request request = {.verb = NOD_SWITCHER_OFF, .index = link->index};
	int status = ask(switcher, request);

	return status ? failed(link, "switch it off", status, err) : 0;
}
