/* SPDX-License-Identifier: MIT */
#include "current-trace.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "robust.h"

/* Samples of one second kept for its median; of faster loggers every second,
 * fourth, ... one. */
#define PART_ROOM 64
#define ZERO_ROOM 64

/* The second that is being filled. */
struct part {
	double values[PART_ROOM];
	unsigned used, stride, skip;
	struct nod_current_cell cell; /* without the medians */
};

struct nod_current_trace {
	struct nod_current_cell *cells;
	size_t count, room;
	nod_duration length;
	struct part part;
	nod_time time; /* of the latest sample */
	int64_t latest;
	uint64_t samples, out_of_order, impossible;
	nod_time zeroed[ZERO_ROOM]; /* the latest, in time order */
	size_t zeroed_count, zeroings;
};

struct nod_current_trace *nod_current_trace_new(void)
{
	struct nod_current_trace *trace = calloc(1, sizeof(*trace));

	if (!trace)
		return NULL;
	trace->length = nod_seconds(1);
	trace->time = NOD_TIME_NONE;
	return trace;
}

void nod_current_trace_free(struct nod_current_trace *trace)
{
	if (!trace)
		return;
	free(trace->cells);
	free(trace);
}

static int64_t slot_of(nod_time time, nod_duration length)
{
	return time.ns / length.ns - (time.ns % length.ns < 0);
}

/* Adds b, which is later, to a. */
static void merge(struct nod_current_cell *a, const struct nod_current_cell *b)
{
	double seconds = (double)a->seconds + (double)b->seconds;

	a->typical += (b->typical - a->typical) * (double)b->seconds / seconds;
	a->low = fmin(a->low, b->low);
	a->high = fmax(a->high, b->high);
	a->sample_high = fmax(a->sample_high, b->sample_high);
	a->last = b->last;
	a->count += b->count;
	a->seconds += b->seconds;
	a->sum += b->sum;
	a->charge += b->charge;
	a->measured.ns += b->measured.ns;
}

/* Doubles the length of the cells until there is room again. */
static void make_room(struct nod_current_trace *trace)
{
	while (trace->count >= NOD_CURRENT_CELLS) {
		size_t kept = 0;
		trace->length.ns *= 2;
		for (size_t i = 0; i < trace->count; i++) {
			struct nod_current_cell *c = &trace->cells[i];
			if (kept && slot_of(trace->cells[kept - 1].first, trace->length) ==
					    slot_of(c->first, trace->length))
				merge(&trace->cells[kept - 1], c);
			else
				trace->cells[kept++] = *c;
		}
		trace->count = kept;
	}
}

/* One place is always left for the open second. */
static int reserve(struct nod_current_trace *trace)
{
	if (trace->count + 2 <= trace->room)
		return 0;
	size_t room = trace->room ? trace->room * 2 : 256;
	void *cells = realloc(trace->cells, room * sizeof(*trace->cells));
	if (!cells)
		return -ENOMEM;
	trace->cells = cells;
	trace->room = room;
	return 0;
}

static void append(struct nod_current_cell *cells, size_t *count, nod_duration length,
		   const struct nod_current_cell *cell)
{
	if (*count && slot_of(cells[*count - 1].first, length) == slot_of(cell->first, length))
		merge(&cells[*count - 1], cell);
	else
		cells[(*count)++] = *cell;
}

/* The open second as a cell. */
static struct nod_current_cell part_cell(const struct part *part)
{
	struct nod_current_cell cell = part->cell;
	double values[PART_ROOM];

	memcpy(values, part->values, part->used * sizeof(values[0]));
	cell.typical = cell.low = cell.high = nod_median(values, part->used);
	return cell;
}

static void close_part(struct nod_current_trace *trace)
{
	struct nod_current_cell cell = part_cell(&trace->part);

	if (trace->count >= NOD_CURRENT_CELLS)
		make_room(trace);
	append(trace->cells, &trace->count, trace->length, &cell);
	trace->part.cell.count = 0;
}

static void open_part(struct part *part, nod_time time, double ua)
{
	part->used = part->skip = 0;
	part->stride = 1;
	part->cell = (struct nod_current_cell){.first = time, .seconds = 1, .sample_high = ua};
}

static void keep_value(struct part *part, double ua)
{
	if (part->skip) {
		part->skip--;
		return;
	}
	if (part->used == PART_ROOM) {
		for (unsigned i = 0; i < PART_ROOM / 2; i++)
			part->values[i] = part->values[2 * i];
		part->used = PART_ROOM / 2;
		part->stride *= 2;
	}
	part->values[part->used++] = ua;
	part->skip = part->stride - 1;
}

/* Charge by the trapezoid between the sample before and this one. */
static void add_charge(struct nod_current_trace *trace, nod_time time, double ua)
{
	nod_duration step = nod_time_since(time, trace->time);

	if (!trace->samples || step.ns > NOD_CURRENT_GAP_S * NOD_NS_PER_S)
		return;
	trace->part.cell.charge += (ua + (double)trace->latest) / 2 * (double)step.ns / 1e9;
	trace->part.cell.measured.ns += step.ns;
}

int nod_current_trace_take(struct nod_current_trace *trace, nod_time time, int64_t microamps)
{
	struct part *part = &trace->part;
	double ua = (double)microamps;

	if (!nod_time_is_set(time) || time.ns < trace->time.ns) {
		trace->out_of_order++;
		return -EINVAL;
	}
	if (microamps > NOD_CURRENT_LARGEST_UA || microamps < -NOD_CURRENT_LARGEST_UA) {
		trace->impossible++;
		return -ERANGE;
	}
	if (reserve(trace))
		return -ENOMEM;
	if (part->cell.count &&
	    slot_of(part->cell.first, nod_seconds(1)) != slot_of(time, nod_seconds(1)))
		close_part(trace);
	if (!part->cell.count)
		open_part(part, time, ua);
	keep_value(part, ua);
	add_charge(trace, time, ua);
	part->cell.last = time;
	part->cell.count++;
	part->cell.sum += ua;
	part->cell.sample_high = fmax(part->cell.sample_high, ua);
	trace->time = time;
	trace->latest = microamps;
	trace->samples++;
	return 0;
}

void nod_current_trace_zeroed(struct nod_current_trace *trace, nod_time time)
{
	trace->zeroings++;
	if (trace->zeroed_count == ZERO_ROOM)
		memmove(trace->zeroed, trace->zeroed + 1,
			--trace->zeroed_count * sizeof(trace->zeroed[0]));
	trace->zeroed[trace->zeroed_count++] = time;
}

void nod_current_trace_counts(const struct nod_current_trace *trace, uint64_t *samples,
			      uint64_t *out_of_order, uint64_t *impossible, size_t *zeroings)
{
	*samples = trace->samples;
	*out_of_order = trace->out_of_order;
	*impossible = trace->impossible;
	*zeroings = trace->zeroings;
}

/* The open second goes behind the closed cells, in the place kept for it. */
const struct nod_current_cell *nod_current_trace_cells(const struct nod_current_trace *trace,
						       size_t *count, nod_duration *length)
{
	*count = trace->count;
	if (length)
		*length = trace->length;
	if (trace->part.cell.count)
		trace->cells[(*count)++] = part_cell(&trace->part);
	return trace->cells;
}

double nod_current_trace_charge(const struct nod_current_trace *trace, nod_time from, nod_time to,
				nod_duration *measured)
{
	double charge = 0, ns = 0;
	size_t count;
	const struct nod_current_cell *cells = nod_current_trace_cells(trace, &count, NULL);

	for (size_t i = 0; i < count; i++) {
		const struct nod_current_cell *c = &cells[i];
		int64_t end = c->last.ns, begin = end - c->measured.ns;
		int64_t a = begin > from.ns ? begin : from.ns, b = end < to.ns ? end : to.ns;
		if (!c->measured.ns || b <= a)
			continue;
		double share = (double)(b - a) / (double)c->measured.ns;
		charge += share * c->charge;
		ns += share * (double)c->measured.ns;
	}
	if (measured)
		measured->ns = (int64_t)ns;
	return charge / 3600;
}

nod_time nod_current_trace_zeroed_before(const struct nod_current_trace *trace, nod_time time)
{
	nod_time best = NOD_TIME_NONE;

	for (size_t i = 0; i < trace->zeroed_count; i++)
		if (trace->zeroed[i].ns <= time.ns && trace->zeroed[i].ns > best.ns)
			best = trace->zeroed[i];
	return best;
}

double nod_current_trace_wander(const struct nod_current_trace *trace, nod_time time,
				int64_t wander_ua)
{
	nod_time zeroed = nod_current_trace_zeroed_before(trace, time);
	double full = (double)wander_ua;

	if (!nod_time_is_set(zeroed))
		return full;
	double age = (double)nod_time_since(time, zeroed).ns / 1e9;
	double grown = NOD_CLAMP_ZERO_UA + full * age / NOD_CLAMP_WANDER_S;
	return fmin(full, grown);
}
