/* Awake spans that are not kept one by one, but summed up.
 *
 * A car that is woken every minute is so ten thousand times in a week. What one
 * such wake-up looks like, the first of them and the last ones show; of those in
 * between only sums matter. So the engine keeps the first spans since the lock,
 * the last ones, and those around every isolation and refit; the others are
 * judged as soon as nothing can change their judgement, and added to a sum for
 * the stretch of time (a run) that lies between two kept ones.
 *
 * Verdict, suspects and probabilities follow from sums that are exact: they are
 * the same as with all spans kept. What is not there any more is the list:
 * nod_engine_keep_spans() is for who wants that. Internal to the engine. */
#ifndef NOD_SPAN_SUMS_H
#define NOD_SPAN_SUMS_H

#include <stddef.h>
#include <stdint.h>

#include "findings.h"

struct nod_engine;
struct nod_track;

/* Kept in full: so many wake-ups after the lock, and so many before now. Chosen:
 * together a week of one every 20 min; a network's are below 250 KB. */
#define NOD_SPANS_FIRST 128
#define NOD_SPANS_LAST 384

/* Summed up when there is a part more than that, 1/so many, so that it costs little per
 * span. Chosen. */
#define NOD_SPANS_MORE 4

/* Where every span is listed or drawn, not only judged: a week of one wake-up a
 * minute, in under 4 MB a network. Chosen. */
#define NOD_SPANS_MAX 10080

/* A first speaker this far ahead of the second is clearly first; closer, the
 * order may be the buffers'. Chosen: longer than one frame at 50 kbit/s. */
#define NOD_CLEAR_LEAD_NS (5 * NOD_NS_PER_MS)

/* What one message did in the unexplained wake-ups that were summed up. */
struct nod_ident_wakes {
	unsigned first_of, clear, only_of; /* first; of these clearly; of these alone */
	unsigned active_in, kept_in;	   /* as network management says, see tally.c */
	int64_t lead_ns;		   /* where there was a second speaker, ns */
};

/* What lies between two kept wake-ups: episodes of all networks. */
struct nod_run {
	nod_time from, to; /* first and last begin of a span in it */
	struct nod_wake_sum wakes;
	struct nod_span_sum *networks; /* by network; those with count 0 say nothing */
	size_t network_count;
};

struct nod_span_sums {
	struct nod_run *runs; /* in time order */
	size_t run_count;
	struct nod_ident_wakes **idents; /* by network, by ident of its track */
	uint32_t *ident_counts;
	size_t network_count; /* of idents and ident_counts */
	size_t first, last;   /* wake-ups kept in full */
};

void nod_span_sums_clear(struct nod_span_sums *sums);

/* The car was locked (again): what was judged before does not count. */
void nod_span_sums_locked(struct nod_span_sums *sums);

/* With so many spans of a network, room is to be made. */
size_t nod_span_sums_limit(const struct nod_span_sums *sums);

/* Keeps so many wake-ups in full, the first and the last ones; call before the
 * first event. */
void nod_engine_keep_spans(struct nod_engine *engine, size_t first, size_t last);

/* Sums up what need not be kept, since `track` has as many spans as it may. 0, or
 * -ENOMEM: then all is as it was. */
int nod_spans_sum_up(struct nod_engine *engine, struct nod_track *track);

/* What is known of a message; all 0 when nothing was summed up. */
struct nod_ident_wakes nod_span_sums_ident(const struct nod_span_sums *sums, size_t network,
					   uint32_t ident);

/* Appends what comes later. */
void nod_intervals_add(struct nod_intervals *intervals, nod_time time);
void nod_intervals_join(struct nod_intervals *intervals, const struct nod_intervals *later);
void nod_span_sum_join(struct nod_span_sum *sum, const struct nod_span_sum *later);

/* How long it was awake within [from, to]; in a part of the stretch as in all of it. */
int64_t nod_span_sum_awake(const struct nod_span_sum *sum, int64_t from, int64_t to);

#endif
