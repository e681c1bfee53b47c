/* Awake spans while some of them are summed up; see span-sums.h. Internal. */
#ifndef NOD_SUM_UP_H
#define NOD_SUM_UP_H

#include "analysis.h"
#include "span-sums.h"

#define NOD_SPAN_OPEN SIZE_MAX /* not among the track's closed spans */

/* One awake span. */
struct nod_sum_item {
	const struct nod_span *span;
	struct nod_track *track;
	size_t index;	/* of track->spans, or NOD_SPAN_OPEN */
	bool wake;	/* begins or belongs to a story, see wakes.c */
	bool begins;	/* an episode */
	bool kept;
};

/* The spans of all networks are looked at in time order, in episodes: what wakes
 * together is one story and is kept or summed up together. */
struct nod_summing {
	struct nod_engine *engine;
	struct nod_findings found; /* only what the judgement of a span reads */
	struct nod_analysis a;
	struct nod_sum_item *items; /* in time order */
	size_t count;
	struct nod_run *runs; /* the new ones */
	size_t run_count;
};

/* sum-episodes.c: collects the spans and chooses which are kept. 0 or -ENOMEM. */
int nod_summing_choose(struct nod_summing *w);

/* The item behind the episode that begins with this one. */
size_t nod_summing_episode_end(const struct nod_summing *w, size_t item);

/* sum-judge.c: adds the episode [first, end) to the run. Nothing in it needs memory. */
void nod_summing_add(struct nod_summing *w, struct nod_run *run, size_t first, size_t end);

#endif
