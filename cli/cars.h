/* SPDX-License-Identifier: MIT */
/* What a folder of recordings knows of those that a command judges: --cars, --no-cars and the
 * setting "cars". */
#ifndef NOD_CARS_H
#define NOD_CARS_H

#include <stdbool.h>

#include "arena.h"
#include "judged.h"
#include "known.h"

struct nod_cars_choice {
	const char *folder; /* of --cars; NULL: as the settings say */
	bool none;          /* --no-cars */
};

struct nod_cars;

/* Brings the index of the folder up to date and reads it. NULL in *cars: none is wanted, or a
 * folder of the settings cannot be used, which was said. Returns an exit status. */
int nod_cars_open(struct nod_cars **cars, const struct nod_cars_choice *choice);
void nod_cars_close(struct nod_cars *cars);

/* What was recalled for one recording; lives as long as its findings are used. */
struct nod_recalled {
	struct nod_known known;
	struct nod_arena arena;
	struct nod_judged good, earlier[NOD_EARLIER_MAX];
};

/* Judges it once more with what is known of its car and of like ones. cars NULL: does nothing.
 * `options`: those it was judged by. Returns an exit status; forget in any case. */
int nod_cars_recall(struct nod_cars *cars, struct nod_recalled *recalled, struct nod_judged *judged,
		    const struct nod_judge_options *options);
void nod_cars_forget(struct nod_recalled *recalled);

#endif
