/* SPDX-License-Identifier: MIT */
/* What the daemon knows right now, as JSON for clients: see PROTOCOL.md. */
#ifndef NOD_VIEW_H
#define NOD_VIEW_H

#include <jansson.h>

#include "daemon.h"

/* The state of the session, the taps, the networks, the suspects, in a form
 * small enough for a screen. NULL when memory ran out. */
json_t *nod_view_make(struct nod_daemon *daemon);

/* What is listened to. */
json_t *nod_view_taps(const struct nod_tap *taps, size_t count);

/* Adds what the findings say, for networks heard through these taps. */
void nod_view_add_findings(json_t **view, const struct nod_findings *f, const struct nod_tap *taps,
			   size_t tap_count);

/* What the map names that a person may point at: fuses, modules, inputs. */
json_t *nod_view_map(const struct nod_vehicle *vehicle);

/* The whole answer, as the analysis of the recording would give it: {"text"},
 * or {"json"} when asked for. NULL with err set. */
json_t *nod_view_answer(struct nod_daemon *daemon, bool as_json, struct nod_error *err);

#endif
