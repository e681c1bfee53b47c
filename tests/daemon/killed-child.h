/* SPDX-License-Identifier: MIT */
/* The process that is killed in mid-recording: it feeds a recording in
 * simulated time and tells over a pipe how far it is. */
#ifndef KILLED_CHILD_H
#define KILLED_CHILD_H

#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "live.h"
#include "recorder.h"
#include "session-create.h"

/* What is fed: frames and losses, marks and samples of the current,
 * a second of silence in between. */
#define FEED_START (INT64_C(1700000000) * NOD_NS_PER_S)
#define FEED_SECONDS 8
#define FEED_SILENT 3  /* this one */
#define FEED_FRAMES 40 /* in a second */
#define FEED_MAX (FEED_SECONDS * (FEED_FRAMES + 3))

struct feed {
	struct nod_event events[FEED_MAX];
	int count;
	char subjects[FEED_SECONDS][400];
};

/* How the recording is made. */
enum way {
	WAY_RECORDER, /* the recorder, small pieces, writes in halves, each call told */
	WAY_LIVE      /* as nodoffd does it: recording and analysis, the system's own calls */
};

/* The daemon flushes every 0.8 s; the recorder asks for once a second. */
static inline nod_duration flush_period(enum way way)
{
	return nod_milliseconds(way == WAY_LIVE ? 800 : 1000);
}

/* Pieces of about three seconds. */
#define CHILD_PIECE_BYTES 1500

/* What the child has done when it says so. */
struct progress {
	int kind; /* one of the following */
	int done; /* how many */
};
enum {
	DID_CALL,   /* enters or has left a system call */
	DID_CREATE, /* the session is there */
	DID_TAKE,   /* so many events are taken */
	DID_FLUSH,  /* so many flushes are done */
	DOES_FINISH,
	DID_FINISH,
	DID_KINDS
};

static struct nod_interfaces child_names = {2, {"can0", "can1"}};

static inline struct nod_event *feed_add(struct feed *feed, enum nod_event_kind kind, int64_t ns)
{
	struct nod_event *event = &feed->events[feed->count++];

	event->kind = kind;
	event->time.ns = FEED_START + ns;
	return event;
}

static inline void feed_add_frame(struct feed *feed, int64_t ns)
{
	struct nod_frame *frame = &feed_add(feed, NOD_EVENT_FRAME, ns)->frame;
	int number = feed->count;

	frame->time.ns = FEED_START + ns;
	frame->id = number % 3 ? 0x2A0u + (unsigned)number % 7 : 0x18FF1021u | NOD_ID_EXTENDED;
	frame->interface = number % 5 == 0;
	frame->length = 8;
	for (int i = 0; i < 8; i++)
		frame->data[i] = (uint8_t)((unsigned)number * 2654435761u >> 3 * i);
}

static inline void feed_add_second(struct feed *feed, int s)
{
	int64_t start = s * NOD_NS_PER_S;
	struct nod_event *event = feed_add(feed, NOD_EVENT_MARK, start + 7 * NOD_NS_PER_MS);

	/* a long one now and then */
	snprintf(feed->subjects[s], sizeof(feed->subjects[s]), "%d %0*d", s, s % 2 ? 350 : 3, s);
	event->mark = (struct nod_mark){event->time, NOD_MARK_NOTE, feed->subjects[s]};
	feed_add(feed, NOD_EVENT_CURRENT, start + 8 * NOD_NS_PER_MS)->current.microamps = 430000 +
											  s * 1000;
	if (s == FEED_SILENT)
		return;
	for (int i = 0; i < FEED_FRAMES; i++)
		feed_add_frame(feed, start + 10 * NOD_NS_PER_MS + i * 24 * NOD_NS_PER_MS);
	event = feed_add(feed, NOD_EVENT_LOSS, start + 985 * NOD_NS_PER_MS);
	event->loss.interface = (uint8_t)(s % 2);
	event->loss.count = (unsigned)s + 1;
}

static inline void feed_make(struct feed *feed)
{
	memset(feed, 0, sizeof(*feed));
	for (int s = 0; s < FEED_SECONDS; s++)
		feed_add_second(feed, s);
}

/* ---- the child ---- */

static int child_pipe;

static inline void child_tell(int kind, int done)
{
	struct progress progress = {kind, done};

	if (write(child_pipe, &progress, sizeof(progress)) != sizeof(progress))
		_exit(2);
}

static inline void child_need(bool held)
{
	if (!held)
		_exit(3);
}

#define SYSTEM(call, ...) nod_file_ops_system.call(NULL, __VA_ARGS__)
#define TOLD(type, expression)    \
	child_tell(DID_CALL, 0);  \
	type result = expression; \
	child_tell(DID_CALL, 0);  \
	return result

static int told_open(void *context, const char *path, int flags, mode_t mode)
{
	(void)context;
	TOLD(int, SYSTEM(open, path, flags, mode));
}

/* Of more than a line, half: the rest is asked for again. */
static ssize_t told_write(void *context, int fd, const void *buf, size_t size)
{
	(void)context;
	TOLD(ssize_t, SYSTEM(write, fd, buf, size > 64 ? size / 2 : size));
}

static int told_sync(void *context, int fd)
{
	(void)context;
	TOLD(int, SYSTEM(sync, fd));
}

static int told_mkdir(void *context, const char *path, mode_t mode)
{
	(void)context;
	TOLD(int, SYSTEM(mkdir, path, mode));
}

static int told_rename(void *context, const char *from, const char *to)
{
	(void)context;
	TOLD(int, SYSTEM(rename, from, to));
}

static inline struct nod_file_ops child_ops(void)
{
	struct nod_file_ops ops = nod_file_ops_system;

	ops.open = told_open;
	ops.write = told_write;
	ops.sync = told_sync;
	ops.mkdir = told_mkdir;
	ops.rename = told_rename;
	return ops;
}

/* Takes all events in simulated time. `take` and `flush` return 0. */
static inline void child_feed(const struct feed *feed, nod_duration period,
			      int (*take)(void *to, const struct nod_event *event),
			      int (*flush)(void *to, nod_time now), void *to)
{
	nod_time next = {FEED_START + period.ns};
	int flushes = 0;

	for (int i = 0; i < feed->count; i++) {
		for (; feed->events[i].time.ns >= next.ns; next.ns += period.ns) {
			child_need(!flush(to, next));
			child_tell(DID_FLUSH, ++flushes);
		}
		child_need(!take(to, &feed->events[i]));
		child_tell(DID_TAKE, i + 1);
	}
	child_tell(DOES_FINISH, 0);
}

static int recorder_take(void *to, const struct nod_event *event)
{
	return nod_recorder_take(to, event);
}

static int recorder_flush(void *to, nod_time now)
{
	return nod_recorder_flush(to, now);
}

static inline void child_record(const struct feed *feed, const char *path)
{
	struct nod_file_ops ops = child_ops();
	struct nod_session_about about = {"killed", {FEED_START}, "kernel", NULL};
	struct nod_recorder_settings settings = {.directory = path,
						 .interfaces = &child_names,
						 .clock = "kernel",
						 .digits = 6,
						 .ops = &ops,
						 .piece_bytes = CHILD_PIECE_BYTES};

	child_need(!nod_session_create(path, &about, NULL, &ops, NULL));
	child_tell(DID_CREATE, 0);
	struct nod_recorder *recorder = nod_recorder_new(&settings, NULL);
	child_need(recorder);
	child_feed(feed, flush_period(WAY_RECORDER), recorder_take, recorder_flush, recorder);
	child_need(!nod_recorder_close(recorder,
				       (nod_time){FEED_START + FEED_SECONDS * NOD_NS_PER_S}));
}

static int live_take(void *to, const struct nod_event *event)
{
	return nod_live_take(to, event);
}

static int live_flush(void *to, nod_time now)
{
	return nod_live_tick(to, now);
}

static inline void child_watch(const struct feed *feed, const char *path)
{
	nod_time start = {FEED_START}, end = {FEED_START + FEED_SECONDS * NOD_NS_PER_S};
	struct nod_live live;

	child_need(!nod_live_open(&live, NULL, &child_names, start, NULL));
	child_need(!nod_live_record(&live, path, "killed", "kernel", start, NULL));
	child_tell(DID_CREATE, 0);
	child_feed(feed, flush_period(WAY_LIVE), live_take, live_flush, &live);
	child_need(!nod_live_finish(&live, end, NULL));
}

static inline void child_run(const struct feed *feed, enum way way, const char *path, int pipe)
{
	child_pipe = pipe;
	if (way == WAY_LIVE)
		child_watch(feed, path);
	else
		child_record(feed, path);
	child_tell(DID_FINISH, 0);
	_exit(0);
}

#endif
