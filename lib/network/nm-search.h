/* SPDX-License-Identifier: MIT */
/* The search for network management on a track whose vehicle file does not say. It goes
 * on as long as frames come: what is found is adopted, nodes that join are learned, and
 * what turns out to be none is given up. Internal to the engine. */
#ifndef NOD_NM_SEARCH_H
#define NOD_NM_SEARCH_H

#include "frame.h"
#include "ident.h"
#include "track.h"

/* A frame of an ID in which it is still looked for (NOD_IDENT_SEARCHED). Returns 0 or -ENOMEM. */
int nod_nm_search_take(struct nod_track *track, struct nod_ident *ident,
		       const struct nod_frame *frame);

/* Asks for what was found so far, before something is said of it: else what came after it was
 * last asked is left out, and a first vehicle file drafted of the same frames says otherwise.
 * Returns 0 or -ENOMEM. */
int nod_nm_search_conclude(struct nod_track *track);

#endif
