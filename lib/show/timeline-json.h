/* SPDX-License-Identifier: MIT */
/* The timeline of a session for programs. */
#ifndef NOD_TIMELINE_JSON_H
#define NOD_TIMELINE_JSON_H

#include <jansson.h>

#include "findings.h"
#include "timeline.h"

/* What happened when, as schema/timeline.json says. The caller lets go of it; NULL: out of
 * memory. */
json_t *nod_timeline_json(const struct nod_findings *f, const struct nod_timeline *timeline);

#endif
