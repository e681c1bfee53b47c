/* SPDX-License-Identifier: MIT */
#include "vehicle-check.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "id-rule.h"

int nod_claims_add(struct nod_claims *claims, const struct nod_claim *claim)
{
	if (claims->count == claims->room) {
		size_t room = claims->room ? claims->room * 2 : 64;
		struct nod_claim *items = realloc(claims->items, room * sizeof(*items));
		if (!items)
			return -ENOMEM;
		claims->items = items;
		claims->room = room;
	}
	claims->items[claims->count++] = *claim;
	return 0;
}

bool nod_module_sits_on(const struct nod_module *module, int network)
{
	for (size_t i = 0; i < module->network_count; i++)
		if (module->networks[i] == network)
			return true;
	return !module->network_count;
}

/* Two claims that collide; `later` is the one further down in the file. */
struct collision {
	const struct nod_claim *earlier, *later;
	uint32_t id; /* rules: one that both claim */
};

static void found(struct collision *c, const struct nod_claim *a, const struct nod_claim *b,
		  uint32_t id)
{
	const struct nod_claim *later = a < b ? b : a;

	if (!c->later || later < c->later)
		*c = (struct collision){a < b ? a : b, later, id};
}

/* ---- interfaces ---- */

static const char *interface_name(const struct nod_vehicle *v, const struct nod_claim *claim)
{
	return v->networks[claim->owner].interfaces[claim->item];
}

static void check_interfaces(const struct nod_vehicle *v, const struct nod_claims *claims,
			     struct collision *c)
{
	for (size_t i = 0; i < claims->count; i++) {
		const struct nod_claim *b = &claims->items[i];
		if (b->kind != NOD_CLAIM_INTERFACE)
			continue;
		for (const struct nod_claim *a = claims->items; a < b; a++)
			if (a->kind == NOD_CLAIM_INTERFACE && a->owner != b->owner &&
			    !strcmp(interface_name(v, a), interface_name(v, b)))
				found(c, a, b, 0);
	}
}

/* ---- node and source addresses ---- */

static int address_of(const struct nod_vehicle *v, const struct nod_claim *claim)
{
	const struct nod_module *module = &v->modules[claim->owner];

	return claim->kind == NOD_CLAIM_NODE ? module->nodes[claim->item]
					     : module->source_addresses[claim->item];
}

static void check_addresses(const struct nod_vehicle *v, const struct nod_claims *claims,
			    enum nod_claim_kind kind, int network, struct collision *c)
{
	const struct nod_claim *first[256] = {NULL};

	for (size_t i = 0; i < claims->count; i++) {
		const struct nod_claim *claim = &claims->items[i];
		if (claim->kind != kind || !nod_module_sits_on(&v->modules[claim->owner], network))
			continue;
		const struct nod_claim **slot = &first[address_of(v, claim)];
		if (!*slot)
			*slot = claim;
		else if ((*slot)->owner != claim->owner)
			found(c, *slot, claim, 0);
	}
}

/* ---- IDs ---- */

struct span {
	uint32_t first, last;
	const struct nod_claim *claim;
};

struct spans {
	struct span *items;             /* values, ranges, and masks that are ranges */
	const struct nod_claim **masks; /* the others */
	size_t count, mask_count;
};

static const struct nod_id_rule *rule_of(const struct nod_vehicle *v, const struct nod_claim *claim)
{
	return &v->modules[claim->owner].ids[claim->item];
}

static void collect(const struct nod_vehicle *v, const struct nod_claims *claims, int network,
		    struct spans *spans)
{
	spans->count = spans->mask_count = 0;
	for (size_t i = 0; i < claims->count; i++) {
		const struct nod_claim *claim = &claims->items[i];
		struct span span = {.claim = claim};
		if (claim->kind != NOD_CLAIM_RULE ||
		    !nod_module_sits_on(&v->modules[claim->owner], network))
			continue;
		if (nod_id_rule_is_range(rule_of(v, claim), &span.first, &span.last))
			spans->items[spans->count++] = span;
		else
			spans->masks[spans->mask_count++] = claim;
	}
}

static int compare_spans(const void *a, const void *b)
{
	const struct span *x = a, *y = b;

	if (x->first != y->first)
		return x->first < y->first ? -1 : 1;
	return x->claim < y->claim ? -1 : x->claim > y->claim;
}

/* Goes through the spans by their first ID and remembers the one that reaches
 * furthest, and the one of another module that does: if a span overlaps any
 * before it that is not its own module's, it overlaps one of these two. */
static void check_spans(struct spans *spans, struct collision *c)
{
	const struct span *far = NULL, *other = NULL;

	qsort(spans->items, spans->count, sizeof(*spans->items), compare_spans);
	for (const struct span *s = spans->items; s < spans->items + spans->count; s++) {
		const struct span *rival = far && far->claim->owner == s->claim->owner ? other
										       : far;
		if (rival && rival->last >= s->first)
			found(c, rival->claim, s->claim, s->first);
		if (!far || s->last > far->last) {
			if (far && far->claim->owner != s->claim->owner)
				other = far;
			far = s;
		} else if (s->claim->owner != far->claim->owner &&
			   (!other || s->last > other->last)) {
			other = s;
		}
	}
}

static void check_pair(const struct nod_vehicle *v, const struct nod_claim *a,
		       const struct nod_claim *b, struct collision *c)
{
	uint32_t id;

	if (a->owner != b->owner && nod_id_rules_overlap(rule_of(v, a), rule_of(v, b), &id))
		found(c, a, b, id);
}

static void check_masks(const struct nod_vehicle *v, const struct spans *spans, struct collision *c)
{
	for (size_t i = 0; i < spans->mask_count; i++) {
		for (size_t k = 0; k < spans->count; k++)
			check_pair(v, spans->masks[i], spans->items[k].claim, c);
		for (size_t k = 0; k < i; k++)
			check_pair(v, spans->masks[i], spans->masks[k], c);
	}
}

/* ---- all of it ---- */

static int report(const struct nod_vehicle *v, const struct collision *c, const char *name,
		  struct nod_error *err)
{
	const struct nod_claim *a = c->earlier, *b = c->later;
	char what[80], id[NOD_ID_TEXT];
	const char *first, *second;

	if (b->kind == NOD_CLAIM_INTERFACE) {
		snprintf(what, sizeof(what), "interface %.40s", interface_name(v, b));
		first = v->networks[a->owner].name;
		second = v->networks[b->owner].name;
	} else {
		if (b->kind == NOD_CLAIM_RULE)
			snprintf(what, sizeof(what), "ID %s", nod_id_print(id, c->id));
		else
			snprintf(what, sizeof(what), "%s %02X",
				 b->kind == NOD_CLAIM_NODE ? "node address" : "source address",
				 (unsigned)address_of(v, b));
		first = v->modules[a->owner].name;
		second = v->modules[b->owner].name;
	}
	return nod_error_at(
		err, EINVAL, name, b->line, b->column,
		"%s is claimed by `%s`, but `%s` claims it on line %u already; expected "
		"one owner on a network",
		what, second, first, a->line);
}

static size_t count_masks(const struct nod_vehicle *v, const struct nod_claims *claims,
			  const struct nod_claim **over)
{
	size_t masks = 0;
	uint32_t first, last;

	for (size_t i = 0; i < claims->count; i++) {
		const struct nod_claim *claim = &claims->items[i];
		if (claim->kind != NOD_CLAIM_RULE ||
		    nod_id_rule_is_range(rule_of(v, claim), &first, &last))
			continue;
		if (++masks > NOD_VEHICLE_MASKS_MAX)
			*over = claim;
	}
	return masks;
}

static void check_networks(const struct nod_vehicle *v, const struct nod_claims *claims,
			   struct spans *spans, struct collision *c)
{
	int count = v->network_count ? (int)v->network_count : 1; /* none: all on one, any */

	for (int network = 0; network < count; network++) {
		collect(v, claims, network, spans);
		check_spans(spans, c);
		check_masks(v, spans, c);
		check_addresses(v, claims, NOD_CLAIM_NODE, network, c);
		check_addresses(v, claims, NOD_CLAIM_ADDRESS, network, c);
	}
}

int nod_vehicle_check(const struct nod_vehicle *v, const struct nod_claims *claims,
		      const char *name, struct nod_error *err)
{
	struct collision c = {NULL, NULL, 0};
	const struct nod_claim *over = NULL;
	struct spans spans = {0};

	if (count_masks(v, claims, &over) > NOD_VEHICLE_MASKS_MAX)
		return nod_error_at(err, EINVAL, name, over->line, over->column,
				    "more than %d masks in the file, expected ranges",
				    NOD_VEHICLE_MASKS_MAX);
	spans.items = calloc(claims->count + 1, sizeof(*spans.items));
	spans.masks = calloc(claims->count + 1, sizeof(*spans.masks));
	if (spans.items && spans.masks) {
		check_interfaces(v, claims, &c);
		check_networks(v, claims, &spans, &c);
	}
	bool failed = !spans.items || !spans.masks;
	free(spans.items);
	free(spans.masks);
	if (failed)
		return nod_error_set(err, ENOMEM, "%s: out of memory", name);
	return c.later ? report(v, &c, name, err) : 0;
}
