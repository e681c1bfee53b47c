/* Adds up the awake spans that need not be kept one by one. See span-sums.h. */
#include "sum-up.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define FORGOTTEN UINT8_MAX /* instead of a number of first speakers */

/* ---- runs ---- */

static int begin_run(struct nod_summing *w, nod_time from)
{
	struct nod_run *run = &w->runs[w->run_count];

	*run = (struct nod_run){.from = from, .to = from, .network_count = w->engine->track_room};
	run->wakes.from = run->wakes.to = NOD_TIME_NONE;
	run->wakes.unexplained.first = run->wakes.unexplained.last = NOD_TIME_NONE;
	run->networks = calloc(run->network_count, sizeof(*run->networks));
	if (!run->networks)
		return -ENOMEM;
	w->run_count++;
	return 0;
}

static void add_run(struct nod_run *run, const struct nod_run *later)
{
	const struct nod_wake_sum *from = &later->wakes;

	if (from->count && !run->wakes.count)
		run->wakes.from = from->from;
	if (from->count)
		run->wakes.to = from->to;
	run->wakes.count += from->count;
	run->wakes.explained += from->explained;
	nod_intervals_join(&run->wakes.unexplained, &from->unexplained);
	for (size_t n = 0; n < later->network_count; n++)
		if (later->networks[n].count)
			nod_span_sum_join(&run->networks[n], &later->networks[n]);
	run->to = later->to;
}

/* Goes through what there is in time order, kept episodes, those to be summed up and
 * earlier runs, and lets what lies between two kept ones become one run. First the runs
 * are made, then filled. */
static int build_runs(struct nod_summing *w, bool fill)
{
	const struct nod_span_sums *sums = &w->engine->sums;
	size_t old = 0, made = 0;
	bool open = false; /* the run made last goes on */

	for (size_t i = 0, end; i < w->count || old < sums->run_count; i = end) {
		bool run = old < sums->run_count &&
			   (i >= w->count || sums->runs[old].from.ns < w->items[i].span->from.ns);
		bool kept = !run && w->items[i].kept;
		nod_time from = run ? sums->runs[old].from : w->items[i].span->from;
		end = run ? i : nod_summing_episode_end(w, i);
		if (!kept && !open && !fill && begin_run(w, from))
			return -ENOMEM;
		made += !kept && !open;
		open = !kept;
		if (fill && run)
			add_run(&w->runs[made - 1], &sums->runs[old]);
		else if (fill && !kept)
			nod_summing_add(w, &w->runs[made - 1], i, end);
		old += run;
	}
	return 0;
}

/* Room for all that is added up, so that nothing can fail later. */
static int make_room(struct nod_summing *w)
{
	struct nod_span_sums *sums = &w->engine->sums;
	size_t episodes = 0;

	for (size_t i = 0; i < w->count; i++)
		episodes += w->items[i].begins && !w->items[i].kept;
	w->runs = calloc(episodes + sums->run_count + 1, sizeof(*w->runs));
	if (!w->runs || build_runs(w, false))
		return -ENOMEM;
	return 0;
}

static int make_room_for_tracks(struct nod_engine *e)
{
	struct nod_span_sums *sums = &e->sums;

	if (sums->network_count >= e->track_room)
		return 0;
	void *idents = realloc(sums->idents, e->track_room * sizeof(*sums->idents));
	if (!idents)
		return -ENOMEM;
	sums->idents = idents;
	void *counts = realloc(sums->ident_counts, e->track_room * sizeof(*sums->ident_counts));
	if (!counts)
		return -ENOMEM;
	sums->ident_counts = counts;
	for (; sums->network_count < e->track_room; sums->network_count++) {
		sums->idents[sums->network_count] = NULL;
		sums->ident_counts[sums->network_count] = 0;
	}
	return 0;
}

static int make_room_for_idents(struct nod_engine *e)
{
	struct nod_span_sums *sums = &e->sums;

	if (make_room_for_tracks(e))
		return -ENOMEM;
	for (size_t n = 0; n < e->track_room; n++) {
		uint32_t had = sums->ident_counts[n];
		uint32_t count = e->tracks[n] ? e->tracks[n]->idents.count : 0;
		if (count <= had)
			continue;
		struct nod_ident_wakes *more = realloc(sums->idents[n], count * sizeof(*more));
		if (!more)
			return -ENOMEM;
		memset(more + had, 0, (count - had) * sizeof(*more));
		sums->idents[n] = more;
		sums->ident_counts[n] = count;
	}
	return 0;
}

static void free_runs(struct nod_run *runs, size_t count)
{
	for (size_t i = 0; i < count; i++)
		free(runs[i].networks);
	free(runs);
}

/* ---- forgetting ---- */

/* The items are not to be used after it: what they point to moves. */
static void forget_summed(struct nod_summing *w)
{
	for (size_t i = 0; i < w->count; i++)
		if (!w->items[i].kept)
			w->items[i].track->spans[w->items[i].index].first_count = FORGOTTEN;
	for (size_t n = 0; n < w->engine->track_room; n++) {
		struct nod_track *track = w->engine->tracks[n];
		size_t kept = 0;
		for (size_t i = 0; track && i < track->span_count; i++)
			if (track->spans[i].first_count != FORGOTTEN)
				track->spans[kept++] = track->spans[i];
		if (track)
			track->span_count = kept;
	}
}

static void commit(struct nod_summing *w)
{
	struct nod_span_sums *sums = &w->engine->sums;

	build_runs(w, true);
	forget_summed(w);
	free_runs(sums->runs, sums->run_count);
	sums->runs = w->runs;
	sums->run_count = w->run_count;
	struct nod_run *fitted = realloc(sums->runs, (sums->run_count + 1) * sizeof(*fitted));
	sums->runs = fitted ? fitted : sums->runs;
}

int nod_spans_sum_up(struct nod_engine *engine, struct nod_track *track)
{
	struct nod_summing w = {.engine = engine};

	w.found = (struct nod_findings){.marks = engine->marks, .mark_count = engine->mark_count,
					.lock = engine->lock};
	w.a = (struct nod_analysis){.engine = engine, .f = &w.found};
	int status = nod_summing_choose(&w);
	if (!status)
		status = make_room(&w);
	if (!status)
		status = make_room_for_idents(engine);
	if (!status)
		commit(&w);
	else
		free_runs(w.runs, w.run_count);
	free(w.items);
	/* When little could be summed up: not again for every span. */
	size_t limit = nod_span_sums_limit(&engine->sums);
	size_t later = track->span_count + track->span_count / NOD_SPANS_MORE + 1;
	if (!status)
		track->span_limit = later > limit ? later : limit;
	return status;
}
