/* SPDX-License-Identifier: MIT */
#include "clock-tie.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "least-squares.h"
#include "robust.h"
#include "clock-tie-internal.h"

/* Shifts within this are one. Chosen: the quartz of a laptop is good to 100 parts in a million or
 * better (common practice, no source), which is 2 s in five hours. */
#define WINDOW_NS (2 * NOD_NS_PER_S)
/* ... and another shift is this far away. Chosen: clear of the window on both sides. */
#define RIVAL_NS (3 * WINDOW_NS)
/* Marks are made by hand, on two machines one after the other. Chosen. */
#define ENTRY_WINDOW_NS (10 * NOD_NS_PER_S)
/* Votes that a shift needs, and how many times those of any other. Chosen: by chance two or three
 * rare payloads agree within the window in a recording of an hour. */
#define VOTES_LEAST 6
#define VOTES_OVER_RIVAL 3
/* Marks that have to agree: one alone may be two things of one name. Chosen. */
#define ENTRIES_LEAST 2
/* Wake-ups that have to agree: by chance three of ten in an hour do not. Chosen. */
#define WAKES_LEAST 4
/* Pairs that the line is laid through. Chosen: more do not make it straighter. */
#define ROWS_MAX 2000
/* Drift is asked for when the ties span this. Chosen: below, a gateway's delay looks like it. */
#define DRIFT_SPAN_NS (300 * NOD_NS_PER_S)
/* A gateway passes a message on within this, now and then after it: common practice, no source. */
#define GATEWAY_NS (10 * NOD_NS_PER_MS)
/* What ties them scatters by less about the line. Chosen: adapters and gateways delay by
 * milliseconds; what a car does alike on two evenings agrees to tenths of a second at best. */
#define SCATTER_MOST_S 0.05
#define HUBER_SIGMAS 2.5
#define HUBER_PASSES 20
#define SIGMAS_95 1.96

struct pair {
	int64_t shift, time; /* second less first; on the second clock */
	double votes;
};

struct pairs {
	struct pair *list;
	size_t count, keys;
};

static void add_pairs(struct pairs *p, const struct nod_tie_item *a, const struct nod_tie_item *b)
{
	for (unsigned i = 0; i < a->count; i++)
		for (unsigned k = 0; k < b->count; k++)
			p->list[p->count++] = (struct pair){b->times[k] - a->times[i], b->times[k],
							    1.0 / (a->count * b->count)};
	p->keys++;
}

static int by_shift(const void *a, const void *b)
{
	int64_t x = ((const struct pair *)a)->shift, y = ((const struct pair *)b)->shift;

	return (x > y) - (x < y);
}

static int collect(struct pairs *p, const struct nod_tie_table *first,
		   const struct nod_tie_table *second)
{
	size_t most = first->used < second->used ? first->used : second->used;

	*p = (struct pairs){0};
	p->list = reallocarray(NULL, most * NOD_TIE_TIMES * NOD_TIE_TIMES + 1, sizeof(*p->list));
	if (!p->list)
		return -ENOMEM;
	for (size_t i = 0; i < first->room; i++) {
		const struct nod_tie_item *a = &first->items[i];
		const struct nod_tie_item *b = a->key ? nod_tie_item_find(second, a->key) : NULL;
		if (b && a->count <= NOD_TIE_TIMES && b->count <= NOD_TIE_TIMES)
			add_pairs(p, a, b);
	}
	qsort(p->list, p->count, sizeof(*p->list), by_shift);
	return 0;
}

struct window {
	size_t begin, end;
	double votes;
};

/* The window with most votes; besides != NULL: of those that are clear of that one. */
static struct window best_window(const struct pairs *p, int64_t length,
				 const struct window *besides)
{
	struct window best = {0, 0, 0}, w = {0, 0, 0};

	for (; w.end < p->count; w.end++) {
		w.votes += p->list[w.end].votes;
		while (p->list[w.end].shift - p->list[w.begin].shift > length)
			w.votes -= p->list[w.begin++].votes;
		bool clear = !besides ||
			     p->list[w.begin].shift > p->list[besides->end - 1].shift + RIVAL_NS ||
			     p->list[w.end].shift < p->list[besides->begin].shift - RIVAL_NS;
		if (clear && w.votes > best.votes)
			best = (struct window){w.begin, w.end + 1, w.votes};
	}
	return best;
}

static int64_t median_shift(const struct pairs *p, const struct window *w)
{
	return p->list[w->begin + (w->end - w->begin) / 2].shift;
}

/* The rows of the line: offset, and drift where it is asked for. */
static size_t lay_rows(const struct pairs *p, const struct window *w, const struct nod_tie *tie,
		       size_t unknowns, double *a, double *y, double *error)
{
	size_t step = (w->end - w->begin) / ROWS_MAX + 1, rows = 0;

	for (size_t i = w->begin; i < w->end; i += step, rows++) {
		a[rows * unknowns] = 1;
		if (unknowns > 1)
			a[rows * unknowns + 1] = (double)(p->list[i].time - tie->at.ns) / 1e9;
		y[rows] = (double)(p->list[i].shift - tie->offset.ns) / 1e9;
		error[rows] = 1e-3;
	}
	return rows;
}

static int fit(struct nod_tie *tie, const struct pairs *p, const struct window *w, size_t unknowns)
{
	double *room = calloc(ROWS_MAX * 4, sizeof(*room));
	struct nod_linear line;

	if (!room)
		return -ENOMEM;
	double *y = room + ROWS_MAX * 2;
	size_t rows = lay_rows(p, w, tie, unknowns, room, y, y + ROWS_MAX);
	int status = nod_linear_fit(&line, room, y, y + ROWS_MAX, rows, unknowns, HUBER_SIGMAS,
				    HUBER_PASSES);
	if (status) {
		free(room);
		return status;
	}
	for (size_t i = 0; i < rows; i++)
		for (size_t k = 0; k < unknowns; k++)
			y[i] -= room[i * unknowns + k] * line.value[k];
	if (nod_robust_sigma(y, rows) > SCATTER_MOST_S)
		tie->state = NOD_TIE_NONE;
	free(room);
	if (line.known[0]) {
		tie->offset.ns += (int64_t)(line.value[0] * 1e9);
		tie->unsure.ns = GATEWAY_NS + (int64_t)(SIGMAS_95 * line.error[0] * 1e9);
	}
	if (unknowns > 1 && line.known[1]) {
		tie->drift_ppm = line.value[1] * 1e6;
		tie->drift_unsure_ppm = SIGMAS_95 * line.error[1] * 1e6;
	}
	nod_linear_free(&line);
	return 0;
}

static int refine(struct nod_tie *tie, const struct pairs *p, const struct window *w)
{
	int64_t first = INT64_MAX, last = INT64_MIN;

	for (size_t i = w->begin; i < w->end; i++) {
		first = p->list[i].time < first ? p->list[i].time : first;
		last = p->list[i].time > last ? p->list[i].time : last;
	}
	tie->at.ns = first + (last - first) / 2;
	tie->offset.ns = median_shift(p, w);
	tie->unsure.ns = WINDOW_NS;
	return fit(tie, p, w, last - first >= DRIFT_SPAN_NS ? 2 : 1);
}

/* Whether one shift stands out among the pairs. */
static int judge(struct nod_tie *tie, const struct pairs *p, int64_t length, double least,
		 enum nod_tie_state found, struct window *best)
{
	struct window rival;

	*best = best_window(p, length, NULL);
	tie->offered = p->keys;
	tie->votes = best->votes;
	tie->rival = 0;
	tie->rival_offset = NOD_DURATION_NONE;
	tie->state = NOD_TIE_NONE;
	if (best->votes < least)
		return 0;
	rival = best_window(p, length, best);
	tie->rival = rival.votes;
	if (rival.end)
		tie->rival_offset.ns = median_shift(p, &rival);
	tie->state = best->votes >= VOTES_OVER_RIVAL * rival.votes ? found : NOD_TIE_AMBIGUOUS;
	return tie->state == found;
}

/* How each kind of tie is judged. */
static const struct kind {
	int64_t window;
	double least;
	nod_duration unsure; /* where no line is laid */
} kinds[] = {
	[NOD_TIE_BY_FRAMES] = {WINDOW_NS, VOTES_LEAST, {0}},
	[NOD_TIE_BY_WAKES] = {WINDOW_NS, WAKES_LEAST, {NOD_NS_PER_S}},
	[NOD_TIE_BY_JOURNAL] = {ENTRY_WINDOW_NS, ENTRIES_LEAST, {ENTRY_WINDOW_NS}},
};

/* Tries these pairs and frees them. What is no better than before leaves *tie as it is. */
static int try(struct nod_tie *tie, struct pairs *p, enum nod_tie_state kind)
{
	const struct kind *k = &kinds[kind];
	struct nod_tie here = {.drift_unsure_ppm = INFINITY};
	struct window best;
	int status = 0;

	bool stands_out = judge(&here, p, k->window, k->least, kind, &best);
	if (stands_out && kind == NOD_TIE_BY_FRAMES) {
		status = refine(&here, p, &best);
	} else if (stands_out) {
		here.offset.ns = median_shift(p, &best);
		here.at.ns = p->list[best.begin].time;
		here.unsure = k->unsure;
	}
	if (stands_out || (kind == NOD_TIE_BY_FRAMES && here.votes > tie->votes))
		*tie = here;
	free(p->list);
	return status;
}

static int try_table(struct nod_tie *tie, const struct nod_tie_table *first,
		     const struct nod_tie_table *second, enum nod_tie_state kind)
{
	struct pairs p;

	return collect(&p, first, second) ? -ENOMEM : try(tie, &p, kind);
}

static int try_wakes(struct nod_tie *tie, const struct nod_tie_side *first,
		     const struct nod_tie_side *second)
{
	struct pairs p = {.keys = first->wake_count < second->wake_count ? first->wake_count
									 : second->wake_count};

	p.list = calloc(first->wake_count * second->wake_count + 1, sizeof(*p.list));
	if (!p.list)
		return -ENOMEM;
	for (size_t i = 0; i < first->wake_count; i++)
		for (size_t k = 0; k < second->wake_count; k++)
			p.list[p.count++] = (struct pair){second->wakes[k] - first->wakes[i],
							  second->wakes[k], 1};
	qsort(p.list, p.count, sizeof(*p.list), by_shift);
	return try(tie, &p, NOD_TIE_BY_WAKES);
}

static bool is_found(const struct nod_tie *tie)
{
	return tie->state < NOD_TIE_AMBIGUOUS;
}

int nod_tie_find(struct nod_tie *tie, const struct nod_tie_side *first,
		 const struct nod_tie_side *second)
{
	*tie = (struct nod_tie){.state = NOD_TIE_NONE,
				.rival_offset = NOD_DURATION_NONE,
				.drift_unsure_ppm = INFINITY};
	int status = try_table(tie, &first->payloads, &second->payloads, NOD_TIE_BY_FRAMES);

	if (!status && !is_found(tie))
		status = try_table(tie, &first->contents, &second->contents, NOD_TIE_BY_FRAMES);
	if (!status && !is_found(tie))
		status = try_wakes(tie, first, second);
	if (!status && !is_found(tie))
		status = try_table(tie, &first->marks, &second->marks, NOD_TIE_BY_JOURNAL);
	return status;
}

nod_duration nod_tie_shift(const struct nod_tie *tie, nod_time second)
{
	double away = (double)nod_time_since(second, tie->at).ns;

	return (nod_duration){tie->offset.ns + (int64_t)(away * tie->drift_ppm / 1e6)};
}
