/* SPDX-License-Identifier: MIT */
/* What a current trace shows: levels and pulses as a person reads them. */
#include "current-trace.h"

#include <errno.h>
#include <math.h>

#include "current-levels.h"
#include "current-pulses.h"
#include "robust.h"

/* A level is a quiescent one when it lasted so long after the lock. Chosen:
 * longer than a door or a key leaves anything running unnoticed, short enough
 * to be there between two reports of a telematics unit. */
#define REST_SHORTEST_S 120

/* A step so near a zeroing mark is the clamp's: the mark is typed by hand. */
#define ZEROING_NEAR_S 15

#define MEDIAN_ERROR 1.2533 /* standard error of a median over that of a mean */

struct build {
	const struct nod_current_trace *trace;
	const struct nod_current_cell *cells;
	size_t n;
	nod_duration length;
	struct nod_levels found;
	struct nod_current_findings *f;
	struct nod_arena *arena;
};

/* When the cell ends and the next begins. */
static nod_time cell_end(const struct build *b, size_t cell)
{
	nod_time end = nod_time_after(b->cells[cell].first, b->length);

	if (cell + 1 < b->n && b->cells[cell + 1].first.ns < end.ns + b->length.ns)
		return b->cells[cell + 1].first;
	return b->cells[cell].last;
}

static double wander_between(const struct build *b, nod_time from, nod_time to)
{
	nod_time middle = {from.ns + nod_time_since(to, from).ns / 2};

	return nod_current_trace_wander(b->trace, middle, b->f->wander_ua);
}

static int build_levels(struct build *b)
{
	struct nod_current_level *levels = nod_arena_alloc(b->arena,
							   (b->found.count + 1) * sizeof(*levels));

	if (!levels)
		return -ENOMEM;
	for (size_t i = 0; i < b->found.count; i++) {
		const struct nod_level *l = &b->found.levels[i];
		struct nod_current_level *out = &levels[i];
		out->from = b->cells[l->first].first;
		out->to = cell_end(b, l->end - 1);
		out->ua = l->value;
		out->noise_ua = l->noise;
		out->uncertainty_ua = 2 * MEDIAN_ERROR * l->noise / sqrt((double)l->cells) +
				      wander_between(b, out->from, out->to);
	}
	b->f->levels = levels;
	b->f->level_count = b->found.count;
	return 0;
}

/* The cell that begins the new level: behind the largest jump on the way. */
static size_t jump_between(const struct build *b, size_t end, size_t first)
{
	size_t best = end;
	double largest = -1;

	for (size_t i = end; i <= first; i++) {
		double jump = fabs(b->cells[i].typical - b->cells[i - 1].typical);
		if (jump > largest) {
			largest = jump;
			best = i;
		}
	}
	return best;
}

static bool near_zeroing(const struct build *b, nod_time time)
{
	nod_time until = nod_time_after(time, nod_seconds(ZEROING_NEAR_S));
	nod_time mark = nod_current_trace_zeroed_before(b->trace, until);

	return nod_time_is_set(mark) &&
	       nod_time_since(time, mark).ns <= ZEROING_NEAR_S * NOD_NS_PER_S;
}

static int build_steps(struct build *b)
{
	size_t count = b->found.count ? b->found.count - 1 : 0;
	struct nod_current_step *steps = nod_arena_alloc(b->arena, (count + 1) * sizeof(*steps));

	if (!steps)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		const struct nod_level *before = &b->found.levels[i], *after = before + 1;
		size_t cell = jump_between(b, before->end, after->first);
		int64_t gap = nod_time_since(b->cells[cell].first, b->cells[cell - 1].last).ns;
		steps[i] = (struct nod_current_step){
			.time = b->cells[cell].first,
			.unsure = {(gap > b->length.ns ? gap : b->length.ns) / 2},
			.before_ua = before->value,
			.after_ua = after->value,
			.change_ua = after->change,
			.uncertainty_ua = 2 * after->change_error,
			.zeroing = near_zeroing(b, b->cells[cell].first),
		};
	}
	b->f->steps = steps;
	b->f->step_count = count;
	return 0;
}

/* Height of an excursion over its base: the median of its inner cells, or of
 * a short one the extreme second. */
static double height_of(const struct build *b, const struct nod_excursion *e, double base)
{
	double values[NOD_PULSE_LONGEST_S + 1], mean = 0, extreme = 0;
	size_t n = e->end - e->first, used = 0;

	for (size_t i = e->first; i < e->end; i++) {
		const struct nod_current_cell *c = &b->cells[i];
		double reach = c->typical < base ? c->low : c->high;
		mean += (c->typical - base) / (double)n;
		if (fabs(reach - base) > fabs(extreme))
			extreme = reach - base;
		if (i > e->first && i + 1 < e->end && used < NOD_PULSE_LONGEST_S)
			values[used++] = c->typical - base;
	}
	if (used < 2)
		return mean * extreme > 0 ? extreme : mean;
	return nod_median(values, used);
}

static struct nod_current_pulse build_pulse(const struct build *b, const struct nod_excursion *e)
{
	double base = e->base;
	struct nod_current_pulse pulse = {
		.from = b->cells[e->first].first,
		.to = cell_end(b, e->end - 1),
		.base_ua = base,
		.height_ua = height_of(b, e, base),
		.group = -1,
	};
	for (size_t i = e->first; i < e->end; i++)
		pulse.charge_uah +=
			(b->cells[i].charge - base * (double)b->cells[i].measured.ns / 1e9) / 3600;
	return pulse;
}

static int build_pulses(struct build *b)
{
	size_t count = b->found.excursion_count;
	struct nod_current_pulse *pulses = nod_arena_alloc(b->arena, (count + 1) * sizeof(*pulses));
	struct nod_current_pulse_group *groups = nod_arena_alloc(b->arena, NOD_PULSE_GROUPS *
										   sizeof(*groups));
	double seconds = (double)b->f->measured.ns / 1e9;

	if (!pulses || !groups)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		pulses[i] = build_pulse(b, &b->found.excursions[i]);
		if (seconds > 0 && pulses[i].from.ns >= b->f->since.ns)
			b->f->pulses_average_ua += pulses[i].charge_uah * 3600 / seconds;
	}
	int n = nod_pulses_group(groups, pulses, count, b->f->since, seconds, b->length);
	if (n < 0)
		return n;
	b->f->pulses = pulses;
	b->f->pulse_count = count;
	b->f->groups = groups;
	b->f->group_count = (size_t)n;
	return 0;
}

/* What the typical values of the cells leave out: blinks within a second. */
static void build_blinks(struct build *b)
{
	double extra = 0, seconds = (double)b->f->measured.ns / 1e9;

	for (size_t i = 1; i < b->n; i++) {
		const struct nod_current_cell *c = &b->cells[i];
		if (b->found.outside[i] || b->found.outside[i - 1] ||
		    c->first.ns < b->f->since.ns || c->count < 4 * c->seconds)
			continue;
		extra += (c->sum / (double)c->count - c->typical) * (double)c->measured.ns / 1e9;
	}
	if (seconds > 0)
		b->f->blinks_average_ua = extra / seconds;
}

static void find_quiescent(struct nod_current_findings *f)
{
	for (size_t i = 0; i < f->level_count; i++) {
		const struct nod_current_level *l = &f->levels[i];
		nod_time from = l->from.ns > f->since.ns ? l->from : f->since;
		if (nod_time_since(l->to, from).ns < REST_SHORTEST_S * NOD_NS_PER_S)
			continue;
		if (f->quiescent_known && l->ua >= f->quiescent_ua)
			continue;
		f->quiescent_known = true;
		f->quiescent_ua = l->ua;
		f->quiescent_uncertainty_ua = l->uncertainty_ua;
		f->quiescent_from = from;
		f->quiescent_to = l->to;
	}
	f->within_noise = f->quiescent_known &&
			  fabs(f->quiescent_ua) <= f->quiescent_uncertainty_ua;
}

static void build_charge(struct build *b)
{
	struct nod_current_findings *f = b->f;

	f->charge_uah = nod_current_trace_charge(b->trace, f->since, f->to, &f->measured);
	f->not_measured.ns = nod_time_since(f->to, f->since).ns - f->measured.ns;
	if (f->not_measured.ns < 0)
		f->not_measured.ns = 0;
	if (f->measured.ns)
		f->mean_ua = f->charge_uah * 3600e9 / (double)f->measured.ns;
}

static int build(struct build *b)
{
	int rc = nod_levels_find(&b->found, b->cells, b->n, b->length);

	if (rc)
		return rc;
	b->f->noise_ua = b->found.noise;
	build_charge(b);
	rc = build_levels(b);
	if (!rc)
		rc = build_steps(b);
	if (!rc)
		rc = build_pulses(b);
	if (!rc) {
		build_blinks(b);
		find_quiescent(b->f);
	}
	nod_levels_free(&b->found);
	return rc;
}

struct nod_current_findings *nod_current_trace_findings(const struct nod_current_trace *trace,
							const struct nod_current_request *request,
							struct nod_arena *arena)
{
	struct build b = {.trace = trace, .arena = arena};

	errno = 0;
	b.cells = nod_current_trace_cells(trace, &b.n, &b.length);
	if (!b.n)
		return NULL;
	struct nod_current_findings *f = b.f = nod_arena_alloc(arena, sizeof(*f));
	if (f) {
		f->from = b.cells[0].first;
		f->to = b.cells[b.n - 1].last;
		f->cell = b.length;
		f->since = request->lock.ns > f->from.ns ? request->lock : f->from;
		f->wander_ua = request->wander_ua;
		f->limit_ua = request->limit_ua;
		f->quiescent_from = f->quiescent_to = NOD_TIME_NONE;
		f->last_zeroed = nod_current_trace_zeroed_before(trace, f->to);
		nod_current_trace_counts(trace, &f->samples, &f->out_of_order, &f->impossible,
					 &f->zeroings);
		if (!build(&b))
			return f;
	}
	errno = ENOMEM;
	return NULL;
}
