/* SPDX-License-Identifier: MIT */
/* A comparison for programs:
 *
 * { "change", "sentence", "reasons": [...],
 *   "networks": [{name, change, before, after, slept_s, needed_s, needed_why, reason}],
 *   "rest": {before_ma, after_ma, unsure_ma, watched_s, needed_s},    (when known in both)
 *   "days": {before, after},                      (null: not known, -1: no limit)
 *   "ids": [{id, network, sender, change, period_before_s, period_after_s,
 *            flipped, moving_before, moving_after}] }   (masks: hex of 64 bits) */
#include <inttypes.h>

#include "compare.h"
#include "json-build.h"

static json_t *seconds(nod_duration d)
{
	return d.ns == INT64_MIN ? json_null() : nod_json_number((double)d.ns / NOD_NS_PER_S);
}

static json_t *verdict(const struct nod_network_finding *n)
{
	return n ? nod_json_text(nod_verdict_name(n->verdict)) : json_null();
}

static json_t *network(const struct nod_network_change *n)
{
	json_t *o = json_object();

	nod_json_put(&o, "name", nod_json_text(n->name));
	nod_json_put(&o, "change", nod_json_text(nod_change_name(n->change)));
	nod_json_put(&o, "before", verdict(n->before));
	nod_json_put(&o, "after", verdict(n->after));
	nod_json_put(&o, "slept_s", seconds(n->slept));
	nod_json_put(&o, "needed_s", seconds(n->needed));
	nod_json_put(&o, "needed_why", nod_json_text(n->needed_why));
	nod_json_put(&o, "reason", nod_json_text(n->reason));
	return o;
}

static json_t *mask(uint64_t bits)
{
	return json_sprintf("%016" PRIX64, bits);
}

static json_t *ident(const struct nod_ident_change *i)
{
	char id[NOD_ID_TEXT];
	json_t *o = json_object();

	nod_json_put(&o, "id", nod_json_text(nod_id_print(id, i->id)));
	nod_json_put(&o, "network", nod_json_text(i->network));
	nod_json_put(&o, "sender", nod_json_text(i->sender));
	nod_json_put(&o, "change", nod_json_text(nod_ident_change_name(i->kind)));
	nod_json_put(&o, "period_before_s", seconds(i->period_before));
	nod_json_put(&o, "period_after_s", seconds(i->period_after));
	if (i->kind == NOD_IDENT_BITS) {
		nod_json_put(&o, "flipped", mask(i->flipped));
		nod_json_put(&o, "moving_before", mask(i->moving_before));
		nod_json_put(&o, "moving_after", mask(i->moving_after));
	}
	return o;
}

static json_t *days(const struct nod_outlook *o)
{
	if (*o->missing)
		return json_null();
	if (o->battery.seconds.rule == NOD_BATTERY_NO_LIMIT)
		return json_integer(-1);
	return nod_json_number((double)o->battery.seconds.rule / 86400);
}

static void add_current(json_t **o, const struct nod_comparison *c)
{
	if (c->current_known)
		nod_json_put(o, "rest",
			     json_pack("{s:f,s:f,s:f,s:o,s:o}", "before_ma",
				       c->rest_before_ua / 1e3, "after_ma", c->rest_after_ua / 1e3,
				       "unsure_ma", c->rest_unsure_ua / 1e3, "watched_s",
				       seconds(c->rest_watched), "needed_s",
				       seconds(c->rest_needed)));
	if (c->outlook_known)
		nod_json_put(o, "days",
			     json_pack("{s:o,s:o}", "before", days(&c->outlook_before), "after",
				       days(&c->outlook_after)));
}

json_t *nod_comparison_json(const struct nod_comparison *c)
{
	json_t *o = json_object(), *reasons = json_array(), *networks = json_array(),
	       *idents = json_array();

	for (size_t i = 0; i < c->reason_count; i++)
		nod_json_append(&reasons, nod_json_text(c->reasons[i]));
	for (size_t i = 0; i < c->network_count; i++)
		nod_json_append(&networks, network(&c->networks[i]));
	for (size_t i = 0; i < c->ident_count; i++)
		nod_json_append(&idents, ident(&c->idents[i]));
	nod_json_put(&o, "change", nod_json_text(nod_change_name(c->change)));
	nod_json_put(&o, "sentence", nod_json_text(c->sentence));
	nod_json_put(&o, "reasons", reasons);
	nod_json_put(&o, "networks", networks);
	add_current(&o, c);
	nod_json_put(&o, "ids", idents);
	return o;
}
