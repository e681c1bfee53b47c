/* SPDX-License-Identifier: MIT */
/* What the commands that search in a recording share: what is looked for, and
 * how times are shown. */
#ifndef NOD_SEARCH_H
#define NOD_SEARCH_H

#include <jansson.h>
#include <stdbool.h>

#include "findings.h"

/* One thing that was named: an ID, or a module or other sender. */
struct nod_wanted {
	const char *text;
	bool is_id;
	uint32_t id;
	bool found; /* for whoever asks: something fitted */
};

/* "2A0" is an ID, anything that is no ID a sender's name (without case; "id
 * 2A0" and "module add" tell apart what could be both). */
void nod_wanted_parse(struct nod_wanted *wanted, const char *text);

/* Does this message fit? */
bool nod_wanted_fits(const struct nod_wanted *wanted, const struct nod_findings *f,
		     const struct nod_ident_finding *ident);

/* Index of a network by its name, NOD_NONE: there is none. */
int nod_search_network(const struct nod_findings *f, const char *name);

/* For JSON: decimal seconds as text, a length as a number; null: does not apply. */
json_t *nod_json_time(nod_time time);
json_t *nod_json_length(nod_duration length);

#endif
