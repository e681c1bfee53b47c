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

static json_t *text(const char *s)
{
	json_t *json = json_string(s);

	return json ? json : json_string("(not UTF-8)");
}

static json_t *seconds(nod_duration d)
{
	return d.ns == INT64_MIN ? json_null() : json_real((double)d.ns / NOD_NS_PER_S);
}

static json_t *verdict(const struct nod_network_finding *n)
{
	return n ? json_string(nod_verdict_name(n->verdict)) : json_null();
}

static json_t *network(const struct nod_network_change *n)
{
	json_t *o = json_object();

	json_object_set_new(o, "name", text(n->name));
	json_object_set_new(o, "change", json_string(nod_change_name(n->change)));
	json_object_set_new(o, "before", verdict(n->before));
	json_object_set_new(o, "after", verdict(n->after));
	json_object_set_new(o, "slept_s", seconds(n->slept));
	json_object_set_new(o, "needed_s", seconds(n->needed));
	json_object_set_new(o, "needed_why", text(n->needed_why));
	json_object_set_new(o, "reason", text(n->reason));
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

	json_object_set_new(o, "id", json_string(nod_id_print(id, i->id)));
	json_object_set_new(o, "network", text(i->network));
	json_object_set_new(o, "sender", text(i->sender));
	json_object_set_new(o, "change", json_string(nod_ident_change_name(i->kind)));
	json_object_set_new(o, "period_before_s", seconds(i->period_before));
	json_object_set_new(o, "period_after_s", seconds(i->period_after));
	if (i->kind == NOD_IDENT_BITS) {
		json_object_set_new(o, "flipped", mask(i->flipped));
		json_object_set_new(o, "moving_before", mask(i->moving_before));
		json_object_set_new(o, "moving_after", mask(i->moving_after));
	}
	return o;
}

static json_t *days(const struct nod_outlook *o)
{
	if (*o->missing)
		return json_null();
	if (o->battery.seconds.rule == NOD_BATTERY_NO_LIMIT)
		return json_integer(-1);
	return json_real((double)o->battery.seconds.rule / 86400);
}

static void add_current(json_t *o, const struct nod_comparison *c)
{
	if (c->current_known)
		json_object_set_new(o, "rest",
				    json_pack("{s:f,s:f,s:f,s:o,s:o}", "before_ma",
					      c->rest_before_ua / 1e3, "after_ma",
					      c->rest_after_ua / 1e3, "unsure_ma",
					      c->rest_unsure_ua / 1e3, "watched_s",
					      seconds(c->rest_watched), "needed_s",
					      seconds(c->rest_needed)));
	if (c->outlook_known)
		json_object_set_new(o, "days",
				    json_pack("{s:o,s:o}", "before", days(&c->outlook_before),
					      "after", days(&c->outlook_after)));
}

json_t *nod_comparison_json(const struct nod_comparison *c)
{
	json_t *o = json_object(), *reasons = json_array(), *networks = json_array(),
	       *idents = json_array();

	for (size_t i = 0; i < c->reason_count; i++)
		json_array_append_new(reasons, text(c->reasons[i]));
	for (size_t i = 0; i < c->network_count; i++)
		json_array_append_new(networks, network(&c->networks[i]));
	for (size_t i = 0; i < c->ident_count; i++)
		json_array_append_new(idents, ident(&c->idents[i]));
	json_object_set_new(o, "change", json_string(nod_change_name(c->change)));
	json_object_set_new(o, "sentence", text(c->sentence));
	json_object_set_new(o, "reasons", reasons);
	json_object_set_new(o, "networks", networks);
	add_current(o, c);
	json_object_set_new(o, "ids", idents);
	return o;
}
