/* SPDX-License-Identifier: MIT */
#include "nm-search.h"

#include <errno.h>

#include "nm-watch.h"

/* Below this confidence it is given up again: what was adopted on evidence is not dropped
 * for a moment's doubt. Chosen. */
#define REVOKED_BELOW 0.5

/* How often the detector is asked: after so many more frames, and once the search has
 * gone on for longer, after an eighth more. Asking costs as much as a thousand frames
 * where there are many IDs. */
#define ASKED_EVERY 64
#define ASKED_SHARE 8

static bool is_wanted(const struct nod_track *track, const struct nod_nm_detection *found)
{
	enum nod_nm_scheme stated = track->vehicle->networks[track->network].nm.scheme;
	bool adopted = track->nm_confidence > 0 && track->nm.scheme == found->layout.scheme;
	double least = adopted && found->proved ? REVOKED_BELOW : NOD_NM_ADOPTED;

	return found->layout.scheme != NOD_NM_UNKNOWN && found->confidence >= least &&
	       (stated == NOD_NM_UNKNOWN || stated == found->layout.scheme);
}

/* What an ID said while it was taken for a node is forgotten when it is none. */
static void forget_strangers(struct nod_track *track)
{
	for (uint32_t i = 0; i < track->idents.count; i++) {
		struct nod_ident *ident = &track->idents.items[i];
		if (ident->node && !(ident->protocols & NOD_IDENT_NM))
			nod_nm_watch_forget(ident);
	}
}

/* Nodes that spoke before it was known that they are some. */
static int recall_nodes(struct nod_track *track)
{
	for (uint32_t i = 0; i < track->idents.count; i++) {
		struct nod_ident *ident = &track->idents.items[i];
		int address = (int)((ident->id - track->found.base) & 0xFF);
		if (ident->protocols & NOD_IDENT_NM && !ident->node &&
		    nod_nm_watch_recall(ident, &track->nm, address))
			return -ENOMEM;
	}
	return 0;
}

static int ask(struct nod_track *track)
{
	struct nod_nm_detection found;

	track->asked = track->searched;
	nod_nm_detect_result(track->detector, &found);
	if (is_wanted(track, &found)) {
		track->nm = found.layout;
		track->nm_confidence = found.confidence;
	} else if (track->nm_confidence > 0) {
		track->nm = track->vehicle->networks[track->network].nm;
		track->nm_confidence = 0;
	} else {
		return 0;
	}
	track->found = found;
	nod_track_place_all(track);
	forget_strangers(track);
	return recall_nodes(track);
}

static bool last_of(const void *context, uint32_t id, nod_time *last)
{
	const struct nod_track *track = context;
	const struct nod_ident *ident = nod_idents_find(&track->idents, id);

	if (ident)
		*last = ident->last;
	return ident;
}

int nod_nm_search_take(struct nod_track *track, struct nod_ident *ident,
		       const struct nod_frame *frame)
{
	if (!nod_nm_detect_feed(track->detector, frame))
		ident->protocols &= (uint8_t)~NOD_IDENT_SEARCHED;
	if (!track->searched++)
		nod_nm_detect_ask_last(track->detector, last_of, track);
	if (track->searched < track->ask_at)
		return 0;
	track->ask_at = track->searched + ASKED_EVERY + track->searched / ASKED_SHARE;
	return ask(track);
}

int nod_nm_search_conclude(struct nod_track *track)
{
	return track->detector && track->asked != track->searched ? ask(track) : 0;
}
