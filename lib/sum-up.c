/* Chooses the awake spans that need not be kept one by one, judges them and adds
 * them up. See span-sums.h.
 *
 * The spans of all networks are looked at in time order, in episodes: what wakes
 * together is one story (wakes.c) and is kept or summed up together. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "analysis.h"
#include "span-sums.h"

/* Around each isolation and refit so many spans of each network are kept: the one
 * it fell into or came after with those before, and what followed. Chosen: what
 * judges an isolation looks at the nearest of either side. */
#define PINNED_BEFORE 3
#define PINNED_AFTER 4

/* What is judged depends on journal entries up to so long after it (see
 * nod_analysis_cause_of()); a younger span is kept. Chosen: that, and as much again. */
#define SETTLED_NS (40 * NOD_NS_PER_S)

#define OPEN SIZE_MAX /* not among the track's closed spans */
#define FORGOTTEN UINT8_MAX /* instead of a number of first speakers */

struct item {
	const struct nod_span *span;
	struct nod_track *track;
	size_t index;	/* of track->spans, or OPEN */
	bool wake;	/* begins or belongs to a story */
	bool begins;	/* an episode */
	bool kept;
};

struct work {
	struct nod_engine *engine;
	struct nod_findings found; /* only what the judgement of a span reads */
	struct nod_analysis a;
	struct item *items; /* in time order */
	size_t count;
	struct nod_run *runs; /* the new ones */
	size_t run_count;
};

/* ---- episodes ---- */

static int compare_items(const void *a, const void *b)
{
	const struct item *x = a, *y = b;

	if (x->span->from.ns != y->span->from.ns)
		return x->span->from.ns < y->span->from.ns ? -1 : 1;
	if (x->track != y->track)
		return x->track->network < y->track->network ? -1 : 1;
	return (x->index > y->index) - (x->index < y->index);
}

/* As wakes.c has it. */
static bool is_wake(const struct work *w, const struct nod_span *span)
{
	return span->slept_before && span->first_count && span->from.ns > w->engine->lock.ns;
}

static void add_item(struct work *w, struct nod_track *track, const struct nod_span *span,
		     size_t index)
{
	struct item *item = &w->items[w->count++];
	bool young = nod_time_since(w->engine->now, span->from).ns < SETTLED_NS;

	*item = (struct item){span, track, index, is_wake(w, span), false, index == OPEN || young};
}

static int collect(struct work *w)
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
			add_item(w, track, &track->span, OPEN);
	}
	qsort(w->items, w->count, sizeof(*w->items), compare_items);
	return 0;
}

/* A story lasts for a fixed time from its first span on; what falls into it is
 * the same episode, and everything else one of its own. */
static void find_episodes(struct work *w)
{
	int64_t story = INT64_MIN;

	for (size_t i = 0; i < w->count; i++) {
		struct item *item = &w->items[i];
		item->begins = item->span->from.ns > story;
		if (item->begins && item->wake)
			story = nod_ns_add(item->span->from.ns, NOD_ONE_STORY_NS);
	}
}

static size_t episode_end(const struct work *w, size_t i)
{
	do
		i++;
	while (i < w->count && !w->items[i].begins);
	return i;
}

/* ---- what is kept ---- */

static void keep_around(struct work *w, const struct nod_track *track, nod_time mark)
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
		struct item *item = &w->items[i];
		if (item->track == track && item->index != OPEN &&
		    item->index + PINNED_BEFORE >= low && item->index < low + PINNED_AFTER)
			item->kept = true;
	}
}

static void keep_trials(struct work *w)
{
	const struct nod_engine *e = w->engine;

	for (size_t i = 0; i < e->snapshot_count; i++)
		for (size_t n = 0; n < e->track_room; n++)
			if (e->tracks[n])
				keep_around(w, e->tracks[n], e->marks[e->snapshots[i].mark].time);
}

/* The first and the last episodes; an episode of which anything is kept is kept
 * whole. */
static void choose(struct work *w)
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
		end = episode_end(w, i);
		for (size_t k = i; k < end; k++)
			kept |= w->items[k].kept;
		for (size_t k = i; k < end; k++)
			w->items[k].kept = kept;
	}
}

/* ---- judging one ---- */

struct after {
	nod_time from;
	bool slept; /* until then */
};

/* What ended the silence after a span. */
static struct after after_of(const struct work *w, const struct item *item)
{
	const struct nod_track *track = item->track;
	const struct nod_span *next = item->index + 1 < track->span_count
					      ? &track->spans[item->index + 1]
					      : &track->span;
	const struct nod_span_sums *sums = &w->engine->sums;

	for (size_t i = 0; i < sums->run_count; i++) {
		const struct nod_run *run = &sums->runs[i];
		if ((size_t)track->network >= run->network_count)
			continue;
		const struct nod_span_sum *sum = &run->networks[track->network];
		if (sum->count && sum->from.ns > item->span->from.ns &&
		    sum->from.ns < next->from.ns)
			return (struct after){sum->from, sum->slept_before};
	}
	return (struct after){next->from, next->slept_before};
}

static int64_t since_lock(const struct work *w, nod_time from, nod_time to)
{
	int64_t begin = from.ns > w->engine->lock.ns ? from.ns : w->engine->lock.ns;

	return to.ns > begin ? to.ns - begin : 0;
}

/* What the silence after it adds, as in network-verdict.c and compare-proof.c. */
static void judge_silence(const struct work *w, const struct item *item, struct nod_span_sum *sum)
{
	const struct nod_span *span = item->span;
	struct after after = after_of(w, item);
	int64_t silence = since_lock(w, span->to, after.from);

	if (after.from.ns <= w->engine->lock.ns)
		return;
	if (span->silence_known && silence >= item->track->quiet.ns)
		sum->longest_asleep.ns = silence;
	if (!after.slept)
		return;
	sum->slept_at = sum->first_slept_at = span->to;
	sum->asleep_known = nod_time_since(after.from, span->to);
}

/* The same as if it were the only one, in the words of the findings. */
static struct nod_span_sum judge(const struct work *w, const struct item *item)
{
	const struct nod_span *span = item->span;
	struct nod_span_sum sum = {.count = 1, .from = span->from, .to = span->to,
				   .slept_before = span->slept_before,
				   .silence_known = span->silence_known};
	bool woken = nod_analysis_unexplained(&w->a, span->slept_before, span->from);

	sum.slept_at = sum.first_slept_at = NOD_TIME_NONE;
	sum.parts.first = sum.parts.last = sum.begun.first = sum.begun.last = NOD_TIME_NONE;
	sum.awake = sum.longest = nod_time_since(span->to, span->from);
	sum.awake_locked.ns = since_lock(w, span->from, span->to);
	sum.awake_late = nod_analysis_late_overlap(&w->a, item->track->network, span->from,
						   span->to);
	sum.woken.ns = woken ? sum.awake.ns : 0;
	sum.held = !woken && sum.awake_late.ns > NOD_LATE_MIN_NS;
	judge_silence(w, item, &sum);
	return sum;
}

/* ---- a story ---- */

static struct nod_sender sender_of(const struct nod_track *track, int ident)
{
	return nod_track_sender(track, &track->idents.items[ident]);
}

/* When anybody but the first speaker spoke in the episode [first, end). */
static nod_time second_speaker(const struct work *w, size_t first, size_t end)
{
	const struct item *begin = &w->items[first];
	struct nod_sender sender = sender_of(begin->track, begin->span->first[0].ident);
	nod_time second = NOD_TIME_NONE;

	for (const struct item *item = begin; item < &w->items[end]; item++)
		for (int k = 0; item->wake && k < item->span->first_count; k++) {
			const struct nod_speaker *s = &item->span->first[k];
			struct nod_sender other = sender_of(item->track, s->ident);
			bool earlier = !nod_time_is_set(second) || s->time.ns < second.ns;
			if (earlier && !nod_sender_same(&other, &sender))
				second = s->time;
		}
	return second;
}

static struct nod_ident_wakes *wakes_of(const struct work *w, const struct nod_track *track,
					int ident)
{
	return &w->engine->sums.idents[track->network][ident];
}

/* Who began it, and what network management says of that (as in tally.c). */
static void credit(const struct work *w, size_t first, size_t end)
{
	const struct item *begin = &w->items[first];
	const struct nod_span *span = begin->span;
	struct nod_ident_wakes *who = wakes_of(w, begin->track, span->first[0].ident);
	nod_time second = second_speaker(w, first, end);
	int64_t lead = nod_time_is_set(second) ? second.ns - span->from.ns : INT64_MAX;

	who->first_of++;
	who->clear += lead >= NOD_CLEAR_LEAD_NS;
	who->only_of += !nod_time_is_set(second);
	if (nod_time_is_set(second))
		who->lead_ns = nod_ns_add(who->lead_ns, lead);
	if (span->requester != NOD_NONE)
		wakes_of(w, begin->track, span->requester)->kept_in++;
	for (int k = 0; k < 2; k++)
		if (span->active_wakers[k] != NOD_NONE)
			wakes_of(w, begin->track, span->active_wakers[k])->active_in++;
}

static void note_story(struct nod_run *run, nod_time time, bool explained)
{
	if (!run->wakes.count++)
		run->wakes.from = time;
	run->wakes.to = time;
	run->wakes.explained += explained;
	if (!explained)
		nod_intervals_add(&run->wakes.unexplained, time);
}

/* Adds an episode to the run. Nothing in it needs memory. */
static void add_episode(struct work *w, struct nod_run *run, size_t first, size_t end)
{
	const struct item *begin = &w->items[first];
	nod_time time = begin->span->from;
	bool explained = begin->wake && nod_analysis_cause_of(&w->a, time);

	if (begin->wake)
		note_story(run, time, explained);
	if (begin->wake && !explained)
		credit(w, first, end);
	for (size_t i = first; i < end; i++) {
		const struct item *item = &w->items[i];
		struct nod_span_sum sum = judge(w, item);
		sum.wakes = item->wake && !explained;
		sum.wakes_explained = item->wake && explained;
		if (sum.wakes)
			nod_intervals_add(&sum.parts, item->span->from);
		if (sum.wakes && i == first)
			nod_intervals_add(&sum.begun, time);
		nod_span_sum_join(&run->networks[item->track->network], &sum);
		run->to = item->span->from;
	}
}

/* ---- runs ---- */

static int begin_run(struct work *w, nod_time from)
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
 * earlier runs, and lets what lies between two kept ones become one run. First
 * the runs are made, then filled. */
static int build_runs(struct work *w, bool fill)
{
	const struct nod_span_sums *sums = &w->engine->sums;
	size_t old = 0, made = 0;
	bool open = false; /* the run made last goes on */

	for (size_t i = 0, end; i < w->count || old < sums->run_count; i = end) {
		bool run = old < sums->run_count &&
			   (i >= w->count || sums->runs[old].from.ns < w->items[i].span->from.ns);
		bool kept = !run && w->items[i].kept;
		nod_time from = run ? sums->runs[old].from : w->items[i].span->from;
		end = run ? i : episode_end(w, i);
		if (!kept && !open && !fill && begin_run(w, from))
			return -ENOMEM;
		made += !kept && !open;
		open = !kept;
		if (fill && run)
			add_run(&w->runs[made - 1], &sums->runs[old]);
		else if (fill && !kept)
			add_episode(w, &w->runs[made - 1], i, end);
		old += run;
	}
	return 0;
}

/* Room for all that is added up, so that nothing can fail later. */
static int make_room(struct work *w)
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
static void forget_summed(struct work *w)
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

static void commit(struct work *w)
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

void nod_spans_sum_up(struct nod_engine *engine, struct nod_track *track)
{
	struct work w = {.engine = engine};

	w.found = (struct nod_findings){.marks = engine->marks, .mark_count = engine->mark_count,
					.lock = engine->lock};
	w.a = (struct nod_analysis){.engine = engine, .f = &w.found};
	int status = collect(&w);
	if (!status) {
		find_episodes(&w);
		choose(&w);
		status = make_room(&w);
	}
	if (!status)
		status = make_room_for_idents(engine);
	if (!status)
		commit(&w);
	else
		free_runs(w.runs, w.run_count);
	free(w.items);
	/* When little could be summed up: not again for every span. */
	size_t limit = nod_span_sums_limit(&engine->sums);
	track->span_limit = track->span_count + NOD_SPANS_BATCH > limit
				    ? track->span_count + NOD_SPANS_BATCH
				    : limit;
}
