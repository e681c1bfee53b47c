/* SPDX-License-Identifier: MIT */
/* The page over a recording: played again at any speed, for learning and for tests. What
 * is tapped goes into this run of the engine, and nowhere else. */
#include <errno.h>
#include <poll.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "engine.h"
#include "json-build.h"
#include "page-server.h"
#include "page.h"
#include "session.h"
#include "tap.h"
#include "view.h"

#define STEP_MS 200 /* between views; chosen: quick enough for the eye at any speed */

struct replay {
	const struct nod_page_options *options;
	struct nod_page *page;
	struct nod_session *session;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	const struct nod_event *event; /* the next one; NULL: the end */
	int64_t began;                 /* monotonic, ns */
	nod_time start, last;          /* of the recording; of what the engine was given */
	uint64_t frames;
	int64_t current_ua;
	nod_time current_at;
	struct nod_tap taps[NOD_TAPS_MAX];
};

static int64_t monotonic(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * NOD_NS_PER_S + now.tv_nsec;
}

/* The moment of the recording that is being played. */
static nod_time now(void *context)
{
	const struct replay *r = context;
	double played = (double)(monotonic() - r->began) * r->options->speed;

	return nod_time_after(r->start, (nod_duration){(int64_t)played});
}

static json_t *map(void *context)
{
	const struct replay *r = context;

	return nod_view_map(r->vehicle);
}

static int tap(void *context, const struct nod_page_tap *t, struct nod_error *err)
{
	struct replay *r = context;
	struct nod_event event = {.kind = NOD_EVENT_MARK};

	if (nod_mark_kind_parse(&event.mark.kind, t->kind) || !nod_mark_is_persons(event.mark.kind))
		return nod_error_set(err, EINVAL, "`%.40s` is not possible in a practice run",
				     t->kind);
	event.time = event.mark.time = t->time.ns > r->last.ns ? t->time : r->last;
	event.mark.subject = t->subject;
	if (nod_engine_take(r->engine, &event))
		return nod_error_set(err, ENOMEM, "out of memory");
	r->last = event.time;
	return 0;
}

/* ---- playing ---- */

static void note(struct replay *r, const struct nod_event *event)
{
	r->frames += event->kind == NOD_EVENT_FRAME;
	if (event->kind == NOD_EVENT_CURRENT) {
		r->current_ua = event->current.microamps;
		r->current_at = event->time;
	}
}

/* Gives the engine all events up to `until`. 0 or a negative errno with err set. */
static int play(struct replay *r, nod_time until, struct nod_error *err)
{
	while (r->event && r->event->time.ns <= until.ns) {
		if (nod_engine_take(r->engine, r->event) == -ENOMEM)
			return nod_error_set(err, ENOMEM, "out of memory");
		note(r, r->event);
		r->last = r->event->time;
		int status = nod_session_next(r->session, &r->event, err);
		if (status < 0)
			return status;
		if (!status)
			r->event = NULL;
	}
	if (r->event) {
		nod_engine_advance(r->engine, until);
		r->last = until;
	}
	return 0;
}

static size_t name_taps(struct replay *r)
{
	const struct nod_interfaces *names = nod_session_interfaces(r->session);
	size_t count = names->count < NOD_TAPS_MAX ? names->count : NOD_TAPS_MAX;

	for (size_t i = 0; i < count; i++) {
		memcpy(r->taps[i].interface, names->names[i], sizeof(r->taps[i].interface));
		r->taps[i].state = NOD_TAP_LISTENING;
	}
	return count;
}

static json_t *make_view(struct replay *r)
{
	struct nod_findings *f = nod_engine_findings(r->engine);
	json_t *view = f ? json_object() : NULL;
	nod_time shown = r->event ? now(r) : r->last;

	if (view) {
		nod_json_put(&view, "now_ns", json_integer(shown.ns));
		nod_json_put(&view, "speed", json_real(r->event ? r->options->speed : 0));
		nod_json_put(&view, "practice", json_true());
		nod_json_put(
			&view, "session",
			json_pack("{s:b, s:I}", "recording", 0, "frames", (json_int_t)r->frames));
		nod_json_put(&view, "current",
			     nod_time_is_set(r->current_at)
				     ? json_pack("{s:I, s:I}", "time_ns",
						 (json_int_t)r->current_at.ns, "microamps",
						 (json_int_t)r->current_ua)
				     : json_null());
		f->clock_shift.ns = 0; /* `now` goes on where the clock was set */
		nod_view_add_findings(&view, f, r->taps, name_taps(r));
	}
	if (f)
		nod_findings_free(f);
	return view;
}

static int serve(struct replay *r, struct nod_error *err)
{
	int64_t due = monotonic();
	int status = 0;

	while (!status && !nod_page_is_over()) {
		struct pollfd waiting = {nod_page_descriptor(r->page), POLLIN, 0};
		int64_t left = (due - monotonic()) / NOD_NS_PER_MS;
		poll(&waiting, 1, left < 0 ? 0 : left > STEP_MS ? STEP_MS : (int)left);
		if (monotonic() >= due) {
			status = play(r, now(r), err);
			nod_page_show(r->page, "view", make_view(r));
			due = monotonic() + STEP_MS * NOD_NS_PER_MS;
		}
		nod_page_run(r->page);
	}
	return status;
}

/* ---- life ---- */

static int open_recording(struct replay *r, struct nod_error *err)
{
	r->session = nod_session_open(r->options->session, err);
	if (!r->session)
		return -errno;
	const char *path = nod_session_vehicle(r->session);
	r->vehicle = path ? nod_vehicle_load(path, err) : nod_vehicle_new();
	if (!r->vehicle)
		return path ? -errno : nod_error_set(err, ENOMEM, "out of memory");
	r->engine = nod_engine_new(r->vehicle, nod_session_interfaces(r->session));
	if (!r->engine)
		return nod_error_set(err, ENOMEM, "out of memory");
	/* headers have no time: the clock starts with the first event that has */
	int status;
	while ((status = nod_session_next(r->session, &r->event, err)) > 0 &&
	       !nod_time_is_set(r->event->time))
		nod_engine_take(r->engine, r->event);
	if (status <= 0)
		return status ? status
			      : nod_error_set(err, ENODATA, "nothing is recorded in %s",
					      r->options->session);
	r->start = r->last = r->event->time;
	return 0;
}

static void close_recording(struct replay *r)
{
	nod_page_close(r->page);
	nod_engine_free(r->engine);
	nod_vehicle_free(r->vehicle);
	nod_session_close(r->session);
}

int nod_page_replay(const struct nod_page_options *options, nod_page_ready *ready,
		    struct nod_error *err)
{
	struct replay *r = calloc(1, sizeof(*r));
	const struct nod_page_feed feed = {r, tap, now, map};
	int status;

	if (!r)
		return nod_error_set(err, ENOMEM, "out of memory");
	r->options = options;
	r->current_at = NOD_TIME_NONE;
	status = open_recording(r, err);
	if (!status) {
		r->page = nod_page_open(&options->where, &feed, err);
		status = r->page ? 0 : -errno;
	}
	if (!status) {
		nod_page_tell(r->page, options, ready);
		r->began = monotonic();
		status = serve(r, err);
	}
	close_recording(r);
	free(r);
	return status;
}
