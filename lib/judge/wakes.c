/* SPDX-License-Identifier: MIT */
/* Wake-ups as one story across networks: who spoke first, on which network,
 * how long before anybody else, and whether the journal explains it. */
#include "analysis.h"

#include <errno.h>
#include <stdlib.h>

struct start {
	nod_time time;
	const struct nod_network_finding *network;
	const struct nod_span_finding *span;
};

static int compare_starts(const void *a, const void *b)
{
	const struct start *x = a, *y = b;
	if (x->time.ns != y->time.ns)
		return x->time.ns < y->time.ns ? -1 : 1;
	return (x->network->network > y->network->network) -
	       (x->network->network < y->network->network);
}

static size_t collect(const struct nod_analysis *a, struct start *starts)
{
	size_t count = 0;

	for (size_t n = 0; n < a->f->network_count; n++) {
		const struct nod_network_finding *network = &a->f->networks[n];
		for (size_t i = 0; i < network->span_count; i++) {
			const struct nod_span_finding *span = &network->spans[i];
			bool wake = span->slept_before && span->first_count &&
				    span->from.ns > a->f->lock.ns;
			if (!wake)
				continue;
			if (starts)
				starts[count] = (struct start){span->from, network, span};
			count++;
		}
	}
	return count;
}

/* The first frame of anybody but `sender` in the spans of one story. */
static nod_time second_speaker(const struct nod_analysis *a, const struct start *starts,
			       size_t count, int sender)
{
	nod_time second = NOD_TIME_NONE;

	for (size_t i = 0; i < count; i++)
		for (int k = 0; k < starts[i].span->first_count; k++) {
			const struct nod_speaker *s = &starts[i].span->first[k];
			bool other = a->f->idents[s->ident].sender != sender;
			if (other && (!nod_time_is_set(second) || s->time.ns < second.ns))
				second = s->time;
		}
	return second;
}

static nod_time latest_end(const struct start *starts, size_t count)
{
	nod_time end = starts[0].span->to;

	for (size_t i = 1; i < count; i++)
		if (starts[i].span->to.ns > end.ns)
			end = starts[i].span->to;
	return end;
}

static void tell(struct nod_analysis *a, struct nod_wake_finding *wake, const struct start *starts,
		 size_t count)
{
	const struct nod_speaker *first = &starts[0].span->first[0];
	const struct nod_mark_finding *cause = nod_analysis_cause_of(a, starts[0].time);

	wake->time = starts[0].time;
	wake->network = starts[0].network->network;
	wake->ident = first->ident;
	wake->sender = a->f->idents[first->ident].sender;
	nod_time second = second_speaker(a, starts, count, wake->sender);
	wake->lead = nod_time_is_set(second) ? nod_time_since(second, wake->time)
					     : NOD_DURATION_NONE;
	wake->awake_for = nod_time_since(latest_end(starts, count), wake->time);
	wake->networks_woken = (unsigned)count;
	bool used = !cause && nod_analysis_use_at(a, wake->time);
	bool amid = !cause && !used && nod_analysis_is_amid_traffic(a, wake->network, wake->time);
	bool meant = !cause && !used && !amid && nod_analysis_is_expected(a, wake);
	wake->cause = used    ? "the car was in use"
		      : amid  ? "others were awake anyway"
		      : meant ? NOD_CAUSE_EXPECTED
			      : "";
	wake->noted = cause != NULL;
	if (cause)
		wake->cause = nod_arena_printf(a->arena, "%s%s%s%s",
					       nod_mark_kind_name((enum nod_mark_kind)cause->kind),
					       *cause->subject ? " " : "", cause->subject,
					       cause->inferred ? " (seen, not entered)" : "");
	for (size_t i = 0; i < count; i++) {
		struct nod_network_finding *network = nod_analysis_network(
			a, starts[i].network->network);
		if (*wake->cause)
			network->wakes_explained++;
		else
			network->wakes++;
	}
}

int nod_analysis_find_wakes(struct nod_analysis *a)
{
	size_t count = collect(a, NULL);
	struct start *starts = malloc((count ? count : 1) * sizeof(*starts));

	a->f->wakes = nod_arena_alloc(a->arena, (count + 1) * sizeof(*a->f->wakes));
	if (!starts || !a->f->wakes) {
		free(starts);
		return -ENOMEM;
	}
	collect(a, starts);
	qsort(starts, count, sizeof(*starts), compare_starts);
	for (size_t i = 0, next; i < count; i = next) {
		for (next = i + 1; next < count; next++)
			if (starts[next].time.ns - starts[i].time.ns > NOD_ONE_STORY_NS)
				break;
		tell(a, &a->f->wakes[a->f->wake_count++], &starts[i], next - i);
	}
	free(starts);
	return 0;
}
