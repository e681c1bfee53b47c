/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "hash.h"
#include "mark-forms.h"
#include "session-join-internal.h"

/* The same mark made on both machines, one after the other: as clock-tie.c has it. */
#define SAME_MARK_NS (10 * NOD_NS_PER_S)

static nod_time on_first(const struct nod_joiner *j, int side, nod_time time)
{
	nod_duration shift = side && nod_time_is_set(time) ? nod_tie_shift(j->join->tie, time)
							   : (nod_duration){0};
	return nod_time_is_set(time) ? nod_time_after(time, (nod_duration){-shift.ns}) : time;
}

/* ---- what is no frame ---- */

static int put(struct nod_joiner *j, const struct nod_event *event)
{
	return nod_recorder_take(j->recorder, event);
}

/* What one missed of a shared network while the other listened is not missing. */
static bool is_filled(struct nod_joiner *j, int side, int interface, nod_time from, nod_time to)
{
	bool filled = j->shared[interface] && nod_join_ran(j, !side, from) &&
		      nod_join_ran(j, !side, to);

	j->result->filled += filled;
	return filled;
}

static int put_gap(struct nod_joiner *j, int side, int interface, nod_time from, nod_time to)
{
	struct nod_event event = {.kind = NOD_EVENT_GAP, .time = to};

	if (to.ns <= from.ns || is_filled(j, side, interface, from, to))
		return 0;
	event.gap.interface = (uint8_t)interface;
	event.gap.from = from;
	j->result->marks++;
	return put(j, &event);
}

/* A gap of one interface, or of all that this recording has. */
static int put_gaps(struct nod_joiner *j, int side, unsigned interface, nod_time from, nod_time to)
{
	const struct nod_interfaces *all = nod_session_interfaces(j->sources[side].session);
	int result = 0;

	for (unsigned i = 0; !result && i < all->count; i++) {
		int name = interface == NOD_ALL_INTERFACES || interface == i
				   ? nod_join_name(j, side, i)
				   : -1;
		if (name >= 0)
			result = put_gap(j, side, name, from, to);
	}
	return result;
}

static int take_loss(struct nod_joiner *j, int side, nod_time time)
{
	struct nod_event event = *j->sources[side].event;
	int interface = event.loss.interface == NOD_ALL_INTERFACES
				? NOD_ALL_INTERFACES
				: nod_join_name(j, side, event.loss.interface);

	if (interface < 0)
		return interface;
	if (interface != NOD_ALL_INTERFACES && is_filled(j, side, interface, time, time))
		return 0;
	event.time = time;
	event.loss.interface = (uint8_t)interface;
	return put(j, &event);
}

static uint64_t hash_of(const struct nod_mark *mark)
{
	return nod_hash_add(NOD_HASH_BEGIN ^ (uint64_t)mark->kind, mark->subject,
			    strlen(mark->subject));
}

/* True for a mark that was made on the other machine, too. */
static bool is_made_twice(struct nod_joiner *j, int side, const struct nod_mark *mark,
			  nod_time time)
{
	uint64_t hash = hash_of(mark);

	for (size_t i = 0; i < j->mark_count && i < NOD_JOIN_MARKS; i++)
		if (j->marks[i].hash == hash && j->marks[i].side != side &&
		    llabs(j->marks[i].time - time.ns) <= SAME_MARK_NS)
			return true;
	size_t at = j->mark_count++ % NOD_JOIN_MARKS;

	j->marks[at].hash = hash;
	j->marks[at].side = side;
	j->marks[at].time = time.ns;
	return false;
}

static int take_mark(struct nod_joiner *j, int side, nod_time time)
{
	const struct nod_session *session = j->sources[side].session;
	const struct nod_mark *mark = &j->sources[side].event->mark;
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time, .mark = *mark};
	nod_duration length;
	uint8_t interface;

	if (mark->kind == NOD_MARK_GAP)
		return nod_mark_gap(mark, nod_session_interfaces((struct nod_session *)session),
				    &interface, &length)
			       ? 0
			       : put_gaps(j, side, interface,
					  nod_time_after(time, (nod_duration){-length.ns}), time);
	if (!nod_mark_is_persons(mark->kind) || is_made_twice(j, side, mark, time))
		return 0;
	event.mark.time = time;
	j->result->marks++;
	return put(j, &event);
}

static int take_current(struct nod_joiner *j, int side, nod_time time)
{
	struct nod_event event = *j->sources[side].event;

	j->has_current |= !side;
	if (side && j->has_current)
		return 0;
	event.time = time;
	j->result->samples++;
	return put(j, &event);
}

static int take(struct nod_joiner *j, int side)
{
	const struct nod_join_source *s = &j->sources[side];

	switch (s->event->kind) {
	case NOD_EVENT_FRAME:
		return nod_join_frame(j, side, s->time);
	case NOD_EVENT_LOSS:
		return take_loss(j, side, s->time);
	case NOD_EVENT_MARK:
		return take_mark(j, side, s->time);
	case NOD_EVENT_CURRENT:
		return take_current(j, side, s->time);
	default:
		return 0;
	}
}

/* ---- all of it ---- */

static int step(struct nod_joiner *j, int side)
{
	struct nod_join_source *s = &j->sources[side];
	int result = nod_session_next(s->session, &s->event, j->err);

	if (result <= 0) {
		s->event = NULL;
		return result;
	}
	nod_time time = on_first(j, side, s->event->time);
	if (nod_time_is_set(time))
		s->time = time;
	return 0;
}

static int open_one(struct nod_joiner *j, int side)
{
	struct nod_join_source *s = &j->sources[side];

	for (size_t i = 0; i < NOD_INTERFACES_MAX; i++)
		s->names[i] = -1;
	s->session = nod_session_open(j->join->paths[side], j->err);
	s->from = on_first(j, side, j->join->start[side]);
	s->to = on_first(j, side, j->join->end[side]);
	s->time = s->from;
	return s->session ? step(j, side) : -errno;
}

static int put_mark(struct nod_joiner *j, nod_time time, enum nod_mark_kind kind)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time, .mark = {time, kind, ""}};

	return put(j, &event);
}

static nod_time earlier(nod_time a, nod_time b)
{
	return a.ns < b.ns ? a : b;
}

/* Where one of them ran alone, nobody listened to the other's networks. */
static int put_edges(struct nod_joiner *j, nod_time from, nod_time to)
{
	int result = 0;

	for (int side = 0; !result && side < 2; side++) {
		const struct nod_join_source *s = &j->sources[side];
		result = put_gaps(j, side, NOD_ALL_INTERFACES, from, s->from);
		if (!result)
			result = put_gaps(j, side, NOD_ALL_INTERFACES, s->to, to);
	}
	return result;
}

static int read_all(struct nod_joiner *j)
{
	struct nod_join_source *s = j->sources;
	int result = 0;

	while (!result && (s[0].event || s[1].event)) {
		int side = !s[0].event || (s[1].event && s[1].time.ns < s[0].time.ns);
		result = take(j, side);
		if (result)
			nod_error_set(j->err, -result, "the joined session cannot be written: %s",
				      strerror(-result));
		else
			result = step(j, side);
	}
	nod_join_expire(j, (nod_time){INT64_MAX / 2});
	return result;
}

/* The maker syncs everything before it gives the session its name. */
static int sync_later(void *context, int fd)
{
	(void)context, (void)fd;
	return 0;
}

static int write_all(struct nod_joiner *j)
{
	nod_time from = earlier(j->sources[0].from, j->sources[1].from);
	nod_time to = j->sources[0].to.ns > j->sources[1].to.ns ? j->sources[0].to
								: j->sources[1].to;
	struct nod_recorder_settings settings = {.directory = nod_session_maker_path(j->maker, "."),
						 .interfaces = &j->names,
						 .digits = 9,
						 .ops = &j->ops};

	j->ops = nod_file_ops_system;
	j->ops.sync = sync_later;
	j->recorder = settings.directory ? nod_recorder_new(&settings, j->err) : NULL;
	if (!j->recorder)
		return settings.directory ? -errno : -ENOMEM;
	int result = put_mark(j, from, NOD_MARK_STARTED);
	if (!result)
		result = read_all(j);
	if (!result)
		result = put_edges(j, from, to);
	if (!result)
		result = put_mark(j, to, NOD_MARK_STOPPED);
	int closed = nod_recorder_close(j->recorder, to);
	return result ? result : closed;
}

static void note(struct nod_joiner *j)
{
	char text[NOD_TIME_TEXT];

	for (int side = 0; side < 2; side++)
		nod_session_maker_note(j->maker, "joined from", j->join->paths[side]);
	nod_session_maker_note(j->maker, "joined with shift",
			       nod_time_print(text, (nod_time){-j->join->tie->offset.ns}, 6));
}

static int make(struct nod_joiner *j, const char *into)
{
	const struct nod_session_about about = {
		.title = j->join->title ? j->join->title
					: nod_session_about(j->sources[0].session, "title"),
		.created = NOD_TIME_NONE};
	const char *vehicle = nod_session_vehicle(j->sources[0].session);

	if (!vehicle)
		vehicle = nod_session_vehicle(j->sources[1].session);
	j->maker = nod_session_begin(into, &about, NULL, j->err);
	if (!j->maker)
		return -errno;
	int result = write_all(j);
	if (!result && vehicle)
		result = nod_session_maker_copy(j->maker, vehicle, "vehicle.yaml", j->err);
	if (!result)
		note(j);
	if (result)
		nod_session_abandon(j->maker);
	return result ? result : nod_session_commit(j->maker, j->err);
}

int nod_session_join(const struct nod_session_join *join, const char *into,
		     struct nod_session_join_result *result, struct nod_error *err)
{
	struct nod_joiner *j = calloc(1, sizeof(*j));
	int status = j ? 0 : nod_error_set(err, ENOMEM, "out of memory");

	*result = (struct nod_session_join_result){0};
	if (!status) {
		j->join = join;
		j->result = result;
		j->err = err;
		status = open_one(j, 0);
	}
	if (!status)
		status = open_one(j, 1);
	if (!status)
		status = make(j, into);
	if (j) {
		nod_session_close(j->sources[0].session);
		nod_session_close(j->sources[1].session);
	}
	free(j);
	return status;
}
