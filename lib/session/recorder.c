/* SPDX-License-Identifier: MIT */
#include "recorder-internal.h"

#include <assert.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "current-log.h"
#include "frame-text.h"
#include "journal.h"
#include "mark-forms.h"
#include "session-files.h"

/* Longest line of text that is no frame. */
#define LINE_MAX_TEXT 512

/* Notes how an attempt to write went. Returns its result. */
int nod_recorder_note_result(struct nod_recorder *recorder, int result)
{
	if (result && !recorder->status.error)
		recorder->status.failing_since = recorder->newest;
	if (!result)
		recorder->status.failing_since = NOD_TIME_NONE;
	recorder->status.error = result;
	return result;
}

void nod_recorder_note_time(struct nod_recorder *recorder, nod_time time)
{
	if (nod_time_is_set(time))
		recorder->newest = time;
	if (!nod_time_is_set(recorder->begun))
		recorder->begun = time;
}

/* Room for a line among the frames, or NULL when it has to be lost. */
static char *line_room(struct nod_recorder *recorder, size_t size)
{
	if (recorder->losing)
		return NULL;
	char *room = nod_piece_writer_room(&recorder->frames, size);
	if (room)
		return room;
	if (!nod_recorder_note_result(recorder, nod_piece_writer_write(&recorder->frames)))
		return nod_piece_writer_room(&recorder->frames, size);
	recorder->losing = true;
	return NULL;
}

static const char *interface_name(const struct nod_recorder *recorder, unsigned index)
{
	assert(index < recorder->interfaces->count);
	return recorder->interfaces->names[index];
}

static int take_frame(struct nod_recorder *recorder, const struct nod_frame *frame)
{
	const char *name = interface_name(recorder, frame->interface);
	char *room = line_room(recorder, NOD_FRAME_TEXT);

	recorder->status.frames++;
	recorder->idle = false;
	nod_recorder_note_time(recorder, frame->time);
	if (!room) {
		recorder->status.lost++;
		recorder->lost[frame->interface]++;
		return recorder->status.error;
	}
	recorder->kept = frame->time;
	nod_piece_writer_add(&recorder->frames,
			     nod_frame_print_digits(room, frame, name, recorder->digits));
	return 0;
}

/* candump's own words (can-utils candump.c, with -d and -l). */
bool nod_recorder_put_loss(struct nod_recorder *recorder, unsigned interface, uint64_t count)
{
	char *room = line_room(recorder, LINE_MAX_TEXT);

	if (!room)
		return false;
	recorder->dropped[interface] += count;
	int length = snprintf(room, LINE_MAX_TEXT,
			      "DROPCOUNT: dropped %" PRIu64 " CAN frame%s on '%s' socket (total "
			      "drops %" PRIu64 ")\n",
			      count, count == 1 ? "" : "s", interface_name(recorder, interface),
			      recorder->dropped[interface]);
	nod_piece_writer_add(&recorder->frames, (size_t)length);
	return true;
}

static int take_loss_on(struct nod_recorder *recorder, unsigned interface, uint64_t count)
{
	recorder->idle = false;
	if (nod_recorder_put_loss(recorder, interface, count))
		return 0;
	recorder->lost[interface] += count;
	return recorder->status.error;
}

/* A loss that is no single interface's: of an unknown number on each. */
static int take_loss(struct nod_recorder *recorder, unsigned interface, uint64_t count)
{
	unsigned interfaces = recorder->interfaces->count;
	int result = 0;

	if (interface != NOD_ALL_INTERFACES)
		return take_loss_on(recorder, interface, count);
	for (unsigned i = 0; i < interfaces; i++) {
		int one = take_loss_on(recorder, i, interfaces == 1 ? count : 0);
		result = result ? result : one;
	}
	return result;
}

int nod_recorder_take_header(struct nod_recorder *recorder, const char *key, const char *value)
{
	char *room = line_room(recorder, LINE_MAX_TEXT);

	if (!room)
		return recorder->status.error;
	int length = snprintf(room, LINE_MAX_TEXT, "# %s: %s", key, value);
	if (length >= LINE_MAX_TEXT)
		length = LINE_MAX_TEXT - 1;
	for (int i = 0; i < length; i++)
		if ((unsigned char)room[i] < ' ')
			room[i] = ' ';
	room[length] = '\n';
	nod_piece_writer_add(&recorder->frames, (size_t)length + 1);
	return 0;
}

int nod_recorder_write_untold(struct nod_recorder *recorder)
{
	int result = recorder->untold_length
			     ? nod_appender_write(&recorder->journal, recorder->untold,
						  recorder->untold_length, true)
			     : 0;

	if (!result)
		recorder->untold_length = 0;
	return result;
}

/* The mark is on the disk when this returns 0. `own`: else it is told as soon as it can. */
int nod_recorder_write_mark(struct nod_recorder *recorder, const struct nod_mark *mark, bool own)
{
	char line[NOD_MARK_LINE_MAX];
	int length = nod_mark_print(line, sizeof(line), mark);

	if (length < 0)
		return -EMSGSIZE;
	int result = nod_recorder_write_untold(recorder);
	if (!result)
		result = nod_appender_write(&recorder->journal, line, (size_t)length, true);
	if (result && own && (size_t)length <= NOD_UNTOLD_BUFFER - recorder->untold_length) {
		memcpy(recorder->untold + recorder->untold_length, line, (size_t)length);
		recorder->untold_length += (size_t)length;
	}
	return result;
}

static void move(nod_time *time, nod_duration step)
{
	if (nod_time_is_set(*time))
		*time = nod_time_after(*time, step);
}

/* Among the frames and samples, where it tells those stamped before from those stamped after;
 * times kept here go on with the clock. */
static int note_clock_step(struct nod_recorder *recorder, const struct nod_mark *mark)
{
	nod_duration step;

	if (!nod_mark_clock_step(mark, &step)) {
		move(&recorder->kept, step);
		move(&recorder->safe, step);
		move(&recorder->begun, step);
		move(&recorder->gap_from, step);
		move(&recorder->gap_to, step);
	}
	recorder->idle = false;
	int room = (int)(NOD_CURRENT_BUFFER - recorder->samples_length);
	int length = snprintf(recorder->samples + recorder->samples_length, (size_t)room,
			      NOD_CURRENT_STEP "%s\n", mark->subject);
	if (length > 0 && length < room)
		recorder->samples_length += (size_t)length;
	return nod_recorder_take_header(recorder, "clock-step", mark->subject);
}

static int take_mark(struct nod_recorder *recorder, const struct nod_mark *mark)
{
	if (mark->kind == NOD_MARK_CLOCK_STEP)
		note_clock_step(recorder, mark); /* one that is lost is told by the times */
	/* What was heard before it should not be missing when it is there. */
	nod_recorder_note_result(recorder, nod_piece_writer_write(&recorder->frames));
	/* One that a person made is refused; that nobody listened must be told. */
	return nod_recorder_write_mark(recorder, mark,
				       mark->kind == NOD_MARK_GAP || mark->kind == NOD_MARK_DEAF ||
					       mark->kind == NOD_MARK_CLOCK_STEP);
}

/* Seconds as they are: "12.5 s", "+3600 s" with `sign`. */
static void print_length(char buf[NOD_TIME_TEXT + 4], nod_duration d, bool sign)
{
	char text[NOD_TIME_TEXT];
	size_t length = strlen(nod_duration_print_seconds(text, d, 9));

	while (text[length - 1] == '0')
		text[--length] = '\0';
	if (text[length - 1] == '.')
		text[--length] = '\0';
	snprintf(buf, NOD_TIME_TEXT + 4, "%s%s s", sign && d.ns > 0 ? "+" : "", text);
}

struct nod_mark nod_recorder_gap_mark(char subject[64], const char *interface, nod_time from,
				      nod_time to)
{
	char length[NOD_TIME_TEXT + 4];

	print_length(length, nod_time_since(to, from), false);
	snprintf(subject, 64, "%s %s", interface, length);
	return (struct nod_mark){to, NOD_MARK_GAP, subject};
}

static int take_gap(struct nod_recorder *recorder, const struct nod_event *event)
{
	unsigned i = event->gap.interface;
	char subject[64];

	if (!nod_time_is_set(event->gap.from) || event->gap.from.ns > event->time.ns)
		return -EINVAL;
	struct nod_mark mark = nod_recorder_gap_mark(
		subject, i == NOD_ALL_INTERFACES ? "all" : interface_name(recorder, i),
		event->gap.from, event->time);
	return take_mark(recorder, &mark);
}

static int take_clock_step(struct nod_recorder *recorder, const struct nod_event *event)
{
	char subject[NOD_TIME_TEXT + 4] = "unknown";
	struct nod_mark mark = {event->time, NOD_MARK_CLOCK_STEP, subject};

	if (event->clock.step.ns != INT64_MIN)
		print_length(subject, event->clock.step, true);
	return take_mark(recorder, &mark);
}

static int take_sample(struct nod_recorder *recorder, nod_time time, int64_t microamps)
{
	if (NOD_CURRENT_BUFFER - recorder->samples_length < NOD_CURRENT_LINE) {
		recorder->status.samples_lost++;
		return recorder->status.error ? recorder->status.error : -ENOBUFS;
	}
	recorder->sampled = true;
	recorder->samples_length += (size_t)nod_current_print(
		recorder->samples + recorder->samples_length, time, microamps);
	return 0;
}

int nod_recorder_take(struct nod_recorder *recorder, const struct nod_event *event)
{
	if (event->kind == NOD_EVENT_FRAME)
		return take_frame(recorder, &event->frame);
	nod_recorder_note_time(recorder, event->time);
	switch (event->kind) {
	case NOD_EVENT_LOSS:
		return take_loss(recorder, event->loss.interface, event->loss.count);
	case NOD_EVENT_GAP:
		return take_gap(recorder, event);
	case NOD_EVENT_CLOCK:
		return take_clock_step(recorder, event);
	case NOD_EVENT_CURRENT:
		return take_sample(recorder, event->time, event->current.microamps);
	case NOD_EVENT_MARK:
		return take_mark(recorder, &event->mark);
	case NOD_EVENT_HEADER:
		return nod_recorder_take_header(recorder, event->header.key, event->header.value);
	default:
		return 0;
	}
}

void nod_recorder_status(const struct nod_recorder *recorder, struct nod_recorder_status *status)
{
	*status = recorder->status;
	status->bytes = recorder->frames.bytes;
	status->piece = recorder->frames.piece;
}

/* The number after the last piece that is there. */
static int next_piece(const char *directory, unsigned *number, struct nod_error *err)
{
	struct nod_session_listing listing;
	struct nod_arena texts = {0};
	int result = nod_session_listing_read(&listing, directory, &texts, err);

	*number = 1;
	for (size_t i = 0; !result && i < listing.count; i++)
		if (listing.frames[i].stem == strlen("frames") &&
		    listing.frames[i].number >= *number && listing.frames[i].number < UINT32_MAX)
			*number = (unsigned)listing.frames[i].number + 1;
	nod_session_listing_free(&listing);
	nod_arena_free(&texts);
	return result;
}

static int open_all(struct nod_recorder *recorder, const struct nod_recorder_settings *settings,
		    unsigned first)
{
	struct nod_piece_writer *frames = &recorder->frames;
	char head[LINE_MAX_TEXT];

	snprintf(head, sizeof(head), "# tool: nodoff " NOD_VERSION "\n%s%.200s%s",
		 settings->clock ? "# clock: " : "", settings->clock ? settings->clock : "",
		 settings->clock ? "\n" : "");
	int result = nod_piece_writer_init(frames, settings->directory, head, first, recorder->ops);
	frames->piece_bytes = settings->piece_bytes ? settings->piece_bytes
						    : NOD_RECORDER_PIECE_BYTES;
	frames->piece_time = settings->piece_time.ns ? settings->piece_time
						     : NOD_RECORDER_PIECE_TIME;
	recorder->samples = malloc(NOD_CURRENT_BUFFER);
	if (!result && !recorder->samples)
		result = -ENOMEM;
	if (!result)
		result = nod_recorder_open_log(&recorder->journal, settings->directory,
					       "journal.log", recorder->ops);
	return result ? result : nod_piece_writer_open(frames);
}

static void recorder_free(struct nod_recorder *recorder)
{
	nod_appender_close(&recorder->journal);
	nod_appender_close(&recorder->current);
	nod_piece_writer_free(&recorder->frames);
	free(recorder->samples);
	free(recorder);
}

struct nod_recorder *nod_recorder_new(const struct nod_recorder_settings *settings,
				      struct nod_error *err)
{
	struct nod_recorder *recorder = NULL;
	unsigned first;
	int result = next_piece(settings->directory, &first, err);

	if (!result && !(recorder = calloc(1, sizeof(*recorder))))
		result = nod_error_set(err, ENOMEM, "out of memory");
	if (recorder) {
		recorder->ops = settings->ops ? settings->ops : &nod_file_ops_system;
		recorder->interfaces = settings->interfaces;
		recorder->digits = settings->digits;
		recorder->journal.fd = recorder->current.fd = -1;
		recorder->newest = recorder->kept = recorder->safe = NOD_TIME_NONE;
		recorder->begun = recorder->gap_from = NOD_TIME_NONE;
		recorder->status.failing_since = NOD_TIME_NONE;
		result = open_all(recorder, settings, first);
		if (!result)
			return recorder;
		nod_error_set(err, -result, "%s: cannot be recorded into: %s", settings->directory,
			      strerror(-result));
		recorder_free(recorder);
	}
	errno = -result;
	return NULL;
}

int nod_recorder_close(struct nod_recorder *recorder, nod_time now)
{
	int result = nod_recorder_flush(recorder, now);

	if (result) /* what a failed sync has dropped can be written once more */
		result = nod_recorder_flush(recorder, now);
	if (result) { /* the journal may still have room for it */
		nod_recorder_doubt_since_safe(recorder, now);
		nod_recorder_tell_gap(recorder);
	}
	recorder_free(recorder);
	return result;
}
