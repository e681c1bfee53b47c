/* SPDX-License-Identifier: MIT */
/* What each frame does to the record of its message. */
#ifndef NOD_IDENT_TAKE_H
#define NOD_IDENT_TAKE_H

#include <errno.h>

#include "ident.h"
#include "payload-take.h"

/* A change that its sender tells at once: out of turn, or as it begins to speak. */
static inline void nod_ident_note_prompt(struct nod_ident *ident, uint64_t changed,
					 int64_t interval)
{
	if (!ident->after || interval >= ident->after->prompt_ns)
		return;
	if (interval < 0) {
		ident->after->waking_bits = ident->after->waking
						    ? ident->after->waking_bits & changed
						    : changed;
		ident->after->waking++;
		return;
	}
	ident->after->prompt_bits |= changed;
	ident->after->prompt++;
}

/* Takes a frame of this ID, not the first in its awake span when `interval`, the time
 * since its last one, is not negative. When it was the last is the caller's affair. Returns 0, or -ENOMEM: the frame is taken, but
 * something about it stays unknown. */
static inline int nod_ident_take(struct nod_ident *ident, const struct nod_frame *frame,
				 enum nod_phase phase, int64_t interval)
{
	uint64_t changed = nod_payload_take_of(&ident->payload, frame, ident->frames);
	struct nod_sampler *sampler = &ident->settled;
	int status = ident->payload.starved ? -ENOMEM : 0;

	ident->frames[phase]++;
	if (phase == NOD_PHASE_LATE) {
		struct nod_after *after = ident->after ? ident->after
						       : nod_ident_begin_after(ident);
		status = after ? status : -ENOMEM;
		sampler = after ? &after->intervals : NULL;
	}
	if (interval >= 0 && sampler)
		nod_sampler_take(sampler, interval);
	if (changed) {
		ident->changing |= changed;
		ident->last_change = frame->time;
		if (phase == NOD_PHASE_LATE) {
			nod_ident_note_prompt(ident, changed, interval);
			if (nod_ident_note_late_change(ident, changed, frame->time))
				status = -ENOMEM;
		}
	}
	return status;
}

#endif
