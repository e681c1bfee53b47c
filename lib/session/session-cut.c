/* SPDX-License-Identifier: MIT */
#include "session-cut.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mark-forms.h"
#include "recorder.h"
#include "session-cut-vehicle.h"

struct cutter {
	const struct nod_session_cut *cut;
	const struct nod_survey *survey;
	struct nod_session_cut_result *result;
	struct nod_session *from;
	struct nod_session_maker *maker;
	struct nod_recorder *recorder;
	struct nod_vehicle *vehicle; /* NULL: none, or not readable */
	struct nod_scrub *scrub;
	nod_time begin, end; /* of what was recorded in the piece */
	struct nod_file_ops ops;
};

/* Everything is synced when the session is committed. */
static int sync_later(void *context, int fd)
{
	(void)context;
	(void)fd;
	return 0;
}

static nod_time later(nod_time a, nod_time b)
{
	return a.ns > b.ns ? a : b;
}

static nod_time earlier(nod_time a, nod_time b)
{
	return a.ns < b.ns ? a : b;
}

static bool is_inside(const struct cutter *c, nod_time time)
{
	return time.ns >= c->cut->from.ns && time.ns <= c->cut->to.ns;
}

static int put_mark(struct cutter *c, nod_time time, enum nod_mark_kind kind, const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time};
	char text[NOD_MARK_LINE_MAX];

	snprintf(text, sizeof(text), "%s", subject);
	nod_scrub_text(c->scrub, text);
	event.mark = (struct nod_mark){time, kind, text};
	c->result->marks++;
	return nod_recorder_take(c->recorder, &event);
}

/* Nobody listened, as far as this piece says. */
static int put_gap(struct cutter *c, uint8_t interface, nod_time from, nod_time to)
{
	struct nod_event event = {.kind = NOD_EVENT_GAP, .time = to};

	event.gap.interface = interface;
	event.gap.from = from;
	c->result->marks++;
	return nod_recorder_take(c->recorder, &event);
}

/* The lock mark, and where the piece begins. */
static int put_beginning(struct cutter *c)
{
	const struct nod_session_lock *lock = &c->survey->lock;
	bool before = lock->time.ns < c->begin.ns;
	int result = 0;

	c->result->lock_outside = !is_inside(c, lock->time);
	c->result->lock_assumed = lock->source == NOD_LOCK_FROM_START;
	result = put_mark(c, lock->time, NOD_MARK_LOCKED,
			  c->result->lock_assumed ? "(assumed: start of the recording)" : "");
	if (!result)
		result = put_mark(c, c->begin, NOD_MARK_STARTED, "");
	return !result && before ? put_gap(c, NOD_ALL_INTERFACES, lock->time, c->begin) : result;
}

static int put_end(struct cutter *c)
{
	int result = put_mark(c, c->end, NOD_MARK_STOPPED, "");

	if (!result && c->survey->lock.time.ns > c->end.ns)
		result = put_gap(c, NOD_ALL_INTERFACES, c->end, c->survey->lock.time);
	return result;
}

/* A gap that ends after the piece: of it counts what lies inside. */
static int take_late_gap(struct cutter *c, const struct nod_mark *mark)
{
	nod_duration length;
	uint8_t interface;

	if (nod_mark_gap(mark, nod_session_interfaces(c->from), &interface, &length))
		return 0;
	nod_time from = nod_time_after(mark->time, (nod_duration){-length.ns});
	return from.ns < c->end.ns ? put_gap(c, interface, later(from, c->begin), c->end) : 0;
}

/* Begin and end are the piece's own; the lock mark is there already. */
static int take_mark(struct cutter *c, const struct nod_mark *mark)
{
	if (mark->kind == NOD_MARK_STARTED || mark->kind == NOD_MARK_STOPPED)
		return 0;
	if (mark->kind == NOD_MARK_LOCKED && mark->time.ns == c->survey->lock.time.ns)
		return 0;
	if (mark->kind == NOD_MARK_GAP && mark->time.ns > c->end.ns)
		return take_late_gap(c, mark);
	if (is_inside(c, mark->time))
		return put_mark(c, mark->time, mark->kind, mark->subject);
	c->result->marks_left_out++;
	return 0;
}

/* Headers that are marks were delivered as such; what the recorder writes anew
 * is not taken over. */
static int take_header(struct cutter *c, const struct nod_event *event)
{
	static const char *const own[] = {"ended", "tool", "clock", "clock-step"};
	enum nod_mark_kind kind;
	nod_time time;

	if (!nod_mark_kind_parse(&kind, event->header.key) &&
	    !nod_time_parse(&time, event->header.value, strcspn(event->header.value, " ")))
		return 0;
	for (size_t i = 0; i < sizeof(own) / sizeof(own[0]); i++)
		if (!strcmp(event->header.key, own[i]))
			return 0;
	struct nod_event changed = *event;
	char *value = strdup(event->header.value);
	if (!value)
		return -ENOMEM;
	nod_scrub_text(c->scrub, value);
	changed.header.value = value;
	int result = nod_recorder_take(c->recorder, &changed);
	free(value);
	return result;
}

static int take_frame(struct cutter *c, const struct nod_event *event)
{
	struct nod_event changed = *event;

	uint64_t before = nod_scrub_changed(c->scrub);
	nod_scrub_frame(c->scrub, &changed.frame);
	if (!is_inside(c, event->time))
		return 0;
	c->result->scrubbed += nod_scrub_changed(c->scrub) - before;
	c->result->frames++;
	return nod_recorder_take(c->recorder, &changed);
}

static int take_event(struct cutter *c, const struct nod_event *event)
{
	bool inside = is_inside(c, event->time);

	switch (event->kind) {
	case NOD_EVENT_FRAME:
		return take_frame(c, event);
	case NOD_EVENT_MARK:
		return take_mark(c, &event->mark);
	case NOD_EVENT_HEADER:
		return inside || !nod_time_is_set(event->time) ? take_header(c, event) : 0;
	case NOD_EVENT_CURRENT:
		c->result->samples += inside;
		return inside ? nod_recorder_take(c->recorder, event) : 0;
	case NOD_EVENT_LOSS:
		return inside ? nod_recorder_take(c->recorder, event) : 0;
	default:
		return 0;
	}
}

static int read_events(struct cutter *c,
		       int (*take)(struct cutter *c, const struct nod_event *event),
		       struct nod_error *err)
{
	const struct nod_event *event;
	uint64_t defects = 0;
	int result;

	while ((result = nod_session_next(c->from, &event, err)) > 0) {
		defects += event->kind == NOD_EVENT_DEFECT;
		if (c->cut->step && c->cut->step(c->cut->context, event->time))
			return nod_error_set(err, EINTR, "stopped; nothing was made");
		result = take(c, event);
		if (result)
			return nod_error_set(err, -result, "the piece cannot be written: %s",
					     strerror(-result));
	}
	/* Read before without it, so it is no defect of the session. */
	if (!result && defects != c->survey->defects)
		return nod_error_set(err, EIO,
				     "the session cannot be read as before; nothing was made");
	return result;
}

static int look(struct cutter *c, const struct nod_event *event)
{
	return event->kind == NOD_EVENT_FRAME ? nod_scrub_look(c->scrub, &event->frame) : 0;
}

static int open_source(struct cutter *c, const char *path, struct nod_error *err)
{
	nod_session_close(c->from);
	c->from = nod_session_open(path, err);
	return c->from ? 0 : -errno;
}

/* Reads the session once to learn what has to be scrubbed. */
static int prepare_scrub(struct cutter *c, const char *path, struct nod_error *err)
{
	if (nod_session_vehicle(c->from))
		c->vehicle = nod_vehicle_load(nod_session_vehicle(c->from), NULL);
	c->scrub = nod_scrub_new(c->cut->scrub, c->vehicle, nod_session_interfaces(c->from));
	if (!c->scrub)
		return nod_error_set(err, ENOMEM, "out of memory");
	if (c->cut->scrub == NOD_SCRUB_NOTHING)
		return 0;
	int result = read_events(c, look, err);
	if (result)
		return result;
	nod_scrub_ready(c->scrub);
	return open_source(c, path, err);
}

static void note_time(struct cutter *c, const char *key, nod_time time)
{
	char text[NOD_TIME_TEXT];

	nod_session_maker_note(c->maker, key, nod_time_print(text, time, 6));
}

/* Where the session comes from, and what was done to it before. */
static void note_origin(struct cutter *c)
{
	const char *key, *value;
	char text[NOD_MARK_LINE_MAX];

	for (size_t i = 0; nod_session_note(c->from, i, &key, &value); i++) {
		if (strcmp(key, "capture") != 0 && strncmp(key, "cut", 3) != 0 &&
		    strcmp(key, "scrubbed") != 0)
			continue;
		snprintf(text, sizeof(text), "%s", value);
		nod_scrub_text(c->scrub, text);
		nod_session_maker_note(c->maker, key, text);
	}
	note_time(c, "cut from", c->cut->from);
	note_time(c, "cut to", c->cut->to);
	if (c->cut->scrub != NOD_SCRUB_NOTHING)
		nod_session_maker_note(c->maker, "scrubbed", nod_scrub_kind_name(c->cut->scrub));
}

static int begin_session(struct cutter *c, const char *into, struct nod_error *err)
{
	const char *title = c->cut->title ? c->cut->title : nod_session_about(c->from, "title");
	char *copy = title ? strdup(title) : NULL;
	struct nod_session_about about = {.title = copy,
					  .created = NOD_TIME_NONE,
					  .clock = nod_session_about(c->from, "clock"),
					  .zone = nod_session_about(c->from, "zone")};

	if (title && !copy)
		return nod_error_set(err, ENOMEM, "out of memory");
	if (copy)
		nod_scrub_text(c->scrub, copy);
	c->maker = nod_session_begin(into, &about, NULL, err);
	free(copy);
	return c->maker ? 0 : -errno;
}

static int start_recorder(struct cutter *c, struct nod_error *err)
{
	struct nod_recorder_settings settings = {.directory = nod_session_maker_path(c->maker, "."),
						 .interfaces = nod_session_interfaces(c->from),
						 .clock = nod_session_about(c->from, "clock"),
						 .ops = &c->ops};

	c->ops = nod_file_ops_system;
	c->ops.sync = sync_later;
	c->recorder = settings.directory ? nod_recorder_new(&settings, err) : NULL;
	if (c->recorder)
		return 0;
	return settings.directory ? -errno : nod_error_set(err, ENOMEM, "out of memory");
}

/* Says up to when was listened, too. */
static int finish_recorder(struct cutter *c, struct nod_error *err)
{
	int result = put_end(c);

	if (!result)
		result = nod_recorder_flush(c->recorder, c->end);
	int closed = nod_recorder_close(c->recorder, c->end);
	c->recorder = NULL;
	result = result ? result : closed;
	if (result)
		nod_error_set(err, -result, "the piece cannot be written: %s", strerror(-result));
	return result;
}

static int write_piece(struct cutter *c, struct nod_error *err)
{
	int result = start_recorder(c, err);

	if (!result && (result = put_beginning(c)))
		nod_error_set(err, -result, "the piece cannot be written: %s", strerror(-result));
	if (!result)
		result = read_events(c, take_event, err);
	if (!result)
		result = finish_recorder(c, err);
	return result;
}

static int make_piece(struct cutter *c, const char *path, const char *into, struct nod_error *err)
{
	int result = open_source(c, path, err);

	if (!result)
		result = prepare_scrub(c, path, err);
	if (!result)
		result = begin_session(c, into, err);
	if (!result)
		result = nod_session_cut_vehicle(c->from, c->maker, c->scrub, c->cut->scrub, err);
	if (!result)
		result = write_piece(c, err);
	if (result)
		return result;
	note_origin(c);
	result = nod_session_commit(c->maker, err);
	c->maker = NULL;
	return result;
}

int nod_session_cut(const char *path, const struct nod_survey *survey, const char *into,
		    const struct nod_session_cut *cut, struct nod_session_cut_result *result,
		    struct nod_error *err)
{
	struct cutter c = {.cut = cut, .survey = survey, .result = result};

	memset(result, 0, sizeof(*result));
	c.begin = later(cut->from, survey->lock.start);
	c.end = earlier(cut->to, survey->end);
	if (!nod_time_is_set(survey->lock.start) || c.begin.ns > c.end.ns)
		return nod_error_set(err, ERANGE, "nothing was recorded in that time");
	int status = make_piece(&c, path, into, err);
	if (c.recorder)
		nod_recorder_close(c.recorder, c.end);
	nod_session_abandon(c.maker);
	nod_session_close(c.from);
	nod_scrub_free(c.scrub);
	nod_vehicle_free(c.vehicle);
	return status;
}
