/* SPDX-License-Identifier: MIT */
#include "daemon.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock-watch.h"
#include "session-name.h"
#include "view.h"
#include "when.h"

/* How often what was heard is put on the disk and shown, s. A killed process
 * loses at most this and the hold-back. */
#define SECOND 0.8

static nod_time now_in_microseconds(void)
{
	return nod_clock_to_microseconds(nod_clock_now());
}

void nod_daemon_say(const char *format, ...)
{
	char time[NOD_WHEN_TEXT];
	va_list args;

	va_start(args, format);
	fprintf(stderr, "%s ", nod_when_print(time, nod_clock_now(), NULL));
	vfprintf(stderr, format, args);
	fputc('\n', stderr);
	va_end(args);
}

/* ---- events into the session ---- */

static void answer_pending(struct nod_daemon *daemon, nod_time time, int status)
{
	struct nod_error err;
	struct nod_pending_mark *first = &daemon->pending[0];

	if (!daemon->pending_count || first->time.ns != time.ns)
		return;
	json_t *answer = status ? NULL : json_pack("{s:I}", "time_ns", (json_int_t)time.ns);
	if (status)
		nod_error_set(&err, -status, "the entry is not on the disk: %s", strerror(-status));
	else
		nod_error_set(&err, ENOMEM,
			      "the entry is on the disk, but memory ran out for the "
			      "answer");
	nod_control_answer(daemon->control, &first->ticket, answer, &err);
	memmove(first, first + 1, --daemon->pending_count * sizeof(*first));
}

static void say_recording_error(struct nod_daemon *daemon, int status)
{
	if (status == daemon->recording_error)
		return;
	daemon->recording_error = status;
	if (status)
		nod_daemon_say("the recording cannot be written: %s; the analysis goes on, "
			       "and the recording when it can be written again",
			       strerror(-status));
	else
		nod_daemon_say("the recording is written again");
}

static void say_starved(struct nod_daemon *daemon)
{
	if (daemon->live.starved && !daemon->starved_said)
		nod_daemon_say("memory ran out: the analysis shown lacks something; that of the "
			       "recording, read again, does not");
	daemon->starved_said = daemon->live.starved;
}

static void take_event(void *context, const struct nod_event *event)
{
	struct nod_daemon *daemon = context;
	int status = nod_live_take(&daemon->live, event);

	say_starved(daemon);
	if (event->kind == NOD_EVENT_MARK) {
		if (!status && daemon->live.recorder)
			nod_entries_add(&daemon->entries, &event->mark);
		if (nod_mark_is_persons(event->mark.kind))
			answer_pending(daemon, event->time, status);
	}
}

nod_time nod_daemon_mark_time(struct nod_daemon *daemon)
{
	nod_time now = now_in_microseconds();

	if (now.ns <= daemon->last_mark.ns && daemon->last_mark.ns - now.ns < NOD_NS_PER_MS)
		now.ns = daemon->last_mark.ns + NOD_NS_PER_US;
	daemon->last_mark = now;
	return now;
}

static struct nod_event make_mark(enum nod_mark_kind kind, const char *subject, nod_time time)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time};

	event.mark = (struct nod_mark){.time = time, .kind = kind, .subject = subject};
	return event;
}

static int push_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
		     nod_time time)
{
	struct nod_event event = make_mark(kind, subject, time);

	return nod_merger_push(daemon->merger, NOD_LANE_JOURNAL, &event);
}

/* In front of what a jump of the clocks has left waiting. */
static void push_mark_first(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
			    nod_time time)
{
	struct nod_event event = make_mark(kind, subject, time);

	nod_merger_push_first(daemon->merger, NOD_LANE_JOURNAL, &event);
}

int nod_daemon_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
		    struct nod_control_ticket *ticket, struct nod_error *err)
{
	nod_time time = nod_daemon_mark_time(daemon);
	int status = daemon->pending_count < NOD_PENDING_MARKS_MAX
			     ? push_mark(daemon, kind, subject, time)
			     : -ENOBUFS;

	if (status)
		return nod_error_set(err, -status, "the entry is not on the disk: %s",
				     status == -ENOBUFS ? "too many at once" : strerror(-status));
	daemon->pending[daemon->pending_count++] = (struct nod_pending_mark){time, *ticket};
	nod_pump_run(daemon->pump);
	return 0;
}

int nod_daemon_push_current(struct nod_daemon *daemon, int64_t microamps)
{
	struct nod_event event = {.kind = NOD_EVENT_CURRENT, .time = now_in_microseconds()};

	event.current.microamps = microamps;
	int status = nod_merger_push(daemon->merger, NOD_LANE_CURRENT, &event);
	nod_pump_run(daemon->pump);
	return status;
}

void nod_daemon_take_current(void *context, int64_t microamps)
{
	nod_daemon_push_current(context, microamps);
}

/* ---- what the taps and the clock report ---- */

static void tap_changed(void *context, struct nod_tap *tap, const char *text)
{
	(void)context, (void)tap;
	nod_daemon_say("%s", text);
}

static void tap_deaf(void *context, struct nod_tap *tap, nod_time from)
{
	push_mark(context, NOD_MARK_DEAF, tap->interface, from);
}

/* "can0 12.500000 s": see journal.h. */
static void tap_gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	struct nod_daemon *daemon = context;
	char length[NOD_TIME_TEXT], subject[IFNAMSIZ + NOD_TIME_TEXT + 4];
	nod_duration gap = nod_time_since(to, from);

	if (gap.ns <= 0)
		return;
	snprintf(subject, sizeof(subject), "%s %s s", tap->interface,
		 nod_duration_print_seconds(length, gap, 6));
	push_mark(daemon, NOD_MARK_GAP, subject, to);
}

static void clock_was_set(void *context, nod_time now, nod_duration step)
{
	struct nod_daemon *daemon = context;
	char length[NOD_TIME_TEXT], subject[NOD_TIME_TEXT + 4];

	snprintf(subject, sizeof(subject), "%s%s s", step.ns > 0 ? "+" : "",
		 nod_duration_print_seconds(length, step, 6));
	nod_daemon_say("the system clock was set: %s", subject);
	daemon->last_mark = NOD_TIME_NONE;
	daemon->live.started = nod_time_after(daemon->live.started, step);
	push_mark_first(daemon, NOD_MARK_CLOCK_STEP, subject, now);
}

/* It ends when it is noticed, which is at the first tick afterwards. */
static void was_suspended(void *context, nod_time now, nod_duration length)
{
	struct nod_daemon *daemon = context;
	char text[NOD_TIME_TEXT], subject[NOD_TIME_TEXT + 8];

	snprintf(subject, sizeof(subject), "all %s s", nod_duration_print_seconds(text, length, 6));
	nod_daemon_say("the machine was suspended for %s s: nobody listened", text);
	push_mark_first(daemon, NOD_MARK_GAP, subject, now);
}

static struct nod_tap_reports tap_reports(struct nod_daemon *daemon)
{
	return (struct nod_tap_reports){tap_changed, tap_deaf, tap_gap, daemon};
}

static void link_changed(void *context, const struct nod_link *link, bool gone)
{
	struct nod_daemon *daemon = context;
	struct nod_tap_reports reports = tap_reports(daemon);
	nod_time now = now_in_microseconds();

	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_link_changed(&daemon->taps[i], link, gone, now, &reports);
	nod_pump_run(daemon->pump); /* that nobody listens is on the disk at once */
}

int nod_daemon_open_links(struct nod_daemon *daemon, struct nod_error *err)
{
	daemon->links = nod_netlink_watch_new(daemon->loop, link_changed, daemon, err);
	return daemon->links ? 0 : -errno;
}

int nod_daemon_watch_links(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = nod_netlink_watch_list(daemon->links);

	if (!status) /* what the first pass has switched on is up now */
		status = nod_netlink_watch_list(daemon->links);
	if (status)
		return nod_error_set(err, -status, "cannot list the interfaces: %s",
				     strerror(-status));
	for (size_t i = 0; i < daemon->tap_count; i++)
		if (daemon->taps[i].state == NOD_TAP_ABSENT)
			nod_daemon_say(
				"%s: there is no such interface; nobody listens to it until it "
				"is plugged in",
				daemon->taps[i].interface);
	return 0;
}

/* ---- sessions ---- */

static void tell_gaps(struct nod_daemon *daemon, nod_time now)
{
	struct nod_tap_reports reports = tap_reports(daemon);

	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_tell_gap(&daemon->taps[i], now, &reports);
}

/* A new session knows nothing of before: gaps count from its start. */
static void begin_gaps(struct nod_daemon *daemon, nod_time now)
{
	struct nod_tap_reports reports = tap_reports(daemon);

	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_begin_gap(&daemon->taps[i], now, &reports);
}

static const char *stamping_clock(const struct nod_daemon *daemon)
{
	for (size_t i = 0; i < daemon->tap_count; i++)
		if (daemon->taps[i].listener.clock == NOD_STAMP_HARDWARE)
			return nod_stamp_clock_name(NOD_STAMP_HARDWARE);
	return nod_stamp_clock_name(NOD_STAMP_KERNEL);
}

/* Everything up to now belongs to the watch that ends. */
static void flush_events(struct nod_daemon *daemon)
{
	tell_gaps(daemon, now_in_microseconds());
	nod_pump_flush(daemon->pump);
}

int nod_daemon_record(struct nod_daemon *daemon, const char *title, struct nod_error *err)
{
	char path[PATH_MAX];
	nod_time now;
	int status;

	flush_events(daemon);
	now = nod_daemon_mark_time(daemon);
	status = nod_session_name(path, sizeof(path), daemon->options->sessions, title, now);
	if (status)
		return nod_error_set(err, -status, "the name of the session is too long");
	status = nod_live_record(&daemon->live, path, title, stamping_clock(daemon), now, err);
	if (status)
		return status;
	daemon->recording_error = 0;
	nod_entries_clear(&daemon->entries);
	begin_gaps(daemon, now);
	nod_daemon_say("recording into %s", path);
	return 0;
}

int nod_daemon_end_record(struct nod_daemon *daemon, json_t **answer, struct nod_error *err)
{
	nod_time now;
	int status;

	if (!daemon->live.recorder)
		return nod_error_set(err, ENOENT, "no session is being recorded");
	flush_events(daemon);
	now = nod_daemon_mark_time(daemon);
	status = nod_live_finish(&daemon->live, now, err);
	/* one that lacks something is none */
	*answer = status || daemon->live.starved ? NULL : nod_view_answer(daemon, false, NULL);
	say_starved(daemon);
	nod_live_renew(&daemon->live, now);
	daemon->recording_error = 0;
	begin_gaps(daemon, now);
	nod_daemon_say("the recording has ended");
	return status;
}

/* ---- time goes on ---- */

static void publish_view(struct nod_daemon *daemon)
{
	if (nod_control_has_subscribers(daemon->control))
		nod_control_publish(daemon->control, "view", nod_view_make(daemon));
}

static void on_second(struct ev_loop *loop, ev_timer *timer, int events)
{
	struct nod_daemon *daemon = timer->data;
	nod_time handed;

	(void)loop, (void)events;
	handed = nod_pump_run(daemon->pump);
	say_recording_error(daemon, nod_live_tick(&daemon->live, handed));
	say_starved(daemon);
	publish_view(daemon);
}

/* Chosen: so many events are taken in about 5 ms, a quarter of the pump's tick. */
#define FOLLOW_EVENTS 20000
#define FOLLOW_TICK 0.010 /* s */

/* Goes on with the new analysis; shown at once when it is ready. */
static void on_follow(struct ev_loop *loop, ev_timer *timer, int events)
{
	struct nod_daemon *daemon = timer->data;
	struct nod_error err = {""};
	int status = nod_live_follow(&daemon->live, FOLLOW_EVENTS, &err);

	(void)events;
	if (status > 0)
		return;
	ev_timer_stop(loop, timer);
	if (status < 0)
		nod_daemon_say(
			"the corrected entry shows only when the recording is read again: %s",
			err.text);
	publish_view(daemon);
}

static void on_signal(struct ev_loop *loop, ev_signal *signal, int events)
{
	(void)signal, (void)events;
	ev_break(loop, EVBREAK_ALL);
}

int nod_daemon_start(struct nod_daemon *daemon, struct nod_error *err)
{
	struct nod_tap_reports reports = tap_reports(daemon);
	struct nod_pump_calls calls = {take_event, clock_was_set, was_suspended, daemon};

	daemon->merger = nod_merger_new(NOD_LANE_TAPS + daemon->tap_count);
	if (daemon->merger)
		daemon->pump = nod_pump_new(daemon->loop, daemon->taps, daemon->tap_count,
					    daemon->merger, &reports, &calls);
	if (!daemon->pump)
		return nod_error_set(err, ENOMEM, "out of memory");
	begin_gaps(daemon, now_in_microseconds());
	ev_timer_init(&daemon->second, on_second, SECOND, SECOND);
	daemon->second.data = daemon;
	ev_timer_start(daemon->loop, &daemon->second);
	ev_init(&daemon->follow, on_follow);
	daemon->follow.repeat = FOLLOW_TICK;
	daemon->follow.data = daemon;
	ev_signal_init(&daemon->terminate, on_signal, SIGTERM);
	ev_signal_start(daemon->loop, &daemon->terminate);
	ev_signal_init(&daemon->interrupt, on_signal, SIGINT);
	ev_signal_start(daemon->loop, &daemon->interrupt);
	return 0;
}

void nod_daemon_stop(struct nod_daemon *daemon)
{
	if (daemon->pump && daemon->live.engine)
		flush_events(daemon);
	nod_pump_free(daemon->pump);
	nod_merger_free(daemon->merger);
	nod_entries_clear(&daemon->entries);
	ev_timer_stop(daemon->loop, &daemon->second);
	ev_timer_stop(daemon->loop, &daemon->follow);
	ev_signal_stop(daemon->loop, &daemon->terminate);
	ev_signal_stop(daemon->loop, &daemon->interrupt);
}
