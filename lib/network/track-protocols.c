/* SPDX-License-Identifier: MIT */
/* What single messages say by a protocol: diagnostics, network management, the car in use. */
#include <errno.h>

#include "diagnostic.h"
#include "in-use.h"
#include "nm-search.h"
#include "nm-strangers.h"
#include "nm-watch.h"
#include "track-take.h"

/* Diagnostic IDs that a maker chose lie from here on among the standard IDs: common practice, no
 * source (they have the lowest priority). */
#define MAKERS_DIAGNOSTIC 0x700

/* The numbers of requests in ISO 14229-1 and of the OBD services (from memory:
 * 01-0A and 10-3E; answers add 40h, a refusal is 7Fh). */
static bool is_service(uint8_t number, bool *request)
{
	uint8_t service = number & 0xBF;

	*request = !(number & 0x40);
	return number == 0x7F || (service >= 0x01 && service <= 0x0A) ||
	       (service >= 0x10 && service <= 0x3E);
}

static void note_service(struct nod_ident *ident, const struct nod_frame *frame)
{
	struct nod_isotp message = nod_isotp_decode(frame);
	bool request = false;

	if (message.kind == NOD_ISOTP_INVALID)
		return;
	if ((message.kind == NOD_ISOTP_SINGLE || message.kind == NOD_ISOTP_FIRST) &&
	    !is_service(frame->data[message.start], &request))
		return;
	ident->service_like++;
	ident->service_requests += request;
}

static void note_diagnostics(struct nod_track *track, struct nod_ident *ident,
			     const struct nod_frame *frame)
{
	enum nod_diagnostic_kind kind = nod_diagnostic_may_be(ident->id)
						? nod_diagnostic_classify(frame)
						: NOD_DIAGNOSTIC_NONE;

	bool presence = nod_diagnostic_is_presence(frame);

	if (presence && ++ident->presences == NOD_PRESENCES_MIN)
		track->tester_heard = true;
	if (ident->id & NOD_ID_EXTENDED && !nod_diagnostic_may_be(ident->id)) {
		/* one other frame is enough, and nobody looks at the next ones */
		ident->protocols &= presence ? UINT8_MAX : (uint8_t)~NOD_IDENT_DIAGNOSTIC;
		return;
	}
	if (kind == NOD_DIAGNOSTIC_NONE) {
		if (ident->id >= MAKERS_DIAGNOSTIC)
			note_service(ident, frame);
		return;
	}
	ident->diagnostic++;
	ident->service_like++;
	if (nod_diagnostic_is_request(kind)) {
		ident->requests++;
		track->tester_heard = true;
	}
}

static int take_node(struct nod_track *track, struct nod_ident *ident,
		     const struct nod_frame *frame, enum nod_phase phase)
{
	int status = nod_nm_watch_take(ident, frame, &track->nm, phase, track->serial);

	if (!status && ident->node && track->nm.ids_given && nod_nm_is_stranger(track, ident)) {
		nod_nm_watch_forget(ident);
		ident->protocols &= (uint8_t)~NOD_IDENT_NM;
	}
	return status;
}

int nod_track_note_protocols(struct nod_track *track, struct nod_ident *ident,
			     const struct nod_frame *frame, enum nod_phase phase)
{
	if (ident->protocols & NOD_IDENT_DIAGNOSTIC)
		note_diagnostics(track, ident, frame);
	if (ident->protocols & NOD_IDENT_SEARCHED && nod_nm_search_take(track, ident, frame))
		return -ENOMEM;
	if (ident->protocols & NOD_IDENT_USE && track->engine)
		nod_in_use_take(track->engine, &track->span, frame);
	if (ident->protocols & NOD_IDENT_NM)
		return take_node(track, ident, frame, phase);
	return 0;
}
