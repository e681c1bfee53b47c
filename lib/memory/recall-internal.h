/* SPDX-License-Identifier: MIT */
/* Shared by the files of recall.c. */
#ifndef NOD_RECALL_INTERNAL_H
#define NOD_RECALL_INTERNAL_H

#include "recall.h"

/* What a recording is to the one that is analysed. */
enum nod_kin { NOD_KIN_NONE, NOD_KIN_LIKE, NOD_KIN_SAME };

struct nod_recalling {
	struct nod_known *known;
	struct nod_arena *arena;
	const struct nod_car *self;
	const struct nod_findings *f;
	const struct nod_car *cars;
	enum nod_kin *kin; /* of each; NONE for what is left out, too */
	size_t count;
	nod_time last_good; /* end of the last good sleep of this car before; NONE: none */
	const struct nod_recall_wish *wish;
};

/* recall-solved.c: solved cars, and who of the senders here it was in them. 0 or -ENOMEM. */
int nod_recall_solved(struct nod_recalling *r);

/* True for a recording of this car, in the trouble that it has now: after its last good sleep. */
bool nod_recall_is_this_trouble(const struct nod_recalling *r, size_t i);

/* recall-words.c: what was used, in words. 0 or -ENOMEM. */
int nod_recall_words(struct nod_recalling *r);

#endif
