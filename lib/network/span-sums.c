/* Adding up: intervals, spans, runs. What is summed up, sum-up.c says. */
#include "span-sums.h"

#include <stdlib.h>

#include "engine-internal.h"

void nod_span_sums_clear(struct nod_span_sums *sums)
{
	for (size_t i = 0; i < sums->run_count; i++)
		free(sums->runs[i].networks);
	for (size_t i = 0; i < sums->network_count; i++)
		free(sums->idents[i]);
	free(sums->runs);
	free(sums->idents);
	free(sums->ident_counts);
}

static void forget(struct nod_span_sum *sum)
{
	const struct nod_span_sum kept = *sum;

	*sum = (struct nod_span_sum){.count = kept.count, .from = kept.from, .to = kept.to,
				     .slept_before = kept.slept_before,
				     .silence_known = kept.silence_known,
				     .awake = kept.awake, .longest = kept.longest};
	sum->slept_at = sum->first_slept_at = NOD_TIME_NONE;
	sum->parts.first = sum->parts.last = NOD_TIME_NONE;
	sum->begun.first = sum->begun.last = NOD_TIME_NONE;
}

void nod_span_sums_locked(struct nod_span_sums *sums)
{
	for (size_t i = 0; i < sums->run_count; i++) {
		struct nod_run *run = &sums->runs[i];
		run->wakes = (struct nod_wake_sum){.from = NOD_TIME_NONE, .to = NOD_TIME_NONE};
		run->wakes.unexplained.first = run->wakes.unexplained.last = NOD_TIME_NONE;
		for (size_t n = 0; n < run->network_count; n++)
			forget(&run->networks[n]);
	}
	for (size_t n = 0; n < sums->network_count; n++) {
		free(sums->idents[n]);
		sums->idents[n] = NULL;
		sums->ident_counts[n] = 0;
	}
}

size_t nod_span_sums_limit(const struct nod_span_sums *sums)
{
	size_t kept = sums->first + sums->last;

	return kept + kept / NOD_SPANS_MORE + 1;
}

void nod_engine_keep_spans(struct nod_engine *engine, size_t first, size_t last)
{
	engine->sums.first = first;
	engine->sums.last = last;
}

struct nod_ident_wakes nod_span_sums_ident(const struct nod_span_sums *sums, size_t network,
					   uint32_t ident)
{
	static const struct nod_ident_wakes none;

	if (network >= sums->network_count || ident >= sums->ident_counts[network])
		return none;
	return sums->idents[network][ident];
}

void nod_intervals_join(struct nod_intervals *in, const struct nod_intervals *later)
{
	if (!nod_time_is_set(later->first))
		return;
	if (!nod_time_is_set(in->first)) {
		*in = *later;
		return;
	}
	nod_duration between = nod_time_since(later->first, in->last);
	double s = (double)between.ns / NOD_NS_PER_S;
	in->count += later->count + 1;
	in->sum += s + later->sum;
	in->squares += s * s + later->squares;
	in->longest.ns = between.ns > in->longest.ns ? between.ns : in->longest.ns;
	if (later->longest.ns > in->longest.ns)
		in->longest = later->longest;
	in->last = later->last;
}

void nod_intervals_add(struct nod_intervals *in, nod_time time)
{
	const struct nod_intervals one = {.first = time, .last = time};

	nod_intervals_join(in, &one);
}

static void add(nod_duration *sum, nod_duration d)
{
	sum->ns = nod_ns_add(sum->ns, d.ns);
}

static void take_longer(nod_duration *longest, nod_duration d)
{
	if (d.ns > longest->ns)
		*longest = d;
}

void nod_span_sum_join(struct nod_span_sum *sum, const struct nod_span_sum *later)
{
	if (!sum->count) {
		*sum = *later;
		return;
	}
	sum->count += later->count;
	sum->to = later->to;
	sum->silence_known &= later->silence_known;
	add(&sum->awake, later->awake);
	take_longer(&sum->longest, later->longest);
	sum->wakes += later->wakes;
	sum->wakes_explained += later->wakes_explained;
	if (!nod_time_is_set(sum->first_slept_at))
		sum->first_slept_at = later->first_slept_at;
	if (nod_time_is_set(later->slept_at))
		sum->slept_at = later->slept_at;
	add(&sum->awake_locked, later->awake_locked);
	add(&sum->awake_late, later->awake_late);
	add(&sum->asleep_known, later->asleep_known);
	add(&sum->woken, later->woken);
	take_longer(&sum->longest_asleep, later->longest_asleep);
	sum->held |= later->held;
	nod_intervals_join(&sum->parts, &later->parts);
	nod_intervals_join(&sum->begun, &later->begun);
}

int64_t nod_span_sum_awake(const struct nod_span_sum *sum, int64_t from, int64_t to)
{
	int64_t a = sum->from.ns > from ? sum->from.ns : from;
	int64_t b = sum->to.ns < to ? sum->to.ns : to;

	if (b <= a)
		return 0;
	if (a == sum->from.ns && b == sum->to.ns)
		return sum->awake.ns;
	return (int64_t)((double)sum->awake.ns * (double)(b - a) /
			 (double)nod_time_since(sum->to, sum->from).ns);
}
