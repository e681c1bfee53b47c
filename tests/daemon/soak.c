/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <ftw.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "clock-watch.h"
#include "lockdown.h"
#include "requests.h"
#include "silent-reports.h"
#include "simulated-can.h"
#include "soak.h"
#include "view.h"

#define SECOND_NS (800 * NOD_NS_PER_MS) /* the daemon's tick, see daemon.c */
#define TICK_NS (20 * NOD_NS_PER_MS)    /* the pump's */
#define QUEUE 65536
#define SILENCE_NS (5 * NOD_NS_PER_S) /* longer than any pause of these cars awake */

/* ---- the kernel ---- */

struct waiting {
	struct nod_frame frames[QUEUE];
	size_t first, last;
};

static struct {
	int64_t now;             /* CLOCK_REALTIME, ns */
	struct waiting *waiting; /* by the order in which the sockets were opened */
} kernel;

int __wrap_clock_gettime(clockid_t id, struct timespec *ts)
{
	if (!kernel.now)
		return __real_clock_gettime(id, ts);
	*ts = (struct timespec){(time_t)(kernel.now / NOD_NS_PER_S),
				(long)(kernel.now % NOD_NS_PER_S)};
	return 0;
}

int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout)
{
	struct waiting *waiting = &kernel.waiting[fd - NOD_LOCKDOWN_FIRST_CAN_FD];
	unsigned taken = 0;

	(void)flags, (void)timeout;
	while (taken < count && waiting->first < waiting->last)
		simulated_can_put(&messages[taken++], &waiting->frames[waiting->first++]);
	if (waiting->first == waiting->last)
		waiting->first = waiting->last = 0;
	errno = EAGAIN;
	return taken ? (int)taken : -1;
}

/* ---- the daemon's life ---- */

static size_t memory_in_use(void)
{
	struct mallinfo2 info = mallinfo2();

	return info.uordblks + info.hblkhd;
}

static void plug_in(struct soak *soak)
{
	struct nod_tap_reports reports = silent_reports();

	for (size_t i = 0; i < soak->daemon.tap_count; i++) {
		struct nod_tap *tap = &soak->daemon.taps[i];
		struct nod_link link = simulated_can_link(tap->interface, 3 + (int)i,
							  tap->settings.bitrate);
		nod_tap_link_changed(tap, &link, false, (nod_time){kernel.now}, &reports);
		assert_int_equal(tap->state, NOD_TAP_LISTENING);
	}
}

static int connect_to(const char *path)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	strcpy(address.sun_path, path);
	assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	return fd;
}

/* As main.c does it, without giving anything up. */
void soak_begin(struct soak *soak, struct nod_generator *generator, int64_t start)
{
	const struct nod_interfaces *interfaces = nod_generator_interfaces(generator);
	struct nod_daemon *daemon = &soak->daemon;
	struct nod_error err = {""};

	scratch_make_in_memory(&soak->scratch);
	scratch_puts(&soak->scratch, "car.yaml", nod_generator_map(generator));
	snprintf(soak->vehicle, sizeof(soak->vehicle), "%s/car.yaml", soak->scratch.path);
	snprintf(soak->socket, sizeof(soak->socket), "%s/socket", soak->scratch.path);
	soak->options = (struct nod_options){.vehicle = soak->vehicle,
					     .socket = soak->socket,
					     .sessions = soak->scratch.path,
					     .interface_count = interfaces->count};
	for (unsigned i = 0; i < interfaces->count; i++)
		soak->options.interfaces[i].name = interfaces->names[i];
	kernel.now = soak->start = start;
	kernel.waiting = calloc(interfaces->count, sizeof(*kernel.waiting));
	assert_non_null(kernel.waiting);
	daemon->options = &soak->options;
	daemon->switcher = (struct nod_switcher)NOD_SWITCHER_NONE;
	daemon->loop = ev_loop_new(EVBACKEND_EPOLL | EVFLAG_NOENV);
	daemon->control = nod_control_new(daemon->loop, soak->socket, NULL, nod_request_answer,
					  daemon, &err);
	if (!daemon->control || nod_daemon_choose_taps(daemon, &err) ||
	    nod_daemon_open_taps(daemon, &err) ||
	    nod_live_open(&daemon->live, soak->vehicle, &daemon->interfaces, nod_clock_now(),
			  &err) ||
	    nod_daemon_start(daemon, &err))
		fail_msg("%s", err.text);
	ev_timer_stop(daemon->loop, &daemon->second); /* it runs by the true clock */
	plug_in(soak);
	if (nod_daemon_record(daemon, "a week", &err))
		fail_msg("%s", err.text);
	soak->client = connect_to(soak->socket);
	soak->second = soak->hour = start;
	soak->end = start + LENGTH;
}

static void ask_for_the_view(struct soak *soak)
{
	static const char request[] = "{\"do\": \"view\"}\n";
	static char answer[1 << 20];
	ssize_t got = -1;

	assert_int_equal(write(soak->client, request, sizeof(request) - 1), sizeof(request) - 1);
	for (int i = 0; i < 100 && got < 0; i++) {
		ev_run(soak->daemon.loop, EVRUN_NOWAIT);
		got = recv(soak->client, answer, sizeof(answer) - 1, MSG_DONTWAIT);
	}
	assert_true(got > 0);
	answer[got] = 0;
	assert_non_null(strstr(answer, "\"recording\":true"));
	assert_non_null(strstr(answer, "\"problem\":\"\""));
	soak->views++;
}

static void each_hour(struct soak *soak)
{
	size_t used;

	ask_for_the_view(soak);
	used = memory_in_use();
	if (soak->hour - soak->start <= 24 * HOUR)
		soak->day_one = used > soak->day_one ? used : soak->day_one;
	soak->peak = used > soak->peak ? used : soak->peak;
	soak->hour += HOUR;
}

void soak_go_on(struct soak *soak, int64_t until)
{
	for (; soak->second <= until; soak->second += SECOND_NS) {
		kernel.now = soak->second;
		ev_feed_event(soak->daemon.loop, &soak->daemon.second, EV_TIMER);
		ev_invoke_pending(soak->daemon.loop);
		if (soak->second >= soak->hour)
			each_hour(soak);
	}
	kernel.now = until > kernel.now ? until : kernel.now;
}

static void take_frame(struct soak *soak, const struct nod_frame *frame)
{
	struct waiting *waiting = &kernel.waiting[frame->interface];

	assert_true(waiting->last < QUEUE);
	waiting->frames[waiting->last++] = *frame;
	add_frame(&soak->fed, frame);
	soak->wakes += kernel.now - soak->start > 24 * HOUR &&
		       kernel.now - soak->last_frame > SILENCE_NS;
	soak->last_frame = kernel.now;
	if (kernel.now - soak->pumped < TICK_NS)
		return;
	nod_pump_run(soak->daemon.pump);
	soak->pumped = kernel.now;
}

void soak_take(struct soak *soak, const struct nod_event *event)
{
	struct nod_control_ticket nobody = {0, 0, NULL};
	struct nod_error err;

	if (event->kind != NOD_EVENT_FRAME && event->kind != NOD_EVENT_CURRENT &&
	    event->kind != NOD_EVENT_MARK)
		return; /* what belongs to a file */
	soak_go_on(soak, event->time.ns);
	if (event->kind == NOD_EVENT_FRAME)
		take_frame(soak, &event->frame);
	else if (event->kind == NOD_EVENT_CURRENT)
		nod_daemon_take_current(&soak->daemon, event->current.microamps);
	else if (event->kind == NOD_EVENT_MARK && event->mark.kind != NOD_MARK_STARTED &&
		 event->mark.kind != NOD_MARK_STOPPED)
		assert_int_equal(nod_daemon_mark(&soak->daemon, event->mark.kind,
						 event->mark.subject, &nobody, &err),
				 0);
}

/* ---- its end ---- */

static int64_t disk_size;

static int add_size(const char *path, const struct stat *info, int kind, struct FTW *where)
{
	(void)path, (void)where;
	disk_size += kind == FTW_F ? info->st_size : 0;
	return 0;
}

int64_t soak_end_record(struct soak *soak, char *path)
{
	struct nod_error err;
	json_t *answer;

	strcpy(path, soak->daemon.live.directory);
	assert_int_equal(nod_daemon_end_record(&soak->daemon, &answer, &err), 0);
	json_decref(answer);
	disk_size = 0;
	nftw(path, add_size, 8, FTW_PHYS);
	return disk_size;
}

void soak_finish(struct soak *soak)
{
	struct nod_daemon *daemon = &soak->daemon;

	close(soak->client);
	nod_daemon_stop(daemon);
	nod_live_close(&daemon->live, nod_clock_now());
	nod_control_free(daemon->control);
	nod_daemon_close_taps(daemon);
	ev_loop_destroy(daemon->loop);
	scratch_remove(&soak->scratch);
	free(kernel.waiting);
	kernel.now = 0;
}
