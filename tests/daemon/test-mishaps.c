/* SPDX-License-Identifier: MIT */
/* The clock is set, the machine suspended, or the adapter pulled out while frames arrive: at
 * any moment between two looks of the pump and within one. The daemon's own path; only the
 * kernel is simulated (--wrap). What is told live must be told by the recording, and be what happened. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <ftw.h>
#include <linux/can.h>
#include <linux/errqueue.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include "answer-json.h"
#include "clock-watch.h"
#include "daemon.h"
#include "lockdown.h"
#include "requests.h"
#include "session.h"
#include "view.h"

#define MS NOD_NS_PER_MS
#define S NOD_NS_PER_S
#define START (INT64_C(1700000000) * S)

/* ---- the kernel ---- */

#define JUMPS 4

/* At a moment of true time the clock is set, or the machine has been suspended. */
struct jump {
	int64_t at, set, suspended;
	int in_calls; /* > 0: within the look at the clocks that follows, after so many calls */
};

static struct {
	bool simulated;
	int64_t now, set, suspended; /* true time since the start without suspensions, ns */
	int64_t next, period, last;  /* of the frames */
	struct jump jumps[JUMPS];
	size_t jumped;
} kernel;

int __real_clock_gettime(clockid_t id, struct timespec *ts);
int __real_socket(int domain, int type, int protocol);
int __real_bind(int fd, const struct sockaddr *address, socklen_t length);
int __real_setsockopt(int fd, int level, int name, const void *value, socklen_t length);
int __wrap_clock_gettime(clockid_t id, struct timespec *ts);
int __wrap_socket(int domain, int type, int protocol);
int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length);
int __wrap_setsockopt(int fd, int level, int name, const void *value, socklen_t length);
int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout);

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

int __wrap_socket(int domain, int type, int protocol)
{
	return domain == PF_CAN ? eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)
				: __real_socket(domain, type, protocol);
}

int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length)
{
	return fd >= NOD_LOCKDOWN_FIRST_CAN_FD ? 0 : __real_bind(fd, address, length);
}

int __wrap_setsockopt(int fd, int level, int name, const void *value, socklen_t length)
{
	return fd >= NOD_LOCKDOWN_FIRST_CAN_FD ? 0
					       : __real_setsockopt(fd, level, name, value, length);
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
	struct can_frame raw = {.can_id = at / kernel.period % 3 ? 0x100 : 0x200, .len = 8};
	struct msghdr *header = &message->msg_hdr;
	struct cmsghdr *beside = CMSG_FIRSTHDR(header);
	struct scm_timestamping stamps = {
		.ts[0] = {(time_t)(stamp(at) / S), (long)(stamp(at) % S)}};

	memcpy(header->msg_iov->iov_base, &raw, sizeof(raw));
	message->msg_len = CAN_MTU;
	beside->cmsg_level = SOL_SOCKET;
	beside->cmsg_type = SCM_TIMESTAMPING;
	beside->cmsg_len = CMSG_LEN(sizeof(stamps));
	memcpy(CMSG_DATA(beside), &stamps, sizeof(stamps));
	header->msg_controllen = CMSG_SPACE(sizeof(stamps));
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

struct run {
	struct nod_daemon daemon;
	struct nod_options options;
	char directory[64], socket[96];
};

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

static void plug(bool in)
{
	struct nod_link link = {.index = 3,
				.name = "can0",
				.kind = "can",
				.is_can = true,
				.up = true,
				.has_parent = true,
				.has_mode = true,
				.listen_only = true,
				.set.bitrate = 500000};

	links.changed(links.context, &link, !in);
}

static void begin(struct run *run)
{
	struct nod_daemon *daemon = &run->daemon;
	struct nod_error err = {""};

	/* a second of every run is put on the disk, hundreds of times */
	snprintf(run->directory, sizeof(run->directory), "%s/nodoff-clock-XXXXXX",
		 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
	assert_non_null(mkdtemp(run->directory));
	snprintf(run->socket, sizeof(run->socket), "%s/socket", run->directory);
	run->options = (struct nod_options){.socket = run->socket,
					    .sessions = run->directory,
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
	plug(true);
	if (nod_daemon_record(daemon, "clock", &err))
		fail_msg("%s", err.text);
}

static void mark(struct run *run, enum nod_mark_kind kind, const char *subject)
{
	struct nod_control_ticket nobody = {0, 0, NULL};
	struct nod_error err;

	assert_int_equal(nod_daemon_mark(&run->daemon, kind, subject, &nobody, &err), 0);
}

/* An entry with all that a terminal would act on, as a client makes it. */
static void mark_over_the_socket(struct run *run)
{
	static const char request[] = "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":"
				      "\" a\\tb\\u001b[31m\\nc\\u009b2J \\u007f #cut-off\"}\n";
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	strcpy(address.sun_path, run->socket);
	assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	assert_int_equal(write(fd, request, sizeof(request) - 1), sizeof(request) - 1);
	for (int i = 0; i < 4; i++)
		ev_run(run->daemon.loop, EVRUN_NOWAIT);
	close(fd);
}

/* Ticks of 20 ms and seconds of 0.8 s until `end`; a current and two entries. */
static void go_on(struct run *run, int64_t end)
{
	for (int tick = 0; kernel.now < end; tick++) {
		kernel.now += 20 * MS - kernel.now % (20 * MS);
		if (kernel.jumped < JUMPS && !kernel.jumps[kernel.jumped].in_calls)
			jump_if_due(kernel.now);
		if (kernel.now == 220 * MS)
			mark(run, NOD_MARK_LOCKED, "");
		if (tick % 25 == 0)
			nod_daemon_take_current(&run->daemon, 300000 + tick);
		nod_pump_run(run->daemon.pump);
		if (tick % 40 == 0) {
			ev_feed_event(run->daemon.loop, &run->daemon.second, EV_TIMER);
			ev_invoke_pending(run->daemon.loop);
		}
	}
}

static char *told(const struct nod_findings *f)
{
	json_t *json = nod_answer_json(f);
	char *text = json_dumps(json, JSON_INDENT(1));

	json_decref(json);
	assert_non_null(text);
	return text;
}

static char *told_again(const char *path)
{
	struct nod_error err;
	struct nod_session *session = nod_session_open(path, &err);
	const struct nod_event *event;
	int status;

	assert_non_null(session);
	struct nod_engine *engine = nod_engine_new(NULL, nod_session_interfaces(session));
	assert_non_null(engine);
	while ((status = nod_session_next(session, &event, &err)) > 0)
		assert_int_equal(nod_engine_take(engine, event), 0);
	assert_int_equal(status, 0);
	struct nod_findings *f = nod_engine_findings(engine);
	char *text = told(f);
	nod_findings_free(f);
	nod_engine_free(engine);
	nod_session_close(session);
	return text;
}

static void show_difference(const char *live, const char *again)
{
	while (*live == *again) {
		live++;
		again++;
	}
	print_message("live:     %.200s\nreplayed: %.200s\n", live, again);
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *where)
{
	(void)info, (void)kind, (void)where;
	return remove(path);
}

/* One minute awake, twenty seconds asleep. */
#define AWAKE (60 * S)
#define END (80 * S)
#define LOCKED (220 * MS)

static void finish(struct run *run)
{
	nod_daemon_stop(&run->daemon);
	nod_live_close(&run->daemon.live, nod_clock_now());
	nod_control_free(run->daemon.control);
	nod_daemon_close_taps(&run->daemon);
	ev_loop_destroy(run->daemon.loop);
	kernel.simulated = false;
	nftw(run->directory, remove_one, 8, FTW_PHYS | FTW_DEPTH);
	free(run);
}

/* The live view reckons by the clock of now. */
static void check_view(struct run *run)
{
	json_t *view = nod_view_make(&run->daemon);
	int64_t now = json_integer_value(json_object_get(view, "now_ns")),
		lock = json_integer_value(json_object_get(view, "lock_ns"));

	assert_in_range(now - lock, END + kernel.suspended - LOCKED - 300 * MS,
			END + kernel.suspended - LOCKED + 300 * MS);
	json_decref(view);
}

/* Plays it with the jumps. Returns what was found live; *steps is how many were told. */
static struct nod_findings *play(int64_t period, const struct jump *jumps, size_t count,
				 unsigned *steps)
{
	struct run *run = calloc(1, sizeof(*run));
	char path[PATH_MAX];
	struct nod_error err;

	memset(&kernel, 0, sizeof(kernel));
	kernel.period = period;
	kernel.next = period + 7;
	kernel.last = AWAKE;
	memcpy(kernel.jumps, jumps, count * sizeof(*jumps));
	begin(run);
	go_on(run, END);
	mark_over_the_socket(run);
	mark(run, NOD_MARK_NOTE, "the end");
	assert_int_equal(kernel.jumped, count);
	strcpy(path, run->daemon.live.directory);
	nod_pump_flush(run->daemon.pump);
	check_view(run);
	assert_int_equal(nod_live_finish(&run->daemon.live,
					 nod_clock_to_microseconds(nod_clock_now()), &err),
			 0);
	struct nod_findings *f = nod_engine_findings(run->daemon.live.engine);
	char *live = told(f), *again = told_again(path);
	if (strcmp(live, again))
		show_difference(live, again);
	assert_string_equal(live, again);
	*steps = (unsigned)f->clock_steps;
	free(live);
	free(again);
	finish(run);
	return f;
}

/* One span of a minute, whatever the clock did. */
static void check(int64_t period, const struct jump *jumps, size_t count)
{
	unsigned steps;
	struct nod_findings *f = play(period, jumps, count, &steps);

	assert_int_equal(steps, count);
	assert_int_equal(f->network_count, 1);
	assert_int_equal(f->networks[0].span_count, 1);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	/* the clocks were read within microseconds */
	nod_duration length = nod_time_since(f->networks[0].spans[0].to,
					     f->networks[0].spans[0].from);
	assert_in_range(length.ns, AWAKE - 3 * period - MS, AWAKE + MS);
	nod_findings_free(f);
}

static const int64_t steps[] = {3600 * S, -3600 * S, 24 * 3600 * S, 2 * S,
				-2 * S,   200 * MS,  -200 * MS};

/* Every two milliseconds of a tick. */
static void set_between_two_looks(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++)
		for (int64_t ms = 0; ms < 20; ms += 2) {
			struct jump jump = {30 * S + ms * MS + 1, steps[i], 0, 0};
			check(10 * MS, &jump, 1);
			check(MS, &jump, 1);
		}
}

/* Between any two of the calls that a look makes, reading included. */
static void set_within_a_look(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++)
		for (int calls = 1; calls < 14; calls++) {
			struct jump jump = {30 * S - 1, steps[i], 0, calls};
			check(MS, &jump, 1);
		}
}

static void set_again_and_again(void **state)
{
	struct jump three[] = {{20 * S + 3 * MS, 3600 * S, 0, 0},
			       {30 * S + 11 * MS, 3600 * S, 0, 0},
			       {40 * S + 17 * MS, 3600 * S, 0, 0}};
	struct jump there_and_back[] = {{20 * S + 3 * MS, 3600 * S, 0, 0},
					{30 * S + 11 * MS, -3600 * S, 0, 0},
					{30500 * MS, -60 * S, 0, 0},
					{50 * S, 7 * S, 0, 0}};

	(void)state;
	check(10 * MS, three, 3);
	check(MS, there_and_back, 4);
}

/* Nobody listened: silence in between is not sleep, and the first frame afterwards is not
 * before the entry that says so. */
static void suspended(void **state)
{
	(void)state;
	for (int64_t ms = 0; ms < 20; ms += 2) {
		struct jump jump = {30 * S + ms * MS + 1, ms % 4 ? 0 : -3 * S, 600 * S, 0};
		unsigned told_steps;
		struct nod_findings *f = play(10 * MS, &jump, 1, &told_steps);
		assert_int_equal(told_steps, ms % 4 ? 0 : 1);
		assert_int_equal(f->gaps, 1);
		assert_int_equal(f->wake_count, 0);
		nod_findings_free(f);
	}
}

/* What the view says of the network, and whether a recording that ends now says it, too. */
static void check_unheard(struct run *run)
{
	static const char by_the_wall[] = "Nobody has listened to can0 since 22:13:50";
	static const char since[] = "Nobody has listened to can0 since lock+29.8";

	json_t *view = nod_view_make(&run->daemon);
	json_t *network = json_array_get(json_object_get(view, "networks"), 0);

	assert_string_equal(json_string_value(json_object_get(network, "state")), "unknown");
	assert_true(json_is_false(json_object_get(network, "listening")));
	assert_string_equal(json_string_value(json_object_get(view, "verdict")), "cannot tell");
	assert_non_null(strstr(json_string_value(json_object_get(view, "sentence")), by_the_wall));
	json_decref(view);
	char *again = told_again(run->daemon.live.directory);
	assert_non_null(strstr(again, since));
	assert_non_null(strstr(again, "\"verdict\": \"cannot tell\""));
	free(again);
}

/* Pulled out of a car that talks: never asleep, on the disk at once, no wake-up afterwards. */
static void pulled_out(void **state)
{
	struct run *run = calloc(1, sizeof(*run));

	(void)state;
	memset(&kernel, 0, sizeof(kernel));
	kernel.period = 10 * MS;
	kernel.next = kernel.period;
	kernel.last = 30 * S + 5 * MS;
	begin(run);
	go_on(run, kernel.last);
	plug(false);
	go_on(run, 30 * S + 200 * MS);
	check_unheard(run);
	for (int64_t second = 31; second < 200; second += 3) {
		go_on(run, second * S);
		check_unheard(run);
	}
	kernel.next = 200 * S + kernel.period;
	kernel.last = 210 * S;
	go_on(run, 200 * S);
	plug(true);
	go_on(run, 220 * S);
	struct nod_findings *f = nod_engine_findings(run->daemon.live.engine);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->gaps, 1);
	nod_findings_free(f);
	finish(run);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(set_between_two_looks),
		cmocka_unit_test(set_within_a_look),
		cmocka_unit_test(set_again_and_again),
		cmocka_unit_test(suspended),
		cmocka_unit_test(pulled_out),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
