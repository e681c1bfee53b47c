/* SPDX-License-Identifier: MIT */
/* What nodoff frames reads, for programs: schema/frames.json. */
#ifndef NOD_FRAMES_JSON_H
#define NOD_FRAMES_JSON_H

#include "source.h"

/* A line for a frame, lost frames or a header; nothing for any other event. */
void nod_frames_json_event(const struct nod_interfaces *names, const struct nod_event *event);

/* One object for all that was read. Returns an exit status. */
int nod_frames_json_counts(const struct nod_source *source);

#endif
