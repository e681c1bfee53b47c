/* SPDX-License-Identifier: MIT */
#include "session-stream.h"

#include <errno.h>
#include <string.h>

void nod_session_stream_init(struct nod_session_stream *stream, struct nod_session_file *pieces,
			     size_t count, bool alone, struct nod_interfaces *interfaces,
			     struct nod_arena *texts)
{
	*stream = (struct nod_session_stream){.pieces = pieces,
					      .count = count,
					      .by = alone ? NOD_READ_BY_CHOICE : NOD_READ_BY_CALLER,
					      .interfaces = interfaces,
					      .texts = texts,
					      .last = NOD_TIME_NONE};
}

int nod_session_stream_open(struct nod_session_stream *stream, struct nod_error *err)
{
	struct nod_session_file *piece = &stream->pieces[stream->current];

	stream->batch = (struct nod_batch){0};
	stream->source = nod_read_ahead_open(piece->path, stream->interfaces, stream->by, err);
	if (!stream->source)
		return errno ? -errno : -EIO;
	piece->form = nod_arena_printf(stream->texts, "%s", nod_read_ahead_form(stream->source));
	stream->fresh = true;
	return 0;
}

void nod_session_stream_count(struct nod_session_stream *stream)
{
	if (!stream->source)
		return;
	struct nod_session_file *piece = &stream->pieces[stream->current];
	struct nod_source_counts counts;
	nod_read_ahead_counts(stream->source, &counts);
	/* What the stream itself has added stays. */
	counts.back_steps += piece->step_before;
	counts.defects += piece->fault != NULL;
	piece->counts = counts;
}

static void finish_piece(struct nod_session_stream *stream)
{
	struct nod_session_file *piece = &stream->pieces[stream->current];

	nod_session_stream_count(stream);
	if (piece->counts.torn && !piece->fault)
		piece->fault = "its end is cut off";
	nod_read_ahead_close(stream->source);
	stream->source = NULL;
	stream->current++;
}

/* The piece cannot be opened or read on: says so, and goes on behind it. */
static int give_up_piece(struct nod_session_stream *stream, const struct nod_error *why,
			 const struct nod_event **event)
{
	struct nod_session_file *piece = &stream->pieces[stream->current];
	size_t name = strlen(piece->path);
	const char *text = why->text;

	/* The place is told beside it. */
	if (!strncmp(text, piece->path, name) && !strncmp(text + name, ": ", 2))
		text += name + 2;
	piece->fault = nod_arena_printf(stream->texts, "%s", text);
	if (!stream->source)
		piece->counts.defects = 1;
	stream->own = (struct nod_event){.kind = NOD_EVENT_DEFECT, .time = stream->last};
	nod_session_stream_count(stream);
	stream->own.defect.file = piece->path;
	stream->own.defect.line = piece->counts.lines + 1;
	stream->own.defect.reason = piece->fault;
	finish_piece(stream);
	*event = &stream->own;
	return 1;
}

/* The first frame of a piece may be earlier than the last of the one before. */
static void check_order(struct nod_session_stream *stream, nod_time time)
{
	struct nod_session_file *piece = &stream->pieces[stream->current];

	stream->fresh = false;
	piece->step_before = nod_time_is_set(stream->last) && time.ns < stream->last.ns;
}

void nod_session_stream_take(struct nod_session_stream *stream, size_t count)
{
	stream->last = stream->batch.frames[count - 1].time;
	stream->batch.frames += count;
	stream->batch.count -= count;
}

static const struct nod_event *take_frame(struct nod_session_stream *stream)
{
	stream->own.kind = NOD_EVENT_FRAME;
	stream->own.time = stream->batch.frames->time;
	stream->own.frame = *stream->batch.frames;
	if (__builtin_expect(stream->fresh, 0))
		check_order(stream, stream->own.time);
	nod_session_stream_take(stream, 1);
	return &stream->own;
}

/* An event that is no frame. Without a time it gets the time of the frame
 * before, which may be in the piece before. */
static const struct nod_event *take_event(struct nod_session_stream *stream)
{
	const struct nod_event *event = stream->batch.event;

	stream->batch.event = NULL;
	if (nod_time_is_set(event->time) || !nod_time_is_set(stream->last))
		return event;
	stream->own = *event;
	stream->own.time = stream->last;
	return &stream->own;
}

/* Opens the piece when it is not yet, and reads on in it. Returns 1, 0 at its
 * end, or a negative errno. */
static int read_on(struct nod_session_stream *stream, struct nod_error *why)
{
	int result = stream->source ? 0 : nod_session_stream_open(stream, why);

	return result ? result : nod_read_ahead_next(stream->source, &stream->batch, why);
}

int nod_session_stream_next(struct nod_session_stream *stream, const struct nod_event **event,
			    struct nod_error *err)
{
	while (stream->current < stream->count) {
		if (__builtin_expect(stream->texts->failed, 0))
			return nod_error_set(err, ENOMEM, "out of memory");
		if (stream->batch.count || stream->batch.event) {
			*event = stream->batch.count ? take_frame(stream) : take_event(stream);
			return 1;
		}
		struct nod_error why = {""};
		int result = read_on(stream, &why);
		if (result == -ENOMEM)
			return nod_error_set(err, ENOMEM, "%s", why.text);
		if (result < 0)
			return give_up_piece(stream, &why, event);
		if (!result)
			finish_piece(stream);
	}
	return stream->texts->failed ? nod_error_set(err, ENOMEM, "out of memory") : 0;
}

void nod_session_stream_close(struct nod_session_stream *stream)
{
	nod_read_ahead_close(stream->source);
	stream->source = NULL;
}
