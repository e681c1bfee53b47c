/* SPDX-License-Identifier: MIT */
/* Several sources as one: a heap of sources, ordered by the time of the event
 * that each has ready. A source is asked for its next event only when the one
 * before has been used, so each keeps its own order. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "source-private.h"

struct entry {
	const struct nod_event *event;
	size_t position; /* in the list of sources: breaks ties */
};

struct merge_source {
	struct nod_source base;
	struct nod_source **sources;
	size_t source_count;
	struct entry *heap; /* heap[0] is the earliest */
	size_t heap_count;
	size_t started; /* sources already asked for their first event */
	bool used;      /* heap[0] has been delivered */
};

static bool is_before(const struct entry *a, const struct entry *b)
{
	if (a->event->time.ns != b->event->time.ns)
		return a->event->time.ns < b->event->time.ns;
	return a->position < b->position;
}

static void sift_down(struct merge_source *merge, size_t i)
{
	struct entry *heap = merge->heap;

	for (;;) {
		size_t least = i, left = 2 * i + 1;
		for (size_t child = left; child < left + 2 && child < merge->heap_count; child++)
			if (is_before(&heap[child], &heap[least]))
				least = child;
		if (least == i)
			return;
		struct entry swapped = heap[i];
		heap[i] = heap[least];
		heap[least] = swapped;
		i = least;
	}
}

static void sift_up(struct entry *heap, size_t i)
{
	for (; i && is_before(&heap[i], &heap[(i - 1) / 2]); i = (i - 1) / 2) {
		struct entry swapped = heap[i];
		heap[i] = heap[(i - 1) / 2];
		heap[(i - 1) / 2] = swapped;
	}
}

/* Asks each source for its first event. Returns 0 or a negative errno. */
static int start(struct merge_source *merge, struct nod_error *err)
{
	for (; merge->started < merge->source_count; merge->started++) {
		struct entry entry = {.position = merge->started};
		int status = nod_source_next(merge->sources[entry.position], &entry.event, err);
		if (status < 0)
			return status;
		if (!status)
			continue;
		merge->heap[merge->heap_count] = entry;
		sift_up(merge->heap, merge->heap_count++);
	}
	return 0;
}

/* Replaces the delivered event by the next one of its source. */
static int refresh(struct merge_source *merge, struct nod_error *err)
{
	struct entry *top = &merge->heap[0];
	int status = nod_source_next(merge->sources[top->position], &top->event, err);

	if (status < 0)
		return status;
	merge->used = false;
	if (!status)
		*top = merge->heap[--merge->heap_count];
	sift_down(merge, 0);
	return 0;
}

static int merge_next(struct nod_source *base, const struct nod_event **event,
		      struct nod_error *err)
{
	struct merge_source *merge = (struct merge_source *)base;
	int status = start(merge, err);

	if (!status && merge->used)
		status = refresh(merge, err);
	if (status < 0 || !merge->heap_count)
		return status;
	*event = merge->heap[0].event;
	merge->used = true;
	return 1;
}

static void merge_counts(const struct nod_source *base, struct nod_source_counts *sum)
{
	const struct merge_source *merge = (const struct merge_source *)base;

	*sum = (struct nod_source_counts){0};
	for (size_t i = 0; i < merge->source_count; i++) {
		struct nod_source_counts one;
		nod_source_counts(merge->sources[i], &one);
		sum->lines += one.lines;
		sum->frames += one.frames;
		sum->errors += one.errors;
		sum->defects += one.defects;
		sum->lost += one.lost;
		sum->back_steps += one.back_steps;
		if (one.largest_back_step.ns > sum->largest_back_step.ns)
			sum->largest_back_step = one.largest_back_step;
		sum->torn |= one.torn;
		sum->unended |= one.unended;
	}
}

static void merge_close(struct nod_source *base)
{
	struct merge_source *merge = (struct merge_source *)base;

	for (size_t i = 0; i < merge->source_count; i++)
		nod_source_close(merge->sources[i]);
	free(merge->sources);
	free(merge->heap);
	nod_source_free(base);
}

static const struct nod_source_ops merge_ops = {
	.next = merge_next, .counts = merge_counts, .close = merge_close};

struct nod_source *nod_source_merge(struct nod_source **sources, size_t count)
{
	struct merge_source *merge = calloc(1, sizeof(*merge));
	struct nod_source **copy = calloc(count + 1, sizeof(*copy));
	struct entry *heap = calloc(count + 1, sizeof(*heap));

	if (!merge || !copy || !heap) {
		for (size_t i = 0; i < count; i++)
			nod_source_close(sources[i]);
		free(merge);
		free(copy);
		free(heap);
		errno = ENOMEM;
		return NULL;
	}
	for (size_t i = 0; i < count; i++)
		copy[i] = sources[i];
	merge->base.ops = &merge_ops;
	merge->base.input.fd = -1;
	merge->sources = copy;
	merge->source_count = count;
	merge->heap = heap;
	snprintf(merge->base.form, sizeof(merge->base.form), "%zu captures merged by time", count);
	return &merge->base;
}
