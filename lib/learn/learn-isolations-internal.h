/* SPDX-License-Identifier: MIT */
/* Shared by the files that weigh what an isolation says of each ID. */
#ifndef NOD_LEARN_ISOLATIONS_INTERNAL_H
#define NOD_LEARN_ISOLATIONS_INTERNAL_H

#include "learn-internal.h"

/* The next frame is due after one period; half of it more for jitter. Chosen. */
#define NOD_LEARN_DUE_PERIODS 1.5

/* What is known of one ID in one recording while an isolation is looked at. */
struct nod_learn_view {
	const struct nod_findings *f;
	const struct nod_network_finding *n;
	const struct nod_heard_id *heard;
	const struct nod_isolation_finding *isolation;
	int64_t from, to, end; /* the marks; of the recording */
	int64_t margin;        /* how far the hand may be from the mark */
	int64_t stop, resume;  /* last frame before the silence, first one after; or `end` */
	bool back, refitted;
	double interval; /* ns */
	double awake_ns; /* of the network in the recording */
	double missed;
	bool management; /* a network-management message */
	double accident; /* that it fell silent in this window by itself */
	struct nod_learn_id *id;
};

/* When the hand was at the fuse, as the silent IDs have it: what hangs on it
 * stops at once, within its own period; what follows stops later. */
struct nod_learn_moment {
	int64_t from, to; /* the ID that defines it: its last frame, and when the next was due */
	double posterior; /* 0..1, over all moments */
};

static inline int64_t nod_learn_least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

/* The network slept at some time between. */
bool nod_learn_slept_between(const struct nod_learn_view *v, int64_t from, int64_t to);

/* One moment for each silent ID, with its posterior. */
void nod_learn_weigh_moments(const struct nod_learn_view *views, size_t count,
			     struct nod_learn_moment *moments);

/* The probability that it was done when this ID stopped. */
double nod_learn_at_its_moment(const struct nod_learn_view *v,
			       const struct nod_learn_moment *moments, size_t count);

#endif
