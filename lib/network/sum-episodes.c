/* Awake spans in episodes, and which of them are kept one by one. */
#include <errno.h>
#include <stdlib.h>

#include "sum-up.h"

/* Around each isolation and refit so many spans of each network are kept: the one
 * it fell into or came after with those before, and what followed. Chosen: what
 * judges an isolation looks at the nearest of either side. */
#define PINNED_BEFORE 3
#define PINNED_AFTER 4

/* What is judged depends on journal entries up to so long after it (see
 * nod_analysis_cause_of()); a younger span is kept. Chosen: that, and as much again. */
#define SETTLED_NS (40 * NOD_NS_PER_S)

static int compare_items(const void *a, const void *b)
{
	const struct nod_sum_item *x = a, *y = b;

	if (x->span->from.ns != y->span->from.ns)
		return x->span->from.ns < y->span->from.ns ? -1 : 1;
	if (x->track != y->track)
		return x->track->network < y->track->network ? -1 : 1;
	return (x->index > y->index) - (x->index < y->index);
}

/* As wakes.c has it. */
static bool is_wake(const struct nod_summing *w, const struct nod_span *span)
{
	return span->slept_before && span->first_count && span->from.ns > w->engine->lock.ns;
}

static void add_item(struct nod_summing *w, struct nod_track *track, const struct nod_span *span,
		     size_t index)
{
	struct nod_sum_item *item = &w->items[w->count++];
	bool young = nod_time_since(w->engine->now, span->from).ns < SETTLED_NS;

	*item = (struct nod_sum_item){.span = span, .track = track, .index = index,
				      .wake = is_wake(w, span),
				      .kept = index == NOD_SPAN_OPEN || young};
}

static int collect(struct nod_summing *w)
{
	const struct nod_engine *e = w->engine;
	size_t room = 1;

	for (size_t i = 0; i < e->track_room; i++)
		room += e->tracks[i] ? e->tracks[i]->span_count + 1 : 0;
	w->items = calloc(room, sizeof(*w->items));
	if (!w->items)
		return -ENOMEM;
	for (size_t i = 0; i < e->track_room; i++) {
		struct nod_track *track = e->tracks[i];
		for (size_t k = 0; track && k < track->span_count; k++)
			add_item(w, track, &track->spans[k], k);
		if (track && track->serial)
			add_item(w, track, &track->span, NOD_SPAN_OPEN);
	}
	qsort(w->items, w->count, sizeof(*w->items), compare_items);
	return 0;
}

/* A story lasts for a fixed time from its first span on; what falls into it is
 * the same episode, and everything else one of its own. */
static void find_episodes(struct nod_summing *w)
{
	int64_t story = INT64_MIN;

	for (size_t i = 0; i < w->count; i++) {
		struct nod_sum_item *item = &w->items[i];
		item->begins = item->span->from.ns > story;
		if (item->begins && item->wake)
			story = nod_ns_add(item->span->from.ns, NOD_ONE_STORY_NS);
	}
}

size_t nod_summing_episode_end(const struct nod_summing *w, size_t i)
{
	do
		i++;
	while (i < w->count && !w->items[i].begins);
	return i;
}

/* ---- what is kept ---- */

static void keep_around(struct nod_summing *w, const struct nod_track *track, nod_time mark)
{
	size_t low = 0, high = track->span_count;

	while (low < high) { /* the first that begins later */
		size_t middle = (low + high) / 2;
		if (track->spans[middle].from.ns <= mark.ns)
			low = middle + 1;
		else
			high = middle;
	}
	for (size_t i = 0; i < w->count; i++) {
		struct nod_sum_item *item = &w->items[i];
		if (item->track == track && item->index != NOD_SPAN_OPEN &&
		    item->index + PINNED_BEFORE >= low && item->index < low + PINNED_AFTER)
			item->kept = true;
	}
}

static void keep_trials(struct nod_summing *w)
{
	const struct nod_engine *e = w->engine;

	for (size_t i = 0; i < e->snapshot_count; i++)
		for (size_t n = 0; n < e->track_room; n++)
			if (e->tracks[n])
				keep_around(w, e->tracks[n], e->marks[e->snapshots[i].mark].time);
}

/* The first and the last episodes; an episode of which anything is kept is kept
 * whole. */
static void choose_kept(struct nod_summing *w)
{
	size_t episodes = 0, number = 0, before_lock = 0;

	keep_trials(w);
	for (size_t i = 0; i < w->count; i++) {
		episodes += w->items[i].begins;
		before_lock += w->items[i].begins &&
			       w->items[i].span->to.ns < w->engine->lock.ns;
	}
	for (size_t i = 0, end; i < w->count; i = end, number++) {
		bool kept = number >= before_lock &&
			    number < before_lock + w->engine->sums.first;
		kept |= number + w->engine->sums.last >= episodes;
		end = nod_summing_episode_end(w, i);
		for (size_t k = i; k < end; k++)
			kept |= w->items[k].kept;
		for (size_t k = i; k < end; k++)
			w->items[k].kept = kept;
	}
}

/* Runs are put in order by time alone: of episodes that begin at the same moment, none is
 * summed up beside one that is kept. */
static void keep_ties(struct nod_summing *w)
{
	for (size_t i = 0, end; i < w->count; i = end) {
		bool kept = w->items[i].kept;
		end = nod_summing_episode_end(w, i);
		while (end < w->count && w->items[end].span->from.ns == w->items[i].span->from.ns) {
			kept |= w->items[end].kept;
			end = nod_summing_episode_end(w, end);
		}
		for (size_t k = i; k < end; k++)
			w->items[k].kept = kept;
	}
}

int nod_summing_choose(struct nod_summing *w)
{
	int status = collect(w);

	if (status)
		return status;
	find_episodes(w);
	choose_kept(w);
	keep_ties(w);
	return 0;
}
