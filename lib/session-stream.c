#include "session-stream.h"

#include <errno.h>
#include <string.h>

void nod_session_stream_init(struct nod_session_stream *stream, struct nod_session_file *pieces,
			     size_t count, struct nod_interfaces *interfaces,
			     struct nod_arena *texts)
{
	*stream = (struct nod_session_stream){.pieces = pieces,
					      .count = count,
					      .interfaces = interfaces,
					      .texts = texts,
					      .last = NOD_TIME_NONE};
}

int nod_session_stream_open(struct nod_session_stream *stream, struct nod_error *err)
{
	struct nod_session_file *piece = &stream->pieces[stream->current];

	stream->source = nod_source_open(piece->path, stream->interfaces, err);
	if (!stream->source)
		return errno ? -errno : -EIO;
	piece->form = nod_arena_printf(stream->texts, "%s", nod_source_form(stream->source));
	stream->fresh = true;
	return 0;
}

void nod_session_stream_count(struct nod_session_stream *stream)
{
	if (!stream->source)
		return;
	struct nod_session_file *piece = &stream->pieces[stream->current];
	struct nod_source_counts counts;
	nod_source_counts(stream->source, &counts);
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
	nod_source_close(stream->source);
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

/* Gives an event without a time the time of the frame before, which may be in
 * the piece before. */
static void place(struct nod_session_stream *stream, const struct nod_event **event)
{
	if ((*event)->kind == NOD_EVENT_FRAME) {
		if (__builtin_expect(stream->fresh, 0))
			check_order(stream, (*event)->time);
		stream->last = (*event)->time;
	} else if (!nod_time_is_set((*event)->time) && nod_time_is_set(stream->last)) {
		stream->own = **event;
		stream->own.time = stream->last;
		*event = &stream->own;
	}
}

int nod_session_stream_next(struct nod_session_stream *stream, const struct nod_event **event,
			    struct nod_error *err)
{
	struct nod_error why = {""};
	int result = 0;

	while (stream->current < stream->count) {
		if (!stream->source)
			result = nod_session_stream_open(stream, &why);
		if (!result)
			result = nod_source_next(stream->source, event, &why);
		if (result == -ENOMEM)
			return nod_error_set(err, ENOMEM, "%s", why.text);
		if (result < 0)
			return give_up_piece(stream, &why, event);
		if (result) {
			place(stream, event);
			return 1;
		}
		finish_piece(stream);
	}
	return 0;
}

void nod_session_stream_close(struct nod_session_stream *stream)
{
	nod_source_close(stream->source);
	stream->source = NULL;
}
