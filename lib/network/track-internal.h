/* SPDX-License-Identifier: MIT */
/* What the files of the track share: track.c has what frames need, track-spans.c the awake
 * spans, span-end.c what is said of one when it ends. */
#ifndef NOD_TRACK_INTERNAL_H
#define NOD_TRACK_INTERNAL_H

#include "track.h"

/* A silence is over, or the first frame has come: closes the open span, and begins one. 0 or
 * -ENOMEM. */
int nod_track_begin_span(struct nod_track *track, nod_time time);

/* The first frame of a message in the open span. 0 or -ENOMEM. */
int nod_track_note_speaker(struct nod_track *track, struct nod_ident *ident, nod_time time);

/* Fills in who spoke last in the running span, who was alone at its end, who woke the network
 * and who kept it. `span` is the track's own or a copy of it. */
void nod_track_finish_span(struct nod_track *track, struct nod_span *span);

#endif
