/* SPDX-License-Identifier: MIT */
/* A capture read by the hundred frames, where it pays by a thread of its own:
 * while one thread reads, unpacks and parses, the other judges.
 *
 * What is delivered does not depend on which way it is read. */
#ifndef NOD_READ_AHEAD_H
#define NOD_READ_AHEAD_H

#include <stdbool.h>
#include <stddef.h>

#include "source.h"

struct nod_read_ahead;

struct nod_batch {
	const struct nod_frame *frames; /* in the order of the capture */
	size_t count;
	const struct nod_event *event; /* what comes behind them, no frame; NULL: nothing */
};

enum nod_read_ahead_by {
	NOD_READ_BY_CALLER, /* in nod_read_ahead_next() */
	NOD_READ_BY_THREAD, /* meanwhile */
	NOD_READ_UNPACKED,  /* in nod_read_ahead_next(), but a thread unpacks what is packed */
	NOD_READ_BY_CHOICE  /* with a thread when the file is large and there are two processors */
};

/* Opens a capture; errors as nod_source_open(). The names of interfaces are
 * added to `table` with the batch they occur in; but with NOD_READ_BY_CALLER
 * nobody else may add to it meanwhile. */
struct nod_read_ahead *nod_read_ahead_open(const char *path, struct nod_interfaces *table,
					   enum nod_read_ahead_by by, struct nod_error *err);

/* The next frames and what follows them. Returns 1 with *batch valid until the
 * next call, 0 at the end, or a negative errno with err set when the input
 * cannot be read on. */
int nod_read_ahead_next(struct nod_read_ahead *ahead, struct nod_batch *batch,
			struct nod_error *err);

/* What has been read up to the batch delivered last, and what the capture is,
 * as nod_source_counts() and nod_source_form() say. */
void nod_read_ahead_counts(const struct nod_read_ahead *ahead, struct nod_source_counts *counts);
const char *nod_read_ahead_form(const struct nod_read_ahead *ahead);

/* NULL is fine. */
void nod_read_ahead_close(struct nod_read_ahead *ahead);

#endif
