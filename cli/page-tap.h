/* SPDX-License-Identifier: MIT */
/* One tap on the page as it comes from a phone, and which ones came before. */
#ifndef NOD_PAGE_TAP_H
#define NOD_PAGE_TAP_H

#include <stdbool.h>

#include "page-server.h"

#define NOD_TAPS_KEPT 1024 /* ids that are known again; chosen: more than a day's taps */
#define NOD_TAP_ID 64      /* bytes of an id with its end */

/* A ring of ids; begins as zeros. */
struct nod_taps_known {
	char ids[NOD_TAPS_KEPT][NOD_TAP_ID];
	size_t count;
};

bool nod_taps_know(const struct nod_taps_known *known, const char *id);
void nod_taps_remember(struct nod_taps_known *known, const char *id);

/* Reads a tap into `tap`; its texts live as long as the object. NULL, or what is wrong. */
const char *nod_page_tap_read(const json_t *object, struct nod_page_tap *tap, const char **id);

#endif
