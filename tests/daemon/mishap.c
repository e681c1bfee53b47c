/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

#include "clock-watch.h"
#include "mishap.h"
#include "requests.h"
#include "simulated-can.h"

#define START (INT64_C(1700000000) * S)

/* ---- the kernel ---- */

struct mishap_kernel kernel;

static void jump_if_due(int64_t now)
{
	struct jump *jump = &kernel.jumps[kernel.jumped];

	if (kernel.jumped == JUMPS || !jump->at || now < jump->at)
		return;
	if (jump->in_calls > 0) {
		if (--jump->in_calls)
			return;
		jump->at = now; /* what came before was stamped before */
	}
	kernel.set += jump->set;
	kernel.suspended += jump->suspended;
	kernel.jumped++;
}

static int64_t system_clock(int64_t now)
{
	return START + now + kernel.suspended + kernel.set;
}

int __wrap_clock_gettime(clockid_t id, struct timespec *ts)
{
	if (!kernel.simulated)
		return __real_clock_gettime(id, ts);
	kernel.now += 300; /* a call takes its time */
	jump_if_due(kernel.now);
	int64_t ns = id == CLOCK_REALTIME   ? system_clock(kernel.now)
		     : id == CLOCK_BOOTTIME ? S + kernel.now + kernel.suspended
					    : S + kernel.now;
	*ts = (struct timespec){(time_t)(ns / S), (long)(ns % S)};
	return 0;
}

/* Stamped when it came: the clock may have been set before or since. */
static int64_t stamp(int64_t at)
{
	int64_t set = 0, suspended = 0;

	for (size_t i = 0; i < kernel.jumped; i++)
		if (kernel.jumps[i].at <= at) {
			set += kernel.jumps[i].set;
			suspended += kernel.jumps[i].suspended;
		}
	return START + at + set + suspended;
}

static void put(struct mmsghdr *message, int64_t at)
{
	struct nod_frame frame = {
		.time = {stamp(at)}, .id = at / kernel.period % 3 ? 0x100 : 0x200, .length = 8};

	simulated_can_put(message, &frame);
}

int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout)
{
	unsigned taken = 0;

	(void)fd, (void)flags, (void)timeout;
	kernel.now += 300;
	jump_if_due(kernel.now);
	for (; taken < count && kernel.next <= kernel.now && kernel.next < kernel.last;
	     kernel.next += kernel.period)
		put(&messages[taken++], kernel.next);
	errno = EAGAIN;
	return taken ? (int)taken : -1;
}

/* ---- the daemon ---- */

/* What the daemon would be told by the kernel, and cannot be told here otherwise. */
static struct {
	nod_netlink_watch_function *changed;
	void *context;
} links;

struct nod_netlink_watch *__wrap_nod_netlink_watch_new(struct ev_loop *loop,
						       nod_netlink_watch_function *changed,
						       void *context, struct nod_error *err);

struct nod_netlink_watch *__wrap_nod_netlink_watch_new(struct ev_loop *loop,
						       nod_netlink_watch_function *changed,
						       void *context, struct nod_error *err)
{
	(void)loop, (void)err;
	links.changed = changed;
	links.context = context;
	return context; /* not NULL */
}

void mishap_plug(bool in)
{
	struct nod_link link = simulated_can_link("can0", 3, 500000);

	links.changed(links.context, &link, !in);
}

void mishap_begin(struct run *run)
{
	struct nod_daemon *daemon = &run->daemon;
	struct nod_error err = {""};

	scratch_make_in_memory(&run->scratch);
	snprintf(run->socket, sizeof(run->socket), "%s/socket", run->scratch.path);
	run->options = (struct nod_options){.socket = run->socket,
					    .sessions = run->scratch.path,
					    .interface_count = 1,
					    .interfaces[0] = {.name = "can0", .bitrate = 500000}};
	daemon->options = &run->options;
	daemon->switcher = (struct nod_switcher)NOD_SWITCHER_NONE;
	daemon->loop = ev_loop_new(EVBACKEND_EPOLL | EVFLAG_NOENV);
	daemon->control = nod_control_new(daemon->loop, run->socket, NULL, nod_request_answer,
					  daemon, &err);
	kernel.simulated = true;
	if (!daemon->control || nod_daemon_choose_taps(daemon, &err) ||
	    nod_daemon_open_taps(daemon, &err) || nod_daemon_open_links(daemon, &err) ||
	    nod_live_open(&daemon->live, NULL, &daemon->interfaces, nod_clock_now(), &err) ||
	    nod_daemon_start(daemon, &err))
		fail_msg("%s", err.text);
	mishap_plug(true);
	if (nod_daemon_record(daemon, "clock", &err))
		fail_msg("%s", err.text);
}

void mishap_mark(struct run *run, enum nod_mark_kind kind, const char *subject)
{
	struct nod_control_ticket nobody = {0, 0, NULL};
	struct nod_error err;

	assert_int_equal(nod_daemon_mark(&run->daemon, kind, subject, &nobody, &err), 0);
}

void mishap_go_on(struct run *run, int64_t end)
{
	for (int tick = 0; kernel.now < end; tick++) {
		kernel.now += 20 * MS - kernel.now % (20 * MS);
		if (kernel.jumped < JUMPS && !kernel.jumps[kernel.jumped].in_calls)
			jump_if_due(kernel.now);
		if (kernel.now == LOCKED)
			mishap_mark(run, NOD_MARK_LOCKED, "");
		if (tick % 25 == 0)
			nod_daemon_take_current(&run->daemon, 300000 + tick);
		nod_pump_run(run->daemon.pump);
		if (tick % 40 == 0) {
			ev_feed_event(run->daemon.loop, &run->daemon.second, EV_TIMER);
			ev_invoke_pending(run->daemon.loop);
		}
	}
}

void mishap_finish(struct run *run)
{
	nod_daemon_stop(&run->daemon);
	nod_live_close(&run->daemon.live, nod_clock_now());
	nod_control_free(run->daemon.control);
	nod_daemon_close_taps(&run->daemon);
	ev_loop_destroy(run->daemon.loop);
	kernel.simulated = false;
	scratch_remove(&run->scratch);
	free(run);
}
