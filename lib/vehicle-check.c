#include "vehicle-check.h"

#include <errno.h>
#include <string.h>
#include <strings.h>

/* The smallest ID >= from that fits value/mask. It equals `from` above some
 * bit, has 1 where `from` has 0 at that bit, and is minimal below: the lowest
 * such bit gives it. False when there is none up to `top`. */
static bool next_masked(uint32_t value, uint32_t mask, uint32_t from, uint32_t top, uint32_t *id)
{
	*id = from;
	if ((from & mask) == value)
		return true;
	for (uint32_t bit = 1; bit <= top; bit <<= 1) {
		uint32_t above = ~(bit | (bit - 1));
		bool fits = !((from ^ value) & mask & above) && !(from & bit) &&
			    (!(mask & bit) || value & bit);
		if (!fits)
			continue;
		*id = (from & above) | bit | (value & (bit - 1));
		return true;
	}
	return false;
}

static bool mask_and_range(const struct nod_id_rule *m, const struct nod_id_rule *r, uint32_t *id)
{
	uint32_t flag = m->first & NOD_ID_EXTENDED;

	if (flag != (r->first & NOD_ID_EXTENDED))
		return false;
	uint32_t top = flag ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK, found;
	if (!next_masked(m->first & ~NOD_ID_EXTENDED, m->mask, r->first & ~NOD_ID_EXTENDED, top,
			 &found) ||
	    found > (r->last & ~NOD_ID_EXTENDED))
		return false;
	*id = found | flag;
	return true;
}

static bool two_masks(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id)
{
	uint32_t both = (a->mask & b->mask) | NOD_ID_EXTENDED;

	*id = a->first | b->first;
	return !((a->first ^ b->first) & both);
}

bool nod_id_rules_overlap(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id)
{
	if (a->mask && b->mask)
		return two_masks(a, b, id);
	if (a->mask)
		return mask_and_range(a, b, id);
	if (b->mask)
		return mask_and_range(b, a, id);
	*id = a->first > b->first ? a->first : b->first;
	return a->first <= b->last && b->first <= a->last;
}

static bool share_a_network(const struct nod_module *a, const struct nod_module *b)
{
	if (!a->network_count || !b->network_count)
		return true;
	for (size_t i = 0; i < a->network_count; i++)
		for (size_t k = 0; k < b->network_count; k++)
			if (a->networks[i] == b->networks[k])
				return true;
	return false;
}

struct check {
	const char *name;
	struct nod_error *err;
};

static int check_ids(const struct check *c, const struct nod_module *a, const struct nod_module *b)
{
	char text[NOD_ID_TEXT];
	uint32_t id;

	for (size_t i = 0; i < a->id_count; i++)
		for (size_t k = 0; k < b->id_count; k++) {
			if (!nod_id_rules_overlap(&a->ids[i], &b->ids[k], &id))
				continue;
			return nod_error_at(c->err, EINVAL, c->name, b->ids[k].line, 0,
					    "ID %s is claimed by `%s`, but `%s` claims it on line %u "
					    "already",
					    nod_id_print(text, id), b->name, a->name,
					    a->ids[i].line);
		}
	return 0;
}

static int check_numbers(const struct check *c, const struct nod_module *a, const int *x, size_t n,
			 const struct nod_module *b, const int *y, size_t m, const char *what)
{
	for (size_t i = 0; i < n; i++)
		for (size_t k = 0; k < m; k++)
			if (x[i] == y[k])
				return nod_error_at(c->err, EINVAL, c->name, b->line, 0,
						    "%s %02X is claimed by `%s`, but `%s` (line %u) "
						    "claims it already",
						    what, (unsigned)x[i], b->name, a->name,
						    a->line);
	return 0;
}

static int check_modules(const struct check *c, const struct nod_module *a,
			 const struct nod_module *b)
{
	int status = 0;

	if (!share_a_network(a, b))
		return 0;
	status = check_ids(c, a, b);
	if (!status)
		status = check_numbers(c, a, a->nodes, a->node_count, b, b->nodes, b->node_count,
				       "node");
	if (!status)
		status = check_numbers(c, a, a->source_addresses, a->source_address_count, b,
				       b->source_addresses, b->source_address_count,
				       "source address");
	return status;
}

static int check_interfaces(const struct check *c, const struct nod_vehicle *v, size_t network)
{
	const struct nod_network *n = &v->networks[network];

	for (size_t i = 0; i < n->interface_count; i++) {
		int first = nod_vehicle_network_of_interface(v, n->interfaces[i]);
		if (first != (int)network)
			return nod_error_at(c->err, EINVAL, c->name, n->line, 0,
					    "interface %s of `%s` belongs to `%s` (line %u) already",
					    n->interfaces[i], n->name, v->networks[first].name,
					    v->networks[first].line);
	}
	return 0;
}

int nod_vehicle_check(const struct nod_vehicle *vehicle, const char *name, struct nod_error *err)
{
	struct check c = {name, err};
	int status = 0;

	for (size_t i = 0; !status && i < vehicle->network_count; i++)
		status = check_interfaces(&c, vehicle, i);
	for (size_t i = 0; !status && i < vehicle->module_count; i++)
		for (size_t k = 0; !status && k < i; k++)
			status = check_modules(&c, &vehicle->modules[k], &vehicle->modules[i]);
	return status;
}
