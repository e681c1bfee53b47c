/* SPDX-License-Identifier: MIT */
/* What the engine does by the scheme of network management: one struct a scheme, which its files
 * fill; the list of them is in nm-rules.c. Internal to the engine. */
#ifndef NOD_NM_RULES_H
#define NOD_NM_RULES_H

#include "nm-detect.h"
#include "nm-watch.h"

struct nod_nm_id;

struct nod_nm_rules {
	enum nod_nm_scheme scheme;
	bool only_requests; /* who does not ask for the network sends no message */

	/* Takes a message into the record of its node (nod_nm_watch_node()). 1: it is one; 0: it
	 * is none; or -ENOMEM. NULL: the scheme has no messages of its own. */
	int (*take)(const struct nod_nm_message *message);

	/* Fills the result from the traffic, confidence 0 when it does not fit. */
	void (*detect)(const struct nod_nm_detect *detect, struct nod_nm_detection *result);

	/* nod_nm_detect_is_node() of a result that is its own; NULL: there are no nodes. */
	bool (*is_node)(const struct nod_nm_detect *detect, const struct nod_nm_detection *found,
			const struct nod_nm_id *id);
};

/* NULL: nothing is done by this scheme. */
const struct nod_nm_rules *nod_nm_rules_of(enum nod_nm_scheme scheme);

/* All, in the order in which equally sure ones are believed; NULL behind the last. */
const struct nod_nm_rules *nod_nm_rules_at(unsigned index);

#endif
