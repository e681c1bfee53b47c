/* SPDX-License-Identifier: MIT */
/* What happened when, in bounded memory, for pictures: the messages and the
 * current of one session in bins of time.
 *
 * Fed with the same events as the engine. The number of bins is fixed; when
 * the recording outgrows them, their length doubles and neighbours are
 * joined: counts are added, extremes kept. So a lone frame or a single spike of
 * the current is still there after three days.
 *
 * Times are the engine's: `shift` is nod_engine_clock_shift() and makes up for
 * steps of the recording's clock. */
#ifndef NOD_TIMELINE_H
#define NOD_TIMELINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "event.h"
#include "findings.h"
#include "source.h"

/* Chosen: as many as a wide screen has columns for; three days by 410 s. */
#define NOD_TIMELINE_BINS 1024
/* The first length of a bin. Chosen: a minute is shown by the tenth of a second. */
#define NOD_TIMELINE_FIRST_NS (100 * NOD_NS_PER_MS)
/* Messages with a row of their own: 1024 x 4 KiB at most; the frames of others
 * are counted in `unshown`. Chosen: above what a car's networks carry in all. */
#define NOD_TIMELINE_ROWS 1024
/* Stretches in which nobody listened, kept one by one. Chosen. */
#define NOD_TIMELINE_GAPS 256

/* The current in one bin. */
struct nod_timeline_current {
	int64_t low, high; /* microamps, of the samples; valid when count > 0 */
	double sum;
	uint64_t count;
};

struct nod_timeline_gap {
	int interface; /* or NOD_ALL_INTERFACES */
	nod_time from, to;
};

/* One message: an ID on one interface. */
struct nod_timeline_row {
	uint32_t id; /* with NOD_ID_EXTENDED */
	uint8_t interface;
	/* The first 64 payload bits since the last "locked" mark (else since the start): which
	 * were ever 1, which ever 0. Bit 0 is bit 0 of byte 0. */
	uint64_t ones, zeros;
	uint32_t frames[NOD_TIMELINE_BINS]; /* per bin, saturating */
};

struct nod_timeline;

/* The interfaces must outlive it. NULL when memory ran out. */
struct nod_timeline *nod_timeline_new(const struct nod_interfaces *interfaces);
void nod_timeline_free(struct nod_timeline *timeline);

/* Takes one event. Returns 0 or -ENOMEM (the event is then left out). */
int nod_timeline_take(struct nod_timeline *timeline, const struct nod_event *event,
		      nod_duration shift);

/* When bin 0 begins (NONE: nothing came), how long a bin is, bins in use. */
nod_time nod_timeline_origin(const struct nod_timeline *timeline);
nod_duration nod_timeline_bin(const struct nod_timeline *timeline);
size_t nod_timeline_bins(const struct nod_timeline *timeline);

/* When a bin begins; `bins in use` gives the end of the last. Saturates. */
nod_time nod_timeline_bin_begin(const struct nod_timeline *timeline, size_t bin);

size_t nod_timeline_row_count(const struct nod_timeline *timeline);
const struct nod_timeline_row *nod_timeline_row(const struct nod_timeline *timeline, size_t index);

/* The network of a row in the findings, NOD_NONE when it has none. */
int nod_timeline_row_network(const struct nod_timeline *timeline, const struct nod_findings *f,
			     const struct nod_timeline_row *row);

/* NOD_TIMELINE_BINS of them; NULL when there was no sample. */
const struct nod_timeline_current *nod_timeline_currents(const struct nod_timeline *timeline);

/* Frames lost by bin, an unknown number counted as 1. */
const uint32_t *nod_timeline_losses(const struct nod_timeline *timeline);
size_t nod_timeline_gap_count(const struct nod_timeline *timeline);
const struct nod_timeline_gap *nod_timeline_gap(const struct nod_timeline *timeline, size_t index);

/* Frames of messages that have no row. */
uint64_t nod_timeline_unshown(const struct nod_timeline *timeline);

/* Adds the frames of one sender of the findings to counts, by bin. */
void nod_timeline_add_sender(const struct nod_timeline *timeline, const struct nod_findings *f,
			     int sender, uint64_t counts[NOD_TIMELINE_BINS]);

/* How many senders have spoken at all. 0 with errno ENOMEM when memory ran out, else 0. */
size_t nod_timeline_speaking(const struct nod_findings *f);

/* The senders worth a line: suspects first, by probability, then those with
 * most frames after the deadline. Fills at most `room`; returns how many. When memory ran
 * out, none and errno is ENOMEM; else errno is 0. */
size_t nod_timeline_senders(const struct nod_findings *f, int *senders, size_t room);

/* The mean of the samples from `from` to `to` by bin, microamps; false when
 * there is none. Bins that are cut count in full. */
bool nod_timeline_mean_current(const struct nod_timeline *timeline, nod_time from, nod_time to,
			       double *ua);

#endif
