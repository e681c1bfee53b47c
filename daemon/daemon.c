/* SPDX-License-Identifier: MIT */
#include "daemon-internal.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock-watch.h"
#include "plain-text.h"
#include "session-name.h"
#include "view.h"
#include "when.h"

/* How often what was heard is put on the disk and shown, s. A killed process
 * loses at most this and the hold-back. */
#define SECOND 0.8

/* Above a path and an error text. */
#define SAID_LONGEST (PATH_MAX + 1024)

void nod_daemon_say(const char *format, ...)
{
	char time[NOD_WHEN_TEXT], text[SAID_LONGEST];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	nod_text_make_plain(text, '?'); /* names and titles come from outside */
	fprintf(stderr, "%s %s\n", nod_when_print(time, nod_clock_now(), NULL), text);
}

/* ---- events into the session ---- */

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
			nod_daemon_keep_mark(daemon, &event->mark);
		if (nod_mark_is_persons(event->mark.kind))
			nod_daemon_answer_mark(daemon, event->time, status);
	}
}

/* ---- sessions ---- */

static void tell_gaps(struct nod_daemon *daemon, nod_time now)
{
	struct nod_tap_reports reports = nod_daemon_tap_reports(daemon);

	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_tell_gap(&daemon->taps[i], now, &reports);
}

void nod_daemon_begin_gaps(struct nod_daemon *daemon, nod_time now)
{
	struct nod_tap_reports reports = nod_daemon_tap_reports(daemon);

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

void nod_daemon_flush(struct nod_daemon *daemon)
{
	tell_gaps(daemon, nod_daemon_now());
	nod_pump_flush(daemon->pump);
}

int nod_daemon_record(struct nod_daemon *daemon, const char *title, struct nod_error *err)
{
	char path[PATH_MAX];
	nod_time now;
	int status;

	nod_daemon_flush(daemon);
	now = nod_daemon_mark_time(daemon);
	status = nod_session_name(path, sizeof(path), daemon->options->sessions, title, now);
	if (status)
		return nod_error_set(err, -status, "the name of the session is too long");
	status = nod_live_record(&daemon->live, path, title, stamping_clock(daemon), now, err);
	if (status)
		return status;
	daemon->recording_error = 0;
	nod_recent_marks_clear(&daemon->recent);
	nod_daemon_begin_gaps(daemon, now);
	nod_daemon_say("recording into %s", path);
	return 0;
}

int nod_daemon_end_record(struct nod_daemon *daemon, json_t **answer, struct nod_error *err)
{
	nod_time now;
	int status;

	if (!daemon->live.recorder)
		return nod_error_set(err, ENOENT, "no session is being recorded");
	nod_daemon_flush(daemon);
	now = nod_daemon_mark_time(daemon);
	status = nod_live_finish(&daemon->live, now, err);
	/* one that lacks something is none */
	*answer = status || daemon->live.starved ? NULL : nod_view_answer(daemon, false, NULL);
	say_starved(daemon);
	nod_live_renew(&daemon->live, now);
	daemon->recording_error = 0;
	nod_daemon_begin_gaps(daemon, now);
	nod_daemon_say("the recording has ended");
	nod_daemon_leave_adapters(daemon);
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
		nod_daemon_say("the corrected mark shows only when the recording is read again: %s",
			       err.text);
	publish_view(daemon);
}

static void on_signal(struct ev_loop *loop, ev_signal *signal, int events)
{
	(void)signal, (void)events;
	ev_break(loop, EVBREAK_ALL);
}

/* The taps' frames go through merger and pump; there is room for as many as there are
 * sockets. */
static int open_pump(struct nod_daemon *daemon, struct nod_error *err)
{
	size_t slots = daemon->socket_count ? daemon->socket_count : daemon->tap_count;
	struct nod_tap_reports reports = nod_daemon_tap_reports(daemon);
	struct nod_pump_calls calls = {take_event, nod_daemon_clock_was_set,
				       nod_daemon_was_suspended, daemon};

	daemon->merger = nod_merger_new(NOD_LANE_TAPS + slots);
	if (daemon->merger)
		daemon->pump = nod_pump_new(daemon->loop, daemon->taps, slots, &daemon->tap_count,
					    daemon->merger, &reports, &calls);
	return daemon->pump ? 0 : nod_error_set(err, ENOMEM, "out of memory");
}

int nod_daemon_start(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = open_pump(daemon, err);

	if (status)
		return status;
	nod_daemon_begin_gaps(daemon, nod_daemon_now());
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
		nod_daemon_flush(daemon);
	nod_pump_free(daemon->pump);
	nod_merger_free(daemon->merger);
	nod_recent_marks_clear(&daemon->recent);
	free(daemon->beginning.title);
	json_decref(daemon->beginning.ticket.id);
	ev_timer_stop(daemon->loop, &daemon->second);
	ev_timer_stop(daemon->loop, &daemon->search);
	ev_timer_stop(daemon->loop, &daemon->follow);
	ev_signal_stop(daemon->loop, &daemon->terminate);
	ev_signal_stop(daemon->loop, &daemon->interrupt);
}
