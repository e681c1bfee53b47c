/* SPDX-License-Identifier: MIT */
#include "nm-rules.h"

extern const struct nod_nm_rules nod_nm_rules_osek;    /* nm-detect-osek.c */
extern const struct nod_nm_rules nod_nm_rules_autosar; /* nm-detect-autosar.c */
extern const struct nod_nm_rules nod_nm_rules_j1939;   /* nm-detect-j1939.c */

static const struct nod_nm_rules *const rules[] = {
	&nod_nm_rules_osek,
	&nod_nm_rules_autosar,
	&nod_nm_rules_j1939,
	NULL,
};

const struct nod_nm_rules *nod_nm_rules_at(unsigned index)
{
	return rules[index];
}

const struct nod_nm_rules *nod_nm_rules_of(enum nod_nm_scheme scheme)
{
	unsigned i = 0;

	while (rules[i] && rules[i]->scheme != scheme)
		i++;
	return rules[i];
}
