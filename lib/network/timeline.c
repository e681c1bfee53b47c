/* SPDX-License-Identifier: MIT */
#include "timeline.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "id-table.h"
#include "mark-forms.h"

struct nod_timeline {
	const struct nod_interfaces *interfaces;
	nod_time origin;
	int64_t length; /* of a bin, ns */
	size_t used;    /* bins */
	struct nod_timeline_row **rows;
	size_t row_count;
	uint64_t unshown;
	struct nod_id_table numbers; /* of rows: index + 1 */
	struct nod_timeline_current *currents;
	uint32_t losses[NOD_TIMELINE_BINS];
	struct nod_timeline_gap gaps[NOD_TIMELINE_GAPS];
	size_t gap_count;
};

struct nod_timeline *nod_timeline_new(const struct nod_interfaces *interfaces)
{
	struct nod_timeline *t = calloc(1, sizeof(*t));

	if (!t)
		return NULL;
	t->rows = calloc(NOD_TIMELINE_ROWS, sizeof(struct nod_timeline_row *));
	if (!t->rows) {
		free(t);
		return NULL;
	}
	t->interfaces = interfaces;
	t->origin = NOD_TIME_NONE;
	t->length = NOD_TIMELINE_FIRST_NS;
	return t;
}

void nod_timeline_free(struct nod_timeline *t)
{
	if (!t)
		return;
	for (size_t i = 0; i < t->row_count; i++)
		free(t->rows[i]);
	free(t->rows);
	nod_id_table_free(&t->numbers);
	free(t->currents);
	free(t);
}

/* ---- bins ---- */

static uint32_t add(uint32_t a, uint64_t b)
{
	return b > UINT32_MAX - a ? UINT32_MAX : a + (uint32_t)b;
}

static void join_counts(uint32_t *counts)
{
	for (size_t i = 0; i < NOD_TIMELINE_BINS / 2; i++)
		counts[i] = add(counts[2 * i], counts[2 * i + 1]);
	memset(counts + NOD_TIMELINE_BINS / 2, 0, NOD_TIMELINE_BINS / 2 * sizeof(*counts));
}

static struct nod_timeline_current joined(struct nod_timeline_current a,
					  struct nod_timeline_current b)
{
	if (!a.count || !b.count)
		return a.count ? a : b;
	return (struct nod_timeline_current){
		.low = a.low < b.low ? a.low : b.low,
		.high = a.high > b.high ? a.high : b.high,
		.sum = a.sum + b.sum,
		.count = a.count + b.count,
	};
}

static void join_currents(struct nod_timeline_current *currents)
{
	for (size_t i = 0; i < NOD_TIMELINE_BINS / 2; i++)
		currents[i] = joined(currents[2 * i], currents[2 * i + 1]);
	memset(currents + NOD_TIMELINE_BINS / 2, 0, NOD_TIMELINE_BINS / 2 * sizeof(*currents));
}

static void double_length(struct nod_timeline *t)
{
	for (size_t i = 0; i < t->row_count; i++)
		join_counts(t->rows[i]->frames);
	join_counts(t->losses);
	if (t->currents)
		join_currents(t->currents);
	t->length *= 2;
	t->used = (t->used + 1) / 2;
}

/* The bin of a time; earlier than the first time (recorders that were merged)
 * counts as the first bin. */
static size_t bin_of(struct nod_timeline *t, nod_time time)
{
	if (!nod_time_is_set(t->origin))
		t->origin = time;
	int64_t since = nod_time_since(time, t->origin).ns;
	if (since < 0)
		since = 0;
	while (since / t->length >= NOD_TIMELINE_BINS)
		double_length(t);
	size_t bin = (size_t)(since / t->length);
	if (bin >= t->used)
		t->used = bin + 1;
	return bin;
}

/* ---- messages ---- */

/* NULL with *full set when there is no room, else memory ran out. */
static struct nod_timeline_row *row_for(struct nod_timeline *t, uint8_t interface, uint32_t id,
					bool *full)
{
	uint32_t number = nod_id_table_find(&t->numbers, interface, id);

	*full = false;
	if (number)
		return t->rows[number - 1];
	*full = t->row_count == NOD_TIMELINE_ROWS;
	struct nod_timeline_row *row = *full ? NULL : calloc(1, sizeof(*row));
	if (!row || nod_id_table_add(&t->numbers, interface, id, (uint32_t)t->row_count + 1)) {
		free(row);
		return NULL;
	}
	row->id = id;
	row->interface = interface;
	t->rows[t->row_count++] = row;
	return row;
}

static uint64_t first_bits(const struct nod_frame *frame, uint64_t *mask)
{
	uint64_t bits = 0;
	unsigned bytes = frame->length < 8 ? frame->length : 8;

	for (unsigned i = 0; i < bytes; i++)
		bits |= (uint64_t)frame->data[i] << (8 * i);
	*mask = bytes == 8 ? UINT64_MAX : (UINT64_C(1) << (8 * bytes)) - 1;
	return bits;
}

static int take_frame(struct nod_timeline *t, const struct nod_frame *frame, nod_time time)
{
	bool full;
	uint64_t mask, bits;
	size_t bin = bin_of(t, time);

	if (nod_frame_is_error(frame))
		return 0;
	struct nod_timeline_row *row = row_for(t, frame->interface, nod_frame_id(frame), &full);
	if (!row) {
		t->unshown += full;
		return full ? 0 : -ENOMEM;
	}
	row->frames[bin] = add(row->frames[bin], 1);
	bits = first_bits(frame, &mask);
	row->ones |= bits;
	row->zeros |= ~bits & mask;
	return 0;
}

/* ---- the rest ---- */

static int take_current(struct nod_timeline *t, int64_t microamps, nod_time time)
{
	size_t bin = bin_of(t, time);

	if (!t->currents)
		t->currents = calloc(NOD_TIMELINE_BINS, sizeof(*t->currents));
	if (!t->currents)
		return -ENOMEM;
	t->currents[bin] = joined(
		t->currents[bin],
		(struct nod_timeline_current){microamps, microamps, (double)microamps, 1});
	return 0;
}

static void take_gap(struct nod_timeline *t, int interface, nod_time from, nod_time to)
{
	bin_of(t, to);
	if (t->gap_count < NOD_TIMELINE_GAPS)
		t->gaps[t->gap_count++] = (struct nod_timeline_gap){interface, from, to};
}

static void take_mark(struct nod_timeline *t, const struct nod_mark *mark, nod_time time)
{
	uint8_t interface;
	nod_duration length;

	bin_of(t, time);
	if (mark->kind == NOD_MARK_GAP && !nod_mark_gap(mark, t->interfaces, &interface, &length))
		take_gap(t, interface, nod_time_after(time, (nod_duration){-length.ns}), time);
	if (mark->kind == NOD_MARK_LOCKED)
		for (size_t i = 0; i < t->row_count; i++)
			t->rows[i]->ones = t->rows[i]->zeros = 0;
}

int nod_timeline_take(struct nod_timeline *t, const struct nod_event *event, nod_duration shift)
{
	if (!nod_time_is_set(event->time))
		return 0;
	nod_time time = nod_time_after(event->time, shift);
	switch (event->kind) {
	case NOD_EVENT_FRAME:
		return take_frame(t, &event->frame, time);
	case NOD_EVENT_CURRENT:
		return take_current(t, event->current.microamps, time);
	case NOD_EVENT_MARK:
		take_mark(t, &event->mark, time);
		return 0;
	case NOD_EVENT_GAP:
		take_gap(t, event->gap.interface, nod_time_after(event->gap.from, shift), time);
		return 0;
	case NOD_EVENT_LOSS: {
		size_t bin = bin_of(t, time);
		t->losses[bin] = add(t->losses[bin], event->loss.count ? event->loss.count : 1);
		return 0;
	}
	default:
		return 0;
	}
}

/* ---- what is asked ---- */

nod_time nod_timeline_origin(const struct nod_timeline *t)
{
	return t->origin;
}

nod_time nod_timeline_bin_begin(const struct nod_timeline *t, size_t bin)
{
	int64_t since;

	if (__builtin_mul_overflow((int64_t)bin, t->length, &since))
		since = INT64_MAX;
	return nod_time_after(t->origin, (nod_duration){since});
}

nod_duration nod_timeline_bin(const struct nod_timeline *t)
{
	return (nod_duration){t->length};
}

size_t nod_timeline_bins(const struct nod_timeline *t)
{
	return t->used;
}

size_t nod_timeline_row_count(const struct nod_timeline *t)
{
	return t->row_count;
}

const struct nod_timeline_row *nod_timeline_row(const struct nod_timeline *t, size_t index)
{
	return t->rows[index];
}

int nod_timeline_row_network(const struct nod_timeline *t, const struct nod_findings *f,
			     const struct nod_timeline_row *row)
{
	if (row->interface >= t->interfaces->count)
		return NOD_NONE;
	return nod_vehicle_network_of_interface(f->vehicle, t->interfaces->names[row->interface]);
}

const struct nod_timeline_current *nod_timeline_currents(const struct nod_timeline *t)
{
	return t->currents;
}

const uint32_t *nod_timeline_losses(const struct nod_timeline *t)
{
	return t->losses;
}

size_t nod_timeline_gap_count(const struct nod_timeline *t)
{
	return t->gap_count;
}

const struct nod_timeline_gap *nod_timeline_gap(const struct nod_timeline *t, size_t index)
{
	return &t->gaps[index];
}

uint64_t nod_timeline_unshown(const struct nod_timeline *t)
{
	return t->unshown;
}

bool nod_timeline_mean_current(const struct nod_timeline *t, nod_time from, nod_time to, double *ua)
{
	struct nod_timeline_current all = {0};

	for (size_t i = 0; t->currents && i < t->used; i++) {
		nod_time begin = nod_timeline_bin_begin(t, i);
		nod_time end = nod_time_after(begin, (nod_duration){t->length});
		if (begin.ns < to.ns && end.ns > from.ns)
			all = joined(all, t->currents[i]);
	}
	if (all.count)
		*ua = all.sum / (double)all.count;
	return all.count > 0;
}
