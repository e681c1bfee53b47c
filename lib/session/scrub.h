/* SPDX-License-Identifier: MIT */
/* Takes out of a recording what is nobody's business, and leaves what the fault
 * shows in: IDs, lengths and times always stay.
 *
 *     payload   Every byte of application frames becomes 00. Kept are network
 *               management (by the vehicle file, or as detected from the traffic, which
 *               takes it as a whole), error reports, and of diagnostic frames the
 *               first three bytes (transport and service; the data behind them go).
 *               What payload tells (stuck inputs, counters) is gone.
 *     vin       Every vehicle identification number becomes XXXX..., see vin.h;
 *               also in the journal, the title and the vehicle file. */
#ifndef NOD_SCRUB_H
#define NOD_SCRUB_H

#include <stdbool.h>
#include <stdint.h>

#include "event.h"
#include "source.h"
#include "vehicle.h"

enum nod_scrub_kind { NOD_SCRUB_NOTHING, NOD_SCRUB_PAYLOAD, NOD_SCRUB_VIN };

/* Finds the kind of a word. Returns 0 or -EINVAL. */
int nod_scrub_kind_parse(enum nod_scrub_kind *kind, const char *word);

/* "payload", "vin", "nothing". */
const char *nod_scrub_kind_name(enum nod_scrub_kind kind);

struct nod_scrub;

/* vehicle NULL: not known. `interfaces` is used during the first pass only.
 * NULL when memory ran out. */
struct nod_scrub *nod_scrub_new(enum nod_scrub_kind kind, const struct nod_vehicle *vehicle,
				const struct nod_interfaces *interfaces);
void nod_scrub_free(struct nod_scrub *scrub);

/* First pass: all frames of the session, in order. Returns 0 or -ENOMEM. */
int nod_scrub_look(struct nod_scrub *scrub, const struct nod_frame *frame);
void nod_scrub_ready(struct nod_scrub *scrub);

/* Second pass: the same frames again, each changed in place. */
void nod_scrub_frame(struct nod_scrub *scrub, struct nod_frame *frame);

/* Any text that goes along, changed in place. */
void nod_scrub_text(const struct nod_scrub *scrub, char *text);

/* Frames that were changed so far. */
uint64_t nod_scrub_changed(const struct nod_scrub *scrub);

#endif
