/* SPDX-License-Identifier: MIT */
/* The timeline by senders: what the findings say of a message, joined to its
 * row, and which senders are worth a line. */
#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>

#include "lookup.h"
#include "timeline.h"

void nod_timeline_add_sender(const struct nod_timeline *t, const struct nod_findings *f, int sender,
			     uint64_t counts[NOD_TIMELINE_BINS])
{
	for (size_t i = 0; i < nod_timeline_row_count(t); i++) {
		const struct nod_timeline_row *row = nod_timeline_row(t, i);
		int network = nod_timeline_row_network(t, f, row);
		const struct nod_ident_finding *ident = nod_lookup_ident(f, network, row->id);
		if (ident && ident->sender == sender)
			for (size_t b = 0; b < NOD_TIMELINE_BINS; b++)
				counts[b] += row->frames[b];
	}
}

struct ranked {
	int sender;
	double probability; /* as a suspect; 0: none */
	uint64_t late, frames;
};

static int by_rank(const void *a, const void *b)
{
	const struct ranked *x = a, *y = b;

	if (x->probability != y->probability)
		return x->probability < y->probability ? 1 : -1;
	if (x->late != y->late)
		return x->late < y->late ? 1 : -1;
	if (x->frames != y->frames)
		return x->frames < y->frames ? 1 : -1;
	return (x->sender > y->sender) - (x->sender < y->sender);
}

size_t nod_timeline_speaking(const struct nod_findings *f)
{
	bool *speaks = calloc(f->sender_count + 1, sizeof(*speaks));
	size_t count = 0;

	for (size_t i = 0; speaks && i < f->ident_count; i++) {
		bool *one = &speaks[f->idents[i].sender];
		count += f->idents[i].frames && !*one;
		*one |= f->idents[i].frames > 0;
	}
	errno = speaks ? 0 : ENOMEM;
	free(speaks);
	return count;
}

size_t nod_timeline_senders(const struct nod_findings *f, int *senders, size_t room)
{
	struct ranked *ranked = calloc(f->sender_count + 1, sizeof(*ranked));
	size_t count = 0;

	errno = ranked ? 0 : ENOMEM;
	if (!ranked)
		return 0;
	for (size_t i = 0; i < f->sender_count; i++)
		ranked[i].sender = (int)i;
	for (size_t i = 0; i < f->ident_count; i++) {
		ranked[f->idents[i].sender].late += f->idents[i].frames_late;
		ranked[f->idents[i].sender].frames += f->idents[i].frames;
	}
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].sender != NOD_NONE)
			ranked[f->suspects[i].sender].probability += f->suspects[i].probability;
	qsort(ranked, f->sender_count, sizeof(*ranked), by_rank);
	for (size_t i = 0; i < f->sender_count && count < room; i++)
		if (ranked[i].frames)
			senders[count++] = ranked[i].sender;
	free(ranked);
	errno = 0;
	return count;
}
