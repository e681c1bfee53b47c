/* SPDX-License-Identifier: MIT */
#include "current-join.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "least-squares.h"
#include "robust.h"

/* What is compared around an event: up to a minute, not nearer than the
 * current needs to settle (wakes: the second of a cell; sleeps: modules power
 * down after their bus). Chosen. */
#define WINDOW_S 60
#define BEFORE_S 2

/* A logger that writes this rarely still measured all the time in between. */
#define SLOW_LOGGER_S 10
#define AFTER_WAKE_S 3
#define AFTER_SLEEP_S 9
#define WINDOW_CELLS 60

/* Noise of one cell is not believed to be smaller; see current-levels.c. */
#define NOISE_LEAST_UA 300.0
#define MEDIAN_ERROR 1.2533

/* Passes that lower the weight of events that do not fit (Huber, 2 standard
 * errors): another load switched at the same time. */
#define PASSES 10
#define FIT_SIGMAS 2.0

struct change {
	nod_time time;
	int network;
	int sign; /* +1 woke, -1 fell asleep */
};

struct work {
	const struct nod_current_cell *cells;
	size_t cell_count;
	struct change *changes;
	size_t change_count;
	struct nod_current_join *join;
	double *steps; /* event_count x network_count: -1, 0, +1 */
	int *column;   /* network -> unknown, -1 */
	size_t columns;
};

static int compare_changes(const void *a, const void *b)
{
	const struct change *x = a, *y = b;

	if (x->time.ns != y->time.ns)
		return x->time.ns < y->time.ns ? -1 : 1;
	return x->network != y->network ? x->network - y->network : x->sign - y->sign;
}

/* Changes at the very ends of what was listened to are no changes. */
static int list_changes(struct work *w, const struct nod_awake_span *spans, size_t count,
			nod_time until)
{
	w->changes = calloc(2 * count + 1, sizeof(*w->changes));
	if (!w->changes)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		if (spans[i].network < 0 || (size_t)spans[i].network >= w->join->network_count)
			continue;
		w->changes[w->change_count++] = (struct change){spans[i].from, spans[i].network, 1};
		if (spans[i].to.ns < until.ns)
			w->changes[w->change_count++] = (struct change){spans[i].to,
									spans[i].network, -1};
	}
	qsort(w->changes, w->change_count, sizeof(*w->changes), compare_changes);
	return 0;
}

static int list_events(struct work *w, struct nod_arena *arena)
{
	struct nod_current_join *j = w->join;

	j->events = nod_arena_alloc(arena, (w->change_count + 1) * sizeof(*j->events));
	w->steps = calloc((w->change_count + 1) * (j->network_count + 1), sizeof(*w->steps));
	if (!j->events || !w->steps)
		return -ENOMEM;
	for (size_t i = 0; i < w->change_count; i++) {
		const struct change *c = &w->changes[i];
		struct nod_join_event *e = j->event_count ? &j->events[j->event_count - 1] : NULL;
		if (!e || nod_time_since(c->time, e->to).ns > NOD_JOIN_TOGETHER_S * NOD_NS_PER_S) {
			e = &j->events[j->event_count++];
			e->from = c->time;
			e->first = c->network;
		}
		e->to = c->time;
		e->woke += c->sign > 0;
		e->slept += c->sign < 0;
		w->steps[(j->event_count - 1) * j->network_count + (size_t)c->network] += c->sign;
	}
	return 0;
}

/* Median and standard error of the cells within [from, to], the nearest to
 * `from` or to `to`. False when there are too few. */
static bool level_between(const struct work *w, int64_t from, int64_t to, bool nearest_end,
			  double *median, double *error)
{
	double values[WINDOW_CELLS], room[WINDOW_CELLS];
	size_t n = 0, low = 0, high = w->cell_count;

	while (low < high) { /* first cell that begins in the window */
		size_t middle = (low + high) / 2;
		if (w->cells[middle].first.ns < from)
			low = middle + 1;
		else
			high = middle;
	}
	for (high = low; high < w->cell_count && w->cells[high].last.ns <= to; high++)
		;
	if (high - low > WINDOW_CELLS && nearest_end)
		low = high - WINDOW_CELLS;
	for (size_t i = low; i < high && n < WINDOW_CELLS; i++)
		values[n++] = w->cells[i].typical;
	if (!n)
		return false;
	double noise = fmax(nod_noise_sigma(values, n, room), NOISE_LEAST_UA);
	*median = nod_median(values, n);
	noise = fmax(noise, nod_robust_sigma(values, n));
	*error = MEDIAN_ERROR * noise / sqrt((double)n);
	return true;
}

/* The current before and after event i, between its neighbours. */
static void measure_event(struct work *w, size_t i)
{
	struct nod_join_event *e = &w->join->events[i];
	int64_t after_s = e->slept ? AFTER_SLEEP_S : AFTER_WAKE_S;
	int64_t before_to = e->from.ns - BEFORE_S * NOD_NS_PER_S;
	int64_t before_from = before_to - WINDOW_S * NOD_NS_PER_S;
	int64_t after_from = e->to.ns + after_s * NOD_NS_PER_S;
	int64_t after_to = after_from + WINDOW_S * NOD_NS_PER_S;
	double before, after, before_error, after_error;

	if (i) {
		const struct nod_join_event *p = e - 1;
		int64_t free = p->to.ns + (p->slept ? AFTER_SLEEP_S : AFTER_WAKE_S) * NOD_NS_PER_S;
		before_from = before_from > free ? before_from : free;
	}
	if (i + 1 < w->join->event_count) {
		int64_t free = e[1].from.ns - BEFORE_S * NOD_NS_PER_S;
		after_to = after_to < free ? after_to : free;
	}
	if (!level_between(w, before_from, before_to, true, &before, &before_error) ||
	    !level_between(w, after_from, after_to, false, &after, &after_error))
		return;
	e->measured = true;
	e->change_ua = after - before;
	e->uncertainty_ua = 2 * sqrt(before_error * before_error + after_error * after_error);
}

static double step_of(const struct work *w, size_t event, size_t network)
{
	return w->steps[event * w->join->network_count + network];
}

/* Do two networks change together in all measured events? */
static bool inseparable(const struct work *w, size_t a, size_t b)
{
	for (size_t e = 0; e < w->join->event_count; e++)
		if (w->join->events[e].measured && step_of(w, e, a) != step_of(w, e, b))
			return false;
	return true;
}

/* Gives each network that changes the number of an unknown. */
static void number_unknowns(struct work *w)
{
	struct nod_current_join *j = w->join;

	for (size_t k = 0; k < j->network_count; k++) {
		w->column[k] = -1;
		for (size_t e = 0; e < j->event_count; e++)
			j->networks[k].events += j->events[e].measured && step_of(w, e, k) != 0;
		if (!j->networks[k].events)
			continue;
		for (size_t other = 0; other < k && w->column[k] < 0; other++)
			if (w->column[other] >= 0 && inseparable(w, other, k))
				w->column[k] = w->column[other];
		if (w->column[k] < 0)
			w->column[k] = (int)w->columns++;
	}
}

/* The row of an event: what each unknown adds to its step. */
static void fill_row(const struct work *w, size_t event, double *row)
{
	memset(row, 0, w->columns * sizeof(*row));
	for (size_t k = 0; k < w->join->network_count; k++)
		if (w->column[k] >= 0)
			row[w->column[k]] = step_of(w, event, k);
}

static void keep_solution(struct work *w, const struct nod_linear *fit)
{
	for (size_t k = 0; k < w->join->network_count; k++) {
		struct nod_network_current *n = &w->join->networks[k];
		int column = w->column[k];
		n->group = -1;
		if (column < 0 || !fit->known[column])
			continue;
		n->known = true;
		n->group = column;
		n->ua = fit->value[column];
		n->uncertainty_ua = 2 * fit->error[column];
	}
}

static int solve(struct work *w)
{
	struct nod_current_join *j = w->join;
	struct nod_linear fit;
	size_t rows = 0;
	double *a = calloc((j->event_count + 1) * (w->columns + 1), sizeof(*a));
	double *y = calloc(2 * (j->event_count + 1), sizeof(*y)), *error = y;
	int rc = -ENOMEM;

	if (a && y) {
		error = y + j->event_count + 1;
		for (size_t e = 0; e < j->event_count; e++) {
			if (!j->events[e].measured)
				continue;
			fill_row(w, e, a + rows * w->columns);
			y[rows] = j->events[e].change_ua;
			error[rows++] = j->events[e].uncertainty_ua / 2;
		}
		rc = nod_linear_fit(&fit, a, y, error, rows, w->columns, FIT_SIGMAS, PASSES);
	}
	if (!rc) {
		keep_solution(w, &fit);
		nod_linear_free(&fit);
	}
	free(y);
	free(a);
	return rc;
}

static int64_t overlap(const struct nod_awake_span *s, nod_time from, nod_time to)
{
	int64_t a = s->from.ns > from.ns ? s->from.ns : from.ns;
	int64_t b = s->to.ns < to.ns ? s->to.ns : to.ns;

	return b > a ? b - a : 0;
}

/* Charge that goes with each network from the lock on. */
static void share_charge(struct work *w, const struct nod_current_trace *trace,
			 const struct nod_awake_span *spans, size_t span_count, nod_time from,
			 nod_time to)
{
	struct nod_current_join *j = w->join;
	nod_duration measured;

	j->charge_uah = nod_current_trace_charge(trace, from, to, &measured);
	double all = (double)nod_time_since(to, from).ns;
	double share = all > 0 ? (double)measured.ns / all : 0;
	j->explained_all = true;
	for (size_t i = 0; i < span_count; i++)
		if (spans[i].network >= 0 && (size_t)spans[i].network < j->network_count)
			j->networks[spans[i].network].awake.ns +=
				(int64_t)((double)overlap(&spans[i], from, to) * share);
	for (size_t k = 0; k < j->network_count; k++) {
		struct nod_network_current *n = &j->networks[k];
		bool again = false;
		for (size_t other = 0; other < k; other++)
			again |= n->known && j->networks[other].group == n->group;
		j->explained_all &= n->known || !n->awake.ns;
		if (!n->known || again)
			continue;
		n->charge_uah = n->ua * (double)n->awake.ns / 3600e9;
		j->explained_uah += n->charge_uah;
		j->explained_uncertainty_uah += n->uncertainty_ua * (double)n->awake.ns / 3600e9;
	}
}

/* Is a cell clear of every span and of its aftermath? */
static bool is_asleep(const struct nod_current_cell *cell, const struct nod_awake_span *spans,
		      size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (cell->last.ns >= spans[i].from.ns - NOD_NS_PER_S * BEFORE_S &&
		    cell->first.ns <= spans[i].to.ns + NOD_NS_PER_S * NOD_ASLEEP_AFTER_S)
			return false;
	return true;
}

/* Median of the cells in which all networks were asleep; those after the last
 * zeroing alone when there are enough. */
static int find_asleep(struct work *w, const struct nod_current_trace *trace,
		       const struct nod_awake_span *spans, size_t span_count, nod_time from,
		       nod_time to, nod_duration length, int64_t wander_ua)
{
	struct nod_current_join *j = w->join;
	double *values = calloc(2 * w->cell_count + 1, sizeof(*values));
	nod_time zeroed = nod_current_trace_zeroed_before(trace, to), first = to, last = from;
	int64_t enough = NOD_ASLEEP_SHORTEST_S * NOD_NS_PER_S;
	size_t n = 0;

	if (!values)
		return -ENOMEM;
	for (int pass = nod_time_is_set(zeroed) ? 0 : 1; pass < 2 && j->asleep.ns < enough;
	     pass++) {
		nod_time begin = !pass && zeroed.ns > from.ns ? zeroed : from;
		n = 0;
		j->asleep.ns = 0;
		for (size_t i = 0; i < w->cell_count; i++) {
			const struct nod_current_cell *c = &w->cells[i];
			if (c->first.ns < begin.ns || c->last.ns > to.ns ||
			    !is_asleep(c, spans, span_count))
				continue;
			if (!n)
				first = c->first;
			last = c->last;
			values[n++] = c->typical;
			bool close = c->measured.ns < 2 * length.ns ||
				     c->measured.ns <= SLOW_LOGGER_S * NOD_NS_PER_S;
			j->asleep.ns += close ? c->measured.ns : length.ns;
		}
	}
	if (j->asleep.ns >= enough && n) {
		nod_time middle = {first.ns + (last.ns - first.ns) / 2};
		double noise = nod_noise_sigma(values, n, values + n);
		j->asleep_known = true;
		j->asleep_ua = nod_median(values, n);
		j->asleep_uncertainty_ua = 2 * MEDIAN_ERROR * fmax(noise, NOISE_LEAST_UA) /
						   sqrt((double)n) +
					   nod_current_trace_wander(trace, middle, wander_ua);
	}
	free(values);
	return 0;
}

static int find(struct work *w, const struct nod_awake_span *spans, size_t span_count,
		nod_time until, struct nod_arena *arena)
{
	int rc = list_changes(w, spans, span_count, until);

	if (!rc)
		rc = list_events(w, arena);
	if (rc)
		return rc;
	for (size_t i = 0; i < w->join->event_count; i++)
		measure_event(w, i);
	number_unknowns(w);
	return solve(w);
}

struct nod_current_join *nod_current_join_find(const struct nod_current_trace *trace,
					       const struct nod_awake_span *spans,
					       size_t span_count, size_t network_count,
					       nod_time lock, nod_time until, int64_t wander_ua,
					       struct nod_arena *arena)
{
	struct nod_current_join *j = nod_arena_alloc(arena, sizeof(*j));
	struct work w = {.join = j};
	nod_duration length;
	int rc = -ENOMEM;

	if (!j)
		return NULL;
	j->network_count = network_count;
	j->networks = nod_arena_alloc(arena, (network_count + 1) * sizeof(*j->networks));
	w.column = calloc(network_count + 1, sizeof(*w.column));
	w.cells = nod_current_trace_cells(trace, &w.cell_count, &length);
	if (j->networks && w.column)
		rc = find(&w, spans, span_count, until, arena);
	if (!rc) {
		nod_time from = lock;
		if (w.cell_count && w.cells[0].first.ns > from.ns)
			from = w.cells[0].first;
		share_charge(&w, trace, spans, span_count, from, until);
		rc = find_asleep(&w, trace, spans, span_count, from, until, length, wander_ua);
	}
	free(w.column);
	free(w.steps);
	free(w.changes);
	return rc ? NULL : j;
}

enum nod_asleep_verdict nod_current_join_asleep(const struct nod_current_join *join,
						int64_t limit_ua)
{
	double limit = (double)limit_ua;

	if (!join->asleep_known)
		return NOD_ASLEEP_UNKNOWN;
	if (join->asleep_ua - join->asleep_uncertainty_ua > limit)
		return NOD_ASLEEP_DRAWS;
	if (join->asleep_ua + join->asleep_uncertainty_ua <= limit)
		return NOD_ASLEEP_FINE;
	return NOD_ASLEEP_DOUBT;
}
