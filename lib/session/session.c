/* SPDX-License-Identifier: MIT */
#include "session.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "session-private.h"

/* A mark in a header of a capture: "# isolated: 1700002400.5 F12". "locked" and
 * "ended" stay headers, as the engine knows them; "clock-step" has no time. Returns 0 or -ENOMEM. */
static int take_header_mark(struct nod_session *session, const struct lane *lane,
			    const struct nod_event *event)
{
	const char *value = event->header.value;
	size_t length = strcspn(value, " ");
	struct nod_mark mark;

	if (nod_mark_kind_parse(&mark.kind, event->header.key) ||
	    mark.kind == NOD_MARK_CLOCK_STEP || nod_time_parse(&mark.time, value, length))
		return 0;
	if (mark.kind == NOD_MARK_LOCKED) {
		if (!nod_time_is_set(session->header_lock))
			session->header_lock = mark.time;
		return 0;
	}
	mark.subject = value + length + strspn(value + length, " ");
	/* The event of the journal's lane is asked for again: this may be earlier. */
	session->lanes[LANE_JOURNAL].event = NULL;
	session->lanes[LANE_JOURNAL].ended = false;
	return nod_session_marks_insert(&session->marks, &mark, lane->epoch);
}

/* "# clock-step: -2 s": written by the recorder where the clock was set. */
static void take_header_step(struct lane *lane, const struct nod_event *event)
{
	struct nod_mark mark = {lane->last, NOD_MARK_CLOCK_STEP, event->header.value};

	if (!strcmp(event->header.key, "clock-step") && nod_session_mark_step(&mark).ns &&
	    ++lane->steps_told > lane->epoch) {
		lane->epoch = lane->steps_told;
		lane->last = NOD_TIME_NONE;
	}
}

static int take_header(struct nod_session *session, struct lane *lane,
		       const struct nod_event *event)
{
	take_header_step(lane, event);
	if (!nod_time_is_set(lane->last)) /* its own is of the epoch before */
		lane->at = NOD_TIME_NONE;
	/* "ended" comes once a second while a recording hears nothing. */
	if (!nod_time_is_set(session->first) && session->headers.count < NOD_SESSION_HEADERS &&
	    strcmp(event->header.key, "ended") != 0 &&
	    nod_session_notes_add(&session->headers, event->header.key, event->header.value,
				  &session->texts))
		return -ENOMEM;
	return take_header_mark(session, lane, event);
}

static bool is_in_next_epoch(const struct nod_session *session, const struct lane *lane,
			     nod_time time, nod_time last)
{
	return lane->epoch < session->marks.epochs &&
	       nod_session_step_is_past(&session->marks.steps[lane->epoch], time, last);
}

static void find_epoch(const struct nod_session *session, struct lane *lane, nod_time time)
{
	while (is_in_next_epoch(session, lane, time, lane->last)) {
		lane->epoch++;
		lane->last = NOD_TIME_NONE;
	}
}

static int take_stream_event(struct nod_session *session, struct lane *lane)
{
	const struct nod_event *event = lane->event;

	lane->at = event->time;
	if (event->kind == NOD_EVENT_HEADER)
		return take_header(session, lane, event);
	if (event->kind == NOD_EVENT_FRAME || event->kind == NOD_EVENT_CURRENT) {
		if (__builtin_expect(lane->epoch < session->marks.epochs, 0))
			find_epoch(session, lane, event->time);
		lane->last = event->time;
	}
	return 0;
}

/* A line of the journal that is no mark, or the next mark. */
static int next_mark(struct nod_session *session, struct lane *lane)
{
	struct nod_session_defects *defects = session->defects;
	const struct nod_session_mark *mark = nod_session_marks_peek(&session->marks);
	struct nod_event *event = &session->mark;

	if (defects->next < defects->count) {
		*event = (struct nod_event){.kind = NOD_EVENT_DEFECT, .time = NOD_TIME_NONE};
		lane->at = NOD_TIME_NONE;
		event->defect.file = session->journal->path;
		event->defect.line = defects->list[defects->next].line;
		event->defect.column = defects->list[defects->next].column;
		event->defect.reason = defects->list[defects->next].reason;
	} else if (mark) {
		*event = (struct nod_event){.kind = NOD_EVENT_MARK, .time = mark->mark.time};
		event->mark = mark->mark;
		lane->at = nod_session_mark_place(mark);
		lane->epoch = mark->epoch;
	} else {
		return 0;
	}
	lane->event = event;
	return 1;
}

static void pass_mark(struct nod_session *session)
{
	if (session->defects->next < session->defects->count)
		session->defects->next++;
	else
		nod_session_marks_pass(&session->marks);
}

/* Has the lane get its next event ready. Returns 0 or a negative errno. */
static int fetch(struct nod_session *session, size_t number, struct nod_error *err)
{
	struct lane *lane = &session->lanes[number];
	int result;

	if (number == LANE_JOURNAL)
		result = next_mark(session, lane);
	else if (number == LANE_CURRENT)
		result = nod_session_current_next(&session->current, &lane->event);
	else
		result = nod_session_stream_next(&session->streams[number - LANE_STREAMS],
						 &lane->event, err);
	if (!result) {
		lane->event = NULL;
		lane->ended = true;
	} else if (result > 0 && number != LANE_JOURNAL) {
		result = take_stream_event(session, lane);
		if (result)
			nod_error_set(err, ENOMEM, "out of memory");
	}
	return result < 0 ? result : 0;
}

static bool is_before(const struct lane *a, const struct lane *b)
{
	if (a->epoch != b->epoch)
		return a->epoch < b->epoch;
	return a->at.ns < b->at.ns;
}

/* Has every lane ready; the journal last, as headers may add to it. */
static int fetch_all(struct nod_session *session, struct nod_error *err)
{
	for (size_t i = LANE_STREAMS + session->stream_count; i-- > 0;) {
		struct lane *lane = &session->lanes[i];
		if (lane->event || lane->ended)
			continue;
		int result = fetch(session, i, err);
		if (result)
			return result;
	}
	return 0;
}

static struct lane *earliest(struct nod_session *session)
{
	struct lane *best = NULL;

	for (size_t i = 0; i < LANE_STREAMS + session->stream_count; i++) {
		struct lane *lane = &session->lanes[i];
		if (lane->event && (!best || is_before(lane, best)))
			best = lane;
	}
	return best;
}

static int deliver(struct nod_session *session, const struct lane *lane,
		   const struct nod_event **event)
{
	session->delivered = (size_t)(lane - session->lanes);
	*event = lane->event;
	if (__builtin_expect(!nod_time_is_set(session->first), 0) &&
	    ((*event)->kind == NOD_EVENT_FRAME || (*event)->kind == NOD_EVENT_CURRENT))
		session->first = (*event)->time;
	return 1;
}

/* True when the lane has nothing that is as early as `a`. */
static bool is_later(const struct lane *lane, const struct lane *a)
{
	return lane->event ? is_before(a, lane) : lane->ended;
}

/* The usual case, a frame after a frame of the only stream, with few steps.
 * Returns 1, 0 when all lanes have to be looked at, or a negative errno. */
static int next_frame(struct nod_session *session, const struct nod_event **event,
		      struct nod_error *err)
{
	struct lane *lane = &session->lanes[LANE_STREAMS];

	if (session->delivered != LANE_STREAMS || session->stream_count != 1)
		return 0;
	session->delivered = SIZE_MAX;
	lane->event = NULL;
	int result = fetch(session, LANE_STREAMS, err);
	if (result)
		return result;
	if (lane->event && lane->event->kind == NOD_EVENT_FRAME &&
	    is_later(&session->lanes[LANE_JOURNAL], lane) &&
	    is_later(&session->lanes[LANE_CURRENT], lane))
		return deliver(session, lane, event);
	return 0;
}

int nod_session_next(struct nod_session *session, const struct nod_event **event,
		     struct nod_error *err)
{
	int result = next_frame(session, event, err);

	if (result)
		return result;
	if (session->delivered == LANE_JOURNAL)
		pass_mark(session);
	if (session->delivered != SIZE_MAX)
		session->lanes[session->delivered].event = NULL;
	session->delivered = SIZE_MAX;
	result = fetch_all(session, err);
	if (result)
		return result;
	const struct lane *lane = earliest(session);
	return lane ? deliver(session, lane, event) : 0;
}

/* How many of the frames come before what a lane has ready. Returns count when
 * it has nothing more. */
static size_t count_before(const struct lane *other, const struct lane *lane,
			   const struct nod_frame *frames, size_t count)
{
	if (!other->event)
		return other->ended ? count : 0;
	if (other->epoch != lane->epoch)
		return other->epoch > lane->epoch ? count : 0;
	size_t n = 0;
	while (n < count && frames[n].time.ns < other->at.ns)
		n++;
	return n;
}

/* How many of the frames come before the clock is set for the next time. */
static size_t count_in_epoch(const struct nod_session *session, const struct lane *lane,
			     const struct nod_frame *frames, size_t count)
{
	nod_time last = lane->last;
	size_t n = 0;

	if (lane->epoch >= session->marks.epochs)
		return count;
	while (n < count && !is_in_next_epoch(session, lane, frames[n].time, last))
		last = frames[n++].time;
	return n;
}

size_t nod_session_frames(struct nod_session *session, const struct nod_frame **frames)
{
	struct lane *lane = &session->lanes[LANE_STREAMS];

	if (session->delivered != LANE_STREAMS || session->stream_count != 1 ||
	    lane->event->kind != NOD_EVENT_FRAME)
		return 0;
	size_t count = nod_session_stream_frames(&session->streams[0], frames);
	count = count_in_epoch(session, lane, *frames, count);
	count = count_before(&session->lanes[LANE_JOURNAL], lane, *frames, count);
	count = count_before(&session->lanes[LANE_CURRENT], lane, *frames, count);
	if (count) {
		lane->last = (*frames)[count - 1].time;
		nod_session_stream_take(&session->streams[0], count);
	}
	return count;
}

static bool names_standard_input_twice(const char *const *paths, size_t count)
{
	int found = 0;

	for (size_t i = 0; i < count; i++)
		found += !strcmp(paths[i], "-");
	return found > 1;
}

struct nod_session *nod_session_open_all(const char *const *paths, size_t count,
					 struct nod_error *err)
{
	if (names_standard_input_twice(paths, count)) {
		nod_error_set(err, EINVAL, "standard input (\"-\") can be read once only");
		errno = EINVAL;
		return NULL;
	}
	struct nod_session *session = calloc(1, sizeof(*session));
	int result = -ENOMEM;

	if (session) {
		session->header_lock = session->first = NOD_TIME_NONE;
		session->delivered = SIZE_MAX;
		result = nod_session_set_up(session, paths, count, err);
	} else {
		nod_error_set(err, ENOMEM, "out of memory");
	}
	if (!result)
		return session;
	nod_session_close(session);
	errno = -result;
	return NULL;
}

struct nod_session *nod_session_open(const char *path, struct nod_error *err)
{
	return nod_session_open_all(&path, 1, err);
}

struct nod_interfaces *nod_session_interfaces(struct nod_session *session)
{
	return &session->interfaces;
}

const char *nod_session_path(const struct nod_session *session)
{
	return session->path;
}

const char *nod_session_vehicle(const struct nod_session *session)
{
	return session->vehicle;
}

const char *nod_session_about(const struct nod_session *session, const char *key)
{
	for (size_t i = session->notes.count; i-- > 0;)
		if (!strcmp(session->notes.list[i].key, key))
			return session->notes.list[i].value;
	for (size_t i = 0; i < session->headers.count; i++)
		if (!strcmp(session->headers.list[i].key, key))
			return session->headers.list[i].value;
	return NULL;
}

bool nod_session_note(const struct nod_session *session, size_t index, const char **key,
		      const char **value)
{
	if (index >= session->notes.count)
		return false;
	*key = session->notes.list[index].key;
	*value = session->notes.list[index].value;
	return true;
}

size_t nod_session_file_count(const struct nod_session *session)
{
	return session->file_count;
}

const struct nod_session_file *nod_session_file(const struct nod_session *session, size_t index)
{
	for (size_t i = 0; i < session->stream_count; i++)
		nod_session_stream_count(&session->streams[i]);
	return &session->files[index];
}

void nod_session_close(struct nod_session *session)
{
	if (!session)
		return;
	for (size_t i = 0; i < session->stream_count; i++)
		nod_session_stream_close(&session->streams[i]);
	nod_session_current_close(&session->current);
	nod_session_marks_free(&session->marks);
	nod_session_notes_free(&session->notes);
	nod_session_notes_free(&session->headers);
	free(session->files);
	free(session->streams);
	free(session->lanes);
	free(session->defects);
	nod_arena_free(&session->texts);
	free(session);
}
