/* SPDX-License-Identifier: MIT */
/* Which IDs a module sends, as a vehicle file states them: a value, a range,
 * or a value under a mask. struct nod_id_rule is in vehicle.h. */
#ifndef NOD_ID_RULE_H
#define NOD_ID_RULE_H

#include "error.h"
#include "vehicle.h"

/* Parses "2A0", "2A8-2AF", "300/7F0", or 8-digit forms for extended IDs;
 * blanks around - and / are skipped. `line` is left alone. 0 or -EINVAL with
 * err saying what was expected. */
int nod_id_rule_parse(struct nod_id_rule *rule, const char *text, struct nod_error *err);

/* The form that parses back to the same rule. Returns buf. */
#define NOD_ID_RULE_TEXT (2 * NOD_ID_TEXT)
char *nod_id_rule_print(char buf[NOD_ID_RULE_TEXT], const struct nod_id_rule *rule);

/* `id` carries NOD_ID_EXTENDED and no other flag. */
static inline bool nod_id_rule_matches(const struct nod_id_rule *rule, uint32_t id)
{
	if (rule->mask)
		return (id & (rule->mask | NOD_ID_EXTENDED)) == rule->first;
	return id >= rule->first && id <= rule->last;
}

/* True when the IDs of the rule are one range, which is then in *first and
 * *last: always so for values and ranges, and for masks whose free bits are
 * the lowest ones. */
bool nod_id_rule_is_range(const struct nod_id_rule *rule, uint32_t *first, uint32_t *last);

/* An ID that both rules fit: true and *id when there is one. Exact. */
bool nod_id_rules_overlap(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id);

#endif
