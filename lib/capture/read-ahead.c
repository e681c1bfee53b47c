/* SPDX-License-Identifier: MIT */
#include "read-ahead.h"

#include <errno.h>
#include <pthread.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "source-private.h"

/* Frames delivered together. Chosen: a hand-over between threads costs little
 * beside them; without a thread they stay in a first-level cache (80 bytes each). */
#define BATCH ((size_t)2048)
#define BATCH_ALONE ((size_t)64)

/* Batches between the threads. Who has to wait waits until half of them are
 * free, or full: being woken costs as much as filling one. */
#define SLOTS 4u

/* A file of at least this many bytes is read by a thread. Chosen: starting one
 * costs less than a millisecond, reading this takes some. */
#define WORTH_A_THREAD (1024 * 1024)

struct slot {
	struct nod_frame frames[BATCH];
	size_t count;
	const struct nod_event *event;
	int status; /* 1, or how it ended: 0 or a negative errno with err set */
	struct nod_error err;
	struct nod_source_counts counts;
	unsigned interfaces; /* names known so far */
};

struct nod_read_ahead {
	struct nod_source *source;
	struct nod_interfaces *table;    /* the caller's */
	struct nod_interfaces own;       /* the source's, when it has a thread */
	struct nod_source_counts counts; /* up to the batch delivered */

	bool patient; /* input does not keep one waiting: a file, or there is a thread */
	bool threaded;
	pthread_t thread;
	pthread_mutex_t lock;
	pthread_cond_t changed;
	unsigned long filled, emptied; /* slots so far; the thread's, the caller's */
	bool delivered;                /* the caller holds slot `emptied` */
	bool paused;                   /* the thread fills no more before that slot is let go */
	bool stop;

	const struct slot *last; /* the one with the end; NULL: not reached */

	struct slot slots[]; /* SLOTS, or 1 without a thread */
};

/* ---- filling a slot ---- */

/* Puts one event behind the frames of the slot. Returns true when it was a
 * frame. */
static bool fill_by_one(struct nod_read_ahead *ahead, struct slot *slot)
{
	const struct nod_event *event;

	slot->status = nod_source_next(ahead->source, &event, &slot->err);
	if (slot->status == 1 && event->kind == NOD_EVENT_FRAME) {
		slot->frames[slot->count++] = event->frame;
		return true;
	}
	slot->event = slot->status == 1 ? event : NULL;
	return false;
}

/* Until the slot is full; but only with what is at hand where the input may be a
 * pipe on which the next frame is long in coming. */
static void fill(struct nod_read_ahead *ahead, struct slot *slot)
{
	slot->count = 0;
	slot->event = NULL;
	slot->status = 1;
	size_t room = ahead->threaded ? BATCH : BATCH_ALONE;
	for (bool more = true; more && slot->count < room;) {
		size_t n = nod_source_frames(ahead->source, slot->frames + slot->count,
					     room - slot->count);
		slot->count += n;
		if (!n)
			more = fill_by_one(ahead, slot);
		more &= ahead->patient;
	}
	nod_source_counts(ahead->source, &slot->counts);
	slot->interfaces = ahead->own.count;
}

/* ---- the thread ---- */

static unsigned long held(const struct nod_read_ahead *ahead)
{
	return ahead->filled - ahead->emptied;
}

/* Waits for room; false when nothing more is wanted. */
static bool await_room(struct nod_read_ahead *ahead)
{
	pthread_mutex_lock(&ahead->lock);
	if (held(ahead) == SLOTS)
		while (held(ahead) > SLOTS / 2 && !ahead->stop)
			pthread_cond_wait(&ahead->changed, &ahead->lock);
	bool go_on = !ahead->stop;
	pthread_mutex_unlock(&ahead->lock);
	return go_on;
}

/* Hands a slot over. An event and its texts live in the source until it is
 * asked again, so then the thread pauses until the caller has done with it. */
static bool hand_over(struct nod_read_ahead *ahead, const struct slot *slot)
{
	pthread_mutex_lock(&ahead->lock);
	ahead->filled++;
	ahead->paused = slot->event || slot->status != 1;
	if (ahead->paused || held(ahead) >= SLOTS / 2)
		pthread_cond_signal(&ahead->changed);
	while (slot->event && held(ahead) && !ahead->stop)
		pthread_cond_wait(&ahead->changed, &ahead->lock);
	bool go_on = slot->status == 1 && !ahead->stop;
	ahead->paused = !go_on;
	pthread_mutex_unlock(&ahead->lock);
	return go_on;
}

static void *run(void *context)
{
	struct nod_read_ahead *ahead = context;
	bool go_on = true;

	while (go_on && await_room(ahead)) {
		struct slot *slot = &ahead->slots[ahead->filled % SLOTS];
		fill(ahead, slot);
		go_on = hand_over(ahead, slot);
	}
	return NULL;
}

/* Lets go of the slot delivered last and waits for the next. */
static const struct slot *await_slot(struct nod_read_ahead *ahead)
{
	pthread_mutex_lock(&ahead->lock);
	ahead->emptied += ahead->delivered;
	if (held(ahead) <= SLOTS / 2)
		pthread_cond_signal(&ahead->changed);
	if (!held(ahead))
		while (!held(ahead) || (held(ahead) < SLOTS / 2 && !ahead->paused))
			pthread_cond_wait(&ahead->changed, &ahead->lock);
	ahead->delivered = true;
	pthread_mutex_unlock(&ahead->lock);
	return &ahead->slots[ahead->emptied % SLOTS];
}

/* ---- opening ---- */

static bool has_two_processors(void)
{
	cpu_set_t set;

	return !sched_getaffinity(0, sizeof(set), &set) && CPU_COUNT(&set) >= 2;
}

/* Bytes of a regular file, -1 for anything else. */
static off_t file_size(const char *path)
{
	struct stat st;

	return !stat(path, &st) && S_ISREG(st.st_mode) ? st.st_size : -1;
}

/* Without a thread it is read all the same. What is packed keeps one thread busy with
 * unpacking, and the rest is for the other. */
static void start_thread(struct nod_read_ahead *ahead, enum nod_read_ahead_by by)
{
	if (by != NOD_READ_BY_THREAD && nod_source_unpack_ahead(ahead->source))
		return;
	if (by == NOD_READ_UNPACKED)
		return;
	ahead->threaded = true; /* before it begins to run */
	if (pthread_create(&ahead->thread, NULL, run, ahead))
		ahead->threaded = false;
}

struct nod_read_ahead *nod_read_ahead_open(const char *path, struct nod_interfaces *table,
					   enum nod_read_ahead_by by, struct nod_error *err)
{
	off_t size = file_size(path);
	bool large = size >= WORTH_A_THREAD && has_two_processors();
	bool thread = by == NOD_READ_BY_CHOICE ? large : by != NOD_READ_BY_CALLER;
	struct nod_read_ahead *ahead = malloc(sizeof(*ahead) +
					      (thread ? SLOTS : 1) * sizeof(ahead->slots[0]));

	if (!ahead) {
		nod_error_set(err, ENOMEM, "out of memory");
		errno = ENOMEM;
		return NULL;
	}
	memset(ahead, 0, sizeof(*ahead));
	ahead->patient = thread || size >= 0;
	ahead->table = table;
	ahead->own = *table;
	ahead->source = nod_source_open(path, thread ? &ahead->own : table, err);
	if (!ahead->source) {
		int code = errno;
		free(ahead);
		errno = code;
		return NULL;
	}
	pthread_mutex_init(&ahead->lock, NULL);
	pthread_cond_init(&ahead->changed, NULL);
	if (thread)
		start_thread(ahead, by);
	return ahead;
}

/* ---- delivering ---- */

/* The names that the source has met since the slot before. */
static void add_names(struct nod_read_ahead *ahead, const struct slot *slot)
{
	for (; ahead->table->count < slot->interfaces; ahead->table->count++)
		memcpy(ahead->table->names[ahead->table->count],
		       ahead->own.names[ahead->table->count], sizeof(ahead->own.names[0]));
}

static const struct slot *next_slot(struct nod_read_ahead *ahead)
{
	if (ahead->threaded)
		return await_slot(ahead);
	fill(ahead, &ahead->slots[0]);
	return &ahead->slots[0];
}

int nod_read_ahead_next(struct nod_read_ahead *ahead, struct nod_batch *batch,
			struct nod_error *err)
{
	if (!ahead->last) {
		const struct slot *slot = next_slot(ahead);
		add_names(ahead, slot);
		ahead->counts = slot->counts;
		ahead->last = slot->status == 1 ? NULL : slot;
		*batch = (struct nod_batch){slot->frames, slot->count, slot->event};
		if (slot->count || slot->event)
			return 1;
	}
	if (err && ahead->last->status < 0)
		*err = ahead->last->err;
	return ahead->last->status;
}

void nod_read_ahead_counts(const struct nod_read_ahead *ahead, struct nod_source_counts *counts)
{
	*counts = ahead->counts;
}

const char *nod_read_ahead_form(const struct nod_read_ahead *ahead)
{
	return nod_source_form(ahead->source);
}

void nod_read_ahead_close(struct nod_read_ahead *ahead)
{
	if (!ahead)
		return;
	if (ahead->threaded) {
		pthread_mutex_lock(&ahead->lock);
		ahead->stop = true;
		pthread_cond_signal(&ahead->changed);
		pthread_mutex_unlock(&ahead->lock);
		pthread_join(ahead->thread, NULL);
	}
	pthread_mutex_destroy(&ahead->lock);
	pthread_cond_destroy(&ahead->changed);
	nod_source_close(ahead->source);
	free(ahead);
}
