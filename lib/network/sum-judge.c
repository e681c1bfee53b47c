/* Judges the awake spans that are summed up, as if each were the only one, in the words
 * of the findings. */
#include "sum-up.h"

struct after {
	nod_time from;
	bool slept; /* until then */
};

/* What ended the silence after a span. */
static struct after after_of(const struct nod_summing *w, const struct nod_sum_item *item)
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

static int64_t since_lock(const struct nod_summing *w, nod_time from, nod_time to)
{
	int64_t begin = from.ns > w->engine->lock.ns ? from.ns : w->engine->lock.ns;

	return to.ns > begin ? to.ns - begin : 0;
}

/* What the silence after it adds, as in network-verdict.c and compare-proof.c. */
static void judge_silence(const struct nod_summing *w, const struct nod_sum_item *item,
			  struct nod_span_sum *sum)
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

static struct nod_span_sum judge(const struct nod_summing *w, const struct nod_sum_item *item)
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
static nod_time second_speaker(const struct nod_summing *w, size_t first, size_t end)
{
	const struct nod_sum_item *begin = &w->items[first];
	struct nod_sender sender = sender_of(begin->track, begin->span->first[0].ident);
	nod_time second = NOD_TIME_NONE;

	for (const struct nod_sum_item *item = begin; item < &w->items[end]; item++)
		for (int k = 0; item->wake && k < item->span->first_count; k++) {
			const struct nod_speaker *s = &item->span->first[k];
			struct nod_sender other = sender_of(item->track, s->ident);
			bool earlier = !nod_time_is_set(second) || s->time.ns < second.ns;
			if (earlier && !nod_sender_same(&other, &sender))
				second = s->time;
		}
	return second;
}

static struct nod_ident_wakes *wakes_of(const struct nod_summing *w, const struct nod_track *track,
					int ident)
{
	return &w->engine->sums.idents[track->network][ident];
}

/* Who began it, and what network management says of that (as in tally.c). */
static void credit(const struct nod_summing *w, size_t first, size_t end)
{
	const struct nod_sum_item *begin = &w->items[first];
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

void nod_summing_add(struct nod_summing *w, struct nod_run *run, size_t first, size_t end)
{
	const struct nod_sum_item *begin = &w->items[first];
	nod_time time = begin->span->from;
	bool explained = begin->wake && nod_analysis_cause_of(&w->a, time);

	if (begin->wake)
		note_story(run, time, explained);
	if (begin->wake && !explained)
		credit(w, first, end);
	for (size_t i = first; i < end; i++) {
		const struct nod_sum_item *item = &w->items[i];
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
