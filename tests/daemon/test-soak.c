/* SPDX-License-Identifier: MIT */
/* A week of a parked car through the daemon's own path, in compressed time.
 *
 * Only the kernel is simulated: the linker sends the daemon's calls for CAN
 * sockets and clocks here (--wrap). Listener, pump, merger, recorder, engine
 * and control socket are the daemon's own. The cars are the generator's. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <ftw.h>
#include <linux/can.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include <linux/errqueue.h>

#include "clock-watch.h"
#include "daemon.h"
#include "generator.h"
#include "lockdown.h"
#include "requests.h"
#include "session.h"
#include "track.h"
#include "view.h"

#ifdef __SANITIZE_ADDRESS__
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef SANITIZED
#define SANITIZED 0
#endif

#define HOUR (3600 * NOD_NS_PER_S)
/* Under the sanitizers, which cost several times as much, a tenth of it. */
#define LENGTH (SANITIZED ? 17 * HOUR : 7 * 24 * HOUR)
#define SECOND_NS (800 * NOD_NS_PER_MS) /* the daemon's tick, see daemon.c */
#define TICK_NS (20 * NOD_NS_PER_MS)    /* the pump's */
#define QUEUE 65536

/* By so much the memory in use may grow after the first day, bytes: not at all with time
 * or frames, but by how the allocator cuts its pages; by the cells of the battery current
 * (8192), which a car that is rarely awake fills later; and with wake-ups by their awake
 * spans, in an array that doubles. */
#define SLACK (64 * 1024)
#define SLACK_CELLS (256 * 1024)
#define SLACK_WAKE (2 * sizeof(struct nod_span))
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

int __wrap_clock_gettime(clockid_t id, struct timespec *ts)
{
	if (!kernel.now)
		return __real_clock_gettime(id, ts);
	*ts = (struct timespec){(time_t)(kernel.now / NOD_NS_PER_S),
				(long)(kernel.now % NOD_NS_PER_S)};
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

static void put(struct mmsghdr *message, const struct nod_frame *frame)
{
	struct canfd_frame raw = {.can_id = frame->id, .len = frame->length};
	struct msghdr *header = &message->msg_hdr;
	struct cmsghdr *beside = CMSG_FIRSTHDR(header);
	struct scm_timestamping stamps = {.ts[0] = {(time_t)(frame->time.ns / NOD_NS_PER_S),
						    (long)(frame->time.ns % NOD_NS_PER_S)}};
	bool fd = frame->flags & NOD_FRAME_FD;

	memcpy(raw.data, frame->data, frame->length);
	raw.flags = frame->flags & (CANFD_BRS | CANFD_ESI);
	memcpy(header->msg_iov->iov_base, &raw, sizeof(raw));
	message->msg_len = fd ? CANFD_MTU : CAN_MTU;
	beside->cmsg_level = SOL_SOCKET;
	beside->cmsg_type = SCM_TIMESTAMPING;
	beside->cmsg_len = CMSG_LEN(sizeof(stamps));
	memcpy(CMSG_DATA(beside), &stamps, sizeof(stamps));
	header->msg_controllen = CMSG_SPACE(sizeof(stamps));
}

int __wrap_recvmmsg(int fd, struct mmsghdr *messages, unsigned count, int flags,
		    struct timespec *timeout)
{
	struct waiting *waiting = &kernel.waiting[fd - NOD_LOCKDOWN_FIRST_CAN_FD];
	unsigned taken = 0;

	(void)flags, (void)timeout;
	while (taken < count && waiting->first < waiting->last)
		put(&messages[taken++], &waiting->frames[waiting->first++]);
	if (waiting->first == waiting->last)
		waiting->first = waiting->last = 0;
	errno = EAGAIN;
	return taken ? (int)taken : -1;
}

/* ---- what is measured ---- */

struct sum {
	uint64_t frames, digest; /* FNV-1a, 64 bits */
	uint8_t heard[256];      /* interfaces by the order in which they were first heard, */
	size_t heard_count;      /* as a recording that is read numbers them */
};

static void add_bytes(struct sum *sum, const void *data, size_t size)
{
	const uint8_t *bytes = data;

	for (size_t i = 0; i < size; i++)
		sum->digest = (sum->digest ^ bytes[i]) * UINT64_C(0x100000001b3);
}

static uint8_t place_of(struct sum *sum, uint8_t interface)
{
	size_t i = 0;

	while (i < sum->heard_count && sum->heard[i] != interface)
		i++;
	if (i == sum->heard_count)
		sum->heard[sum->heard_count++] = interface;
	return (uint8_t)i;
}

static void add_frame(struct sum *sum, const struct nod_frame *frame)
{
	int64_t us = frame->time.ns / NOD_NS_PER_US;
	uint8_t place = place_of(sum, frame->interface);

	if (!sum->frames++)
		sum->digest = UINT64_C(0xcbf29ce484222325);
	add_bytes(sum, &us, sizeof(us));
	add_bytes(sum, &frame->id, sizeof(frame->id));
	add_bytes(sum, &place, 1);
	add_bytes(sum, &frame->length, 1);
	add_bytes(sum, frame->data, frame->length);
}

static size_t memory_in_use(void)
{
	struct mallinfo2 info = mallinfo2();

	return info.uordblks + info.hblkhd;
}

struct soak {
	struct nod_daemon daemon;
	struct nod_options options;
	char directory[64], vehicle[96], socket[96];
	int client;
	int64_t start, end, second, hour, pumped, last_frame;
	unsigned wakes; /* after the first day */
	struct sum fed;
	size_t day_one, peak; /* memory in use, bytes */
	unsigned views;
};

static void write_file(const char *path, const char *text)
{
	FILE *file = fopen(path, "we");

	assert_non_null(file);
	assert_true(fputs(text, file) >= 0);
	assert_int_equal(fclose(file), 0);
}

/* ---- the daemon's life ---- */

static void no_change(void *context, struct nod_tap *tap, const char *text)
{
	(void)context, (void)tap, (void)text;
}

static void never_deaf(void *context, struct nod_tap *tap, nod_time from)
{
	(void)context, (void)tap, (void)from;
}

static void no_gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	(void)context, (void)tap, (void)from, (void)to;
}

static void plug_in(struct soak *soak)
{
	struct nod_tap_reports reports = {no_change, never_deaf, no_gap, NULL};

	for (size_t i = 0; i < soak->daemon.tap_count; i++) {
		struct nod_tap *tap = &soak->daemon.taps[i];
		struct nod_link link = {.index = 3 + (int)i,
					.kind = "can",
					.is_can = true,
					.up = true,
					.has_parent = true,
					.has_mode = true,
					.listen_only = true,
					.set.bitrate = tap->settings.bitrate};
		strcpy(link.name, tap->interface);
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
static void begin(struct soak *soak, struct nod_generator *generator, int64_t start)
{
	const struct nod_interfaces *interfaces = nod_generator_interfaces(generator);
	struct nod_daemon *daemon = &soak->daemon;
	struct nod_error err = {""};

	/* the ticks of a week put a million times on the disk what there is */
	snprintf(soak->directory, sizeof(soak->directory), "%s/nodoff-soak-XXXXXX",
		 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm");
	assert_non_null(mkdtemp(soak->directory));
	snprintf(soak->vehicle, sizeof(soak->vehicle), "%s/car.yaml", soak->directory);
	snprintf(soak->socket, sizeof(soak->socket), "%s/socket", soak->directory);
	write_file(soak->vehicle, nod_generator_map(generator));
	soak->options = (struct nod_options){.vehicle = soak->vehicle,
					     .socket = soak->socket,
					     .sessions = soak->directory,
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

/* Time goes on; the daemon's timer fires. */
static void go_on(struct soak *soak, int64_t until)
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

static void take(struct soak *soak, const struct nod_event *event)
{
	struct nod_control_ticket nobody = {0, 0, NULL};
	struct nod_error err;

	if (event->kind != NOD_EVENT_FRAME && event->kind != NOD_EVENT_CURRENT &&
	    event->kind != NOD_EVENT_MARK)
		return; /* what belongs to a file */
	go_on(soak, event->time.ns);
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

/* ---- afterwards ---- */

static int64_t disk_size;

static int add_size(const char *path, const struct stat *info, int kind, struct FTW *where)
{
	(void)path, (void)where;
	disk_size += kind == FTW_F ? info->st_size : 0;
	return 0;
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *where)
{
	(void)info, (void)kind, (void)where;
	return remove(path);
}

/* What live and replayed must agree in. The caller frees it. */
static char *told(const struct nod_findings *f)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	fprintf(out, "%s\n%s\n%zu wake-ups\n", f->sentence, f->next, f->wake_count);
	for (size_t i = 0; i < f->network_count; i++)
		fprintf(out, "%s %zu\n", f->networks[i].reason, f->networks[i].span_count);
	for (size_t i = 0; i < f->suspect_count; i++)
		fprintf(out, "%s %.17g\n", f->suspects[i].name, f->suspects[i].probability);
	assert_int_equal(fclose(out), 0);
	return text;
}

/* The recording must hold every frame, and tell an engine what it told the one that was
 * fed live. */
static struct sum read_again(const char *path, const char *told_live)
{
	struct nod_error err;
	struct nod_session *session = nod_session_open(path, &err);
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *findings;
	const struct nod_event *event;
	struct sum sum = {0};

	assert_non_null(session);
	vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
	assert_non_null(vehicle);
	engine = nod_engine_new(vehicle, nod_session_interfaces(session));
	assert_non_null(engine);
	while (nod_session_next(session, &event, &err) > 0) {
		assert_int_equal(nod_engine_take(engine, event), 0);
		if (event->kind == NOD_EVENT_FRAME)
			add_frame(&sum, &event->frame);
	}
	findings = nod_engine_findings(engine);
	assert_non_null(findings);
	char *told_again = told(findings);
	assert_string_equal(told_live, told_again);
	free(told_again);
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return sum;
}

static void end(struct soak *soak, char *path)
{
	struct nod_error err;
	json_t *answer;

	strcpy(path, soak->daemon.live.directory);
	assert_int_equal(nod_daemon_end_record(&soak->daemon, &answer, &err), 0);
	json_decref(answer);
	disk_size = 0;
	nftw(path, add_size, 8, FTW_PHYS);
}

static void tidy_up(struct soak *soak)
{
	struct nod_daemon *daemon = &soak->daemon;

	close(soak->client);
	nod_daemon_stop(daemon);
	nod_live_close(&daemon->live, nod_clock_now());
	nod_control_free(daemon->control);
	nod_daemon_close_taps(daemon);
	ev_loop_destroy(daemon->loop);
	nftw(soak->directory, remove_one, 8, FTW_PHYS | FTW_DEPTH);
	free(kernel.waiting);
	kernel.now = 0;
}

static void check(struct soak *soak, const char *verdict, const char *culprit)
{
	struct nod_findings *findings = nod_engine_findings(soak->daemon.live.engine);
	char path[PATH_MAX];
	struct sum again;

	assert_non_null(findings);
	print_message("verdict: %s; %s %.3f\n", nod_verdict_name(findings->verdict),
		      findings->suspect_count ? findings->suspects[0].name : "-",
		      findings->suspect_count ? findings->suspects[0].probability : 0.);
	assert_string_equal(nod_verdict_name(findings->verdict), verdict);
	if (culprit) {
		assert_true(findings->suspect_count > 0);
		assert_string_equal(findings->suspects[0].name, culprit);
		assert_true(findings->suspects[0].probability >= 0.9);
	}
	char *told_live = told(findings);
	nod_findings_free(findings);
	end(soak, path);
	again = read_again(path, told_live);
	free(told_live);
	print_message("%llu frames in %lld s of the car, %u wake-ups after a day; %u views; "
		      "memory in use %zu KiB after a day, %zu KiB at most; session %lld KiB\n",
		      (unsigned long long)soak->fed.frames, (long long)(LENGTH / NOD_NS_PER_S),
		      soak->wakes, soak->views, soak->day_one / 1024, soak->peak / 1024,
		      (long long)disk_size / 1024);
	assert_int_equal(again.frames, soak->fed.frames);
	assert_true(again.digest == soak->fed.digest);
	if (!SANITIZED)
		assert_true(soak->peak <=
			    soak->day_one + SLACK + SLACK_CELLS + soak->wakes * SLACK_WAKE);
}

/* A module wakes the network about every minute, but not before `begins`. */
static void wake_from(int64_t begins)
{
	struct nod_generator_options options = {.small = true, .frames = 2200};
	struct nod_generator *generator = nod_generator_open("repeated-waker", 3, &options, NULL);
	static struct soak soak;
	const struct nod_event *event;
	char culprit[64];

	memset(&soak, 0, sizeof(soak));
	assert_non_null(generator);
	begin(&soak, generator, nod_generator_now(generator).ns - NOD_NS_PER_S);
	nod_generator_extend(generator, (nod_duration){LENGTH});
	while (nod_generator_next(generator, &event) && event->time.ns < soak.end) {
		int64_t since = event->time.ns - soak.start;
		if (since < HOUR || since >= begins)
			take(&soak, event);
	}
	go_on(&soak, soak.end);
	snprintf(culprit, sizeof(culprit), "%s", nod_generator_truth(generator)->culprits[0]);
	nod_generator_close(generator);
	check(&soak, "woken again", culprit);
	tidy_up(&soak);
}

static void names_who_wakes_the_network_all_week(void **state)
{
	(void)state;
	wake_from(0);
}

static void names_who_began_to_wake_it_on_day_five(void **state)
{
	(void)state;
	wake_from(LENGTH * 4 / 7);
}

/* Somebody opens a healthy car every six hours and locks it again. */
static void a_healthy_car_sleeps_in_time_all_week(void **state)
{
	static struct soak soak;
	struct nod_generator_options options = {.small = true, .frames = 2200};
	const struct nod_event *event;
	int64_t shift = 0;

	(void)state;
	memset(&soak, 0, sizeof(soak));
	for (options.session = 0; options.session * 6 * HOUR < LENGTH - HOUR; options.session++) {
		struct nod_generator *generator = nod_generator_open("healthy", 5, &options, NULL);
		assert_non_null(generator);
		if (!options.session)
			begin(&soak, generator, nod_generator_now(generator).ns - NOD_NS_PER_S);
		shift = soak.start + NOD_NS_PER_S + options.session * 6 * HOUR -
			nod_generator_now(generator).ns;
		while (nod_generator_next(generator, &event)) {
			struct nod_event later = *event;
			if (!nod_time_is_set(later.time))
				continue;
			later.time.ns += shift;
			later.time = nod_clock_to_microseconds(later.time);
			later.frame.time = later.kind == NOD_EVENT_FRAME ? later.time
									 : later.frame.time;
			take(&soak, &later);
		}
		nod_generator_close(generator);
	}
	go_on(&soak, soak.end);
	check(&soak, "sleeps in time", NULL);
	tidy_up(&soak);
}

/* One case each run, by its name, so that two run at once. */
int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(names_who_wakes_the_network_all_week),
		cmocka_unit_test(names_who_began_to_wake_it_on_day_five),
		cmocka_unit_test(a_healthy_car_sleeps_in_time_all_week),
	};

	if (argc > 1)
		cmocka_set_test_filter(argv[1]);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
