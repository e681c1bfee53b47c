/* SPDX-License-Identifier: MIT */
#include "session-marks.h"

#include <errno.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mark-forms.h"

static int make_room(struct nod_session_marks *marks)
{
	if (marks->count < marks->room)
		return 0;
	size_t room = marks->room ? 2 * marks->room : 32;
	struct nod_session_mark *list = reallocarray(marks->list, room, sizeof(*list));
	if (list)
		marks->list = list;
	size_t *waiting = reallocarray(marks->waiting, room, sizeof(*waiting));
	if (waiting)
		marks->waiting = waiting;
	if (!list || !waiting)
		return -ENOMEM;
	marks->room = room;
	return 0;
}

static int copy_mark(struct nod_session_marks *marks, struct nod_mark *copy,
		     const struct nod_mark *mark)
{
	*copy = *mark;
	copy->subject = "";
	if (!*mark->subject)
		return 0;
	copy->subject = nod_arena_printf(&marks->texts, "%s", mark->subject);
	return marks->texts.failed ? -ENOMEM : 0;
}

nod_duration nod_session_mark_step(const struct nod_mark *mark)
{
	nod_duration step;

	if (mark->kind != NOD_MARK_CLOCK_STEP || nod_mark_clock_step(mark, &step))
		return (nod_duration){0};
	return step;
}

/* Begins a new epoch when the mark says how far the clock was set. */
static int add_step(struct nod_session_marks *marks, const struct nod_mark *mark)
{
	nod_duration step = nod_session_mark_step(mark);

	if (!step.ns)
		return 0;
	struct nod_session_step *steps = reallocarray(marks->steps, marks->epochs + 1,
						      sizeof(*steps));
	if (!steps)
		return -ENOMEM;
	marks->steps = steps;
	steps[marks->epochs].end = nod_time_after(mark->time, (nod_duration){-step.ns});
	steps[marks->epochs++].length = step;
	return 0;
}

/* A mark made later may be of a time before the clock was set forward, which
 * cannot be mistaken. */
static unsigned epoch_of(const struct nod_session_marks *marks, nod_time time)
{
	unsigned epoch = marks->epochs;

	while (epoch && marks->steps[epoch - 1].length.ns > 0 &&
	       time.ns <= marks->steps[epoch - 1].end.ns)
		epoch--;
	return epoch;
}

static bool is_before(const struct nod_session_mark *a, const struct nod_session_mark *b)
{
	if (a->epoch != b->epoch)
		return a->epoch < b->epoch;
	nod_time at = nod_session_mark_place(a), other = nod_session_mark_place(b);
	if (at.ns != other.ns)
		return at.ns < other.ns;
	return a->order < b->order;
}

int nod_session_marks_add(struct nod_session_marks *marks, const struct nod_mark *mark)
{
	struct nod_session_mark added = {.order = marks->count};
	unsigned epochs = marks->epochs;

	if (make_room(marks) || copy_mark(marks, &added.mark, mark) || add_step(marks, mark))
		return -ENOMEM;
	added.begins = marks->epochs > epochs;
	added.epoch = added.begins ? marks->epochs : epoch_of(marks, mark->time);
	marks->list[marks->count++] = added;
	return 0;
}

static bool waits_before(const struct nod_session_marks *marks, size_t a, size_t b)
{
	return is_before(&marks->list[marks->waiting[a]], &marks->list[marks->waiting[b]]);
}

static void swap(size_t *a, size_t *b)
{
	size_t other = *a;

	*a = *b;
	*b = other;
}

int nod_session_marks_insert(struct nod_session_marks *marks, const struct nod_mark *mark,
			     unsigned epoch)
{
	struct nod_session_mark added = {.epoch = epoch, .order = marks->count};

	if (make_room(marks) || copy_mark(marks, &added.mark, mark))
		return -ENOMEM;
	size_t at = marks->waiting_count++;
	marks->list[marks->count] = added;
	marks->waiting[at] = marks->count++;
	for (; at && waits_before(marks, at, (at - 1) / 2); at = (at - 1) / 2)
		swap(&marks->waiting[at], &marks->waiting[(at - 1) / 2]);
	return 0;
}

void nod_session_marks_pass(struct nod_session_marks *marks)
{
	size_t count = --marks->waiting_count, at = 0, next;

	marks->waiting[0] = marks->waiting[count];
	for (; (next = 2 * at + 1) < count; at = next) {
		if (next + 1 < count && waits_before(marks, next + 1, next))
			next++;
		if (!waits_before(marks, next, at))
			return;
		swap(&marks->waiting[at], &marks->waiting[next]);
	}
}

static int compare(const void *a, const void *b)
{
	return is_before(a, b) ? -1 : is_before(b, a);
}

/* The mark that `undone` takes back: the latest of the same text before it; -1: there is
 * none. */
static ptrdiff_t find_undone(const struct nod_session_marks *marks, size_t undone)
{
	char line[NOD_MARK_LINE_MAX];
	struct nod_mark wanted;
	unsigned column;

	snprintf(line, sizeof(line), "%s", marks->list[undone].mark.subject);
	if (nod_mark_parse(&wanted, line, &column, NULL) <= 0)
		return -1;
	for (size_t i = undone; i-- > 0;) {
		const struct nod_mark *mark = &marks->list[i].mark;
		if (mark->time.ns == wanted.time.ns && mark->kind == wanted.kind &&
		    !strcmp(mark->subject, wanted.subject) && !marks->list[i].undone)
			return (ptrdiff_t)i;
	}
	return -1;
}

/* Leaves out what was taken back, and the marks that say so. */
static void leave_out_undone(struct nod_session_marks *marks)
{
	size_t kept = 0, taken_back = 0;

	for (size_t i = 0; i < marks->count; i++) {
		struct nod_session_mark *mark = &marks->list[i];
		if (mark->mark.kind != NOD_MARK_UNDONE)
			continue;
		mark->undone = true;
		ptrdiff_t other = taken_back++ < NOD_SESSION_UNDONE_MAX ? find_undone(marks, i)
									: -1;
		if (other >= 0)
			marks->list[other].undone = true;
	}
	for (size_t i = 0; i < marks->count; i++)
		if (!marks->list[i].undone)
			marks->list[kept++] = marks->list[i];
	marks->count = kept;
}

void nod_session_marks_sort(struct nod_session_marks *marks)
{
	leave_out_undone(marks);
	if (marks->count)
		qsort(marks->list, marks->count, sizeof(*marks->list), compare);
	for (size_t i = 0; i < marks->count; i++)
		marks->waiting[i] = i; /* what is sorted is a heap */
	marks->waiting_count = marks->count;
}

const struct nod_session_mark *nod_session_marks_peek(const struct nod_session_marks *marks)
{
	return marks->waiting_count ? &marks->list[marks->waiting[0]] : NULL;
}

nod_time nod_session_marks_lock(const struct nod_session_marks *marks)
{
	nod_time lock = NOD_TIME_NONE;

	for (size_t i = 0; i < marks->count; i++)
		if (marks->list[i].mark.kind == NOD_MARK_LOCKED)
			lock = marks->list[i].mark.time;
	return lock;
}

void nod_session_marks_free(struct nod_session_marks *marks)
{
	free(marks->list);
	free(marks->waiting);
	free(marks->steps);
	nod_arena_free(&marks->texts);
	memset(marks, 0, sizeof(*marks));
}
