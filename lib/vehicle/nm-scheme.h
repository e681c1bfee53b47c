/* SPDX-License-Identifier: MIT */
/* The schemes of network management, in one table: a new one is a row here, an enumerator
 * in vehicle.h, and what reads its messages and finds them (lib/network). */
#ifndef NOD_NM_SCHEME_H
#define NOD_NM_SCHEME_H

#include "vehicle.h"

struct nod_nm_scheme_row {
	enum nod_nm_scheme scheme;
	const char *word;       /* in a vehicle file */
	const char *name;       /* for people, in full */
	const char *short_name; /* ... in a list of networks */
	bool has_messages;      /* of its own, in a range of IDs */
	bool has_bytes;         /* node, control and partial network bytes have positions */
};

const struct nod_nm_scheme_row *nod_nm_scheme_row(enum nod_nm_scheme scheme);

#endif
