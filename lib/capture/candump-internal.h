/* SPDX-License-Identifier: MIT */
/* Shared by the files that read candump logs. */
#ifndef NOD_CANDUMP_INTERNAL_H
#define NOD_CANDUMP_INTERNAL_H

#include "candump.h"

/* ID, '#' and what follows up to the end of the data. False with the reason in the scan. */
bool nod_candump_parse_frame(struct nod_scan *scan, struct nod_frame *frame);

#endif
