/* SPDX-License-Identifier: MIT */
/* nodoffd: listens to the networks of a parked car, records what they do and
 * judges it. It only ever listens: see lockdown.h. */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock-watch.h"
#include "daemon.h"
#include "lockdown.h"
#include "lockdown-files.h"
#include "plain-text.h"
#include "requests.h"

static int start_recording(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = daemon->options->record ? nod_daemon_begin(daemon, NULL, NULL, err) : 0;

	return status < 0 ? status : 0; /* or as soon as the bitrates are known */
}

static int open_control(struct nod_daemon *daemon, struct nod_error *err)
{
	daemon->control = nod_control_new(daemon->loop, daemon->options->socket,
					  daemon->options->group, nod_request_answer, daemon, err);
	return daemon->control ? 0 : -errno;
}

static int open_current(struct nod_daemon *daemon, struct nod_error *err)
{
	if (!daemon->options->current)
		return 0;
	daemon->current = nod_current_input_new(daemon->loop, daemon->options->current,
						nod_daemon_take_current, daemon, err);
	return daemon->current ? 0 : -errno;
}

static int start_loop(struct nod_daemon *daemon, struct nod_error *err)
{
	daemon->loop = ev_default_loop(EVBACKEND_EPOLL | EVFLAG_NOENV);
	return daemon->loop ? 0 : nod_error_set(err, ENOSYS, "the event loop cannot start");
}

/* The places that the options name are there for whom they are for. */
static void make_directories(const struct nod_daemon *daemon)
{
	char socket[PATH_MAX];
	char *slash;

	/* What fails here, the opening will say. */
	if (daemon->options->socket == daemon->options->own_socket)
		nod_own_make_place(daemon->options->socket);
	if (daemon->options->sessions == daemon->options->own_sessions)
		nod_own_make_place(daemon->options->sessions);
	snprintf(socket, sizeof(socket), "%s", daemon->options->socket);
	slash = strrchr(socket, '/');
	if (slash && slash != socket) {
		*slash = 0;
		nod_privileges_make_directory(&daemon->account, socket);
	}
	nod_privileges_make_directory(&daemon->account, daemon->options->sessions);
}

/* What needs privileges, and then their end: the process that goes on has no
 * capability. The sockets come before it because their buffers may be large
 * only by a privilege. */
static int become_harmless(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = nod_account_find(&daemon->account, daemon->options->user,
				      daemon->options->group, err);

	if (!status)
		status = nod_switcher_start(&daemon->switcher, &daemon->account, err);
	if (!status)
		status = nod_daemon_choose_taps(daemon, err);
	if (!status)
		status = nod_daemon_open_taps(daemon, err);
	if (status)
		return status;
	make_directories(daemon);
	return nod_privileges_drop(&daemon->account, NOD_PRIVILEGES_NONE, err);
}

/* From here on nothing can be sent; lockdown.h says how. */
static int lock_down(const struct nod_daemon *daemon, struct nod_error *err)
{
	const struct nod_options *options = daemon->options;
	int status = nod_lockdown_files(options->sessions, options->socket, err);

	if (status > 0)
		nod_daemon_say(
			"there is no Landlock here: that nothing is written elsewhere is left to "
			"the rights of this account");
	return status < 0 ? status : nod_lockdown(nod_current_input_sockets(options->current), err);
}

/* Everything in its order; the filter goes on as early as the sockets allow,
 * before the first byte from outside is read. */
static int run(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = become_harmless(daemon, err);

	if (!status)
		status = start_loop(daemon, err);
	if (!status)
		status = open_control(daemon, err);
	if (!status)
		status = nod_daemon_open_links(daemon, err);
	if (!status)
		status = lock_down(daemon, err);
	if (!status)
		status = nod_live_open(&daemon->live, daemon->options->vehicle, &daemon->interfaces,
				       nod_clock_now(), err);
	if (!status)
		status = nod_daemon_start(daemon, err);
	if (!status)
		status = nod_daemon_watch_links(daemon, err);
	if (!status)
		status = open_current(daemon, err);
	if (!status)
		status = start_recording(daemon, err);
	if (!status)
		ev_run(daemon->loop, 0);
	return status;
}

static void undo(struct nod_daemon *daemon)
{
	nod_current_input_free(daemon->current);
	nod_netlink_watch_free(daemon->links);
	nod_daemon_stop(daemon);
	if (daemon->live.engine)
		nod_live_close(&daemon->live, nod_clock_to_microseconds(nod_clock_now()));
	nod_control_free(daemon->control);
	nod_daemon_close_taps(daemon);
	nod_switcher_stop(&daemon->switcher);
}

static void fail(struct nod_error *err)
{
	nod_text_make_plain(err->text, '?');
	fprintf(stderr, "nodoffd: %s\n", err->text);
}

int main(int argc, char **argv)
{
	static struct nod_daemon daemon;
	struct nod_options options;
	struct nod_error err = {""};
	int status = nod_options_parse(&options, argc, argv, &err);

	if (status > 0)
		return 0;
	signal(SIGPIPE, SIG_IGN);
	daemon.options = &options;
	daemon.switcher = (struct nod_switcher)NOD_SWITCHER_NONE;
	if (!status) {
		status = run(&daemon, &err);
		undo(&daemon);
	}
	if (status)
		fail(&err);
	return status ? EXIT_FAILURE : EXIT_SUCCESS;
}
