/* SPDX-License-Identifier: MIT */
/* What is demanded of one network against what was found of it. */
#include <string.h>

#include "expectation-compare.h"

static const char *moment_text(struct nod_comparison *c, const struct nod_demand *d, nod_time t)
{
	char buf[NOD_TIME_TEXT];

	if (!nod_time_is_set(t))
		return "never";
	if (!d->after_lock)
		return nod_arena_printf(&c->d->arena, "%s", nod_time_print(buf, t, 6));
	nod_duration_print_seconds(buf, nod_time_since(t, c->f->lock), 3);
	return nod_arena_printf(&c->d->arena, "%s s after lock", buf);
}

static int64_t moment_value(struct nod_comparison *c, const struct nod_demand *d, nod_time t)
{
	return d->after_lock ? nod_time_since(t, c->f->lock).ns : t.ns;
}

static void compare_slept_at(struct nod_comparison *c, const struct nod_demand *d,
			     const struct nod_network_finding *n)
{
	nod_time at = n->first_slept_at;
	bool ok = d->bound == NOD_BOUND_NEVER
			  ? !nod_time_is_set(at)
			  : nod_time_is_set(at) && nod_demand_within(d, moment_value(c, d, at));

	if (!ok)
		nod_comparison_differ(c, d, moment_text(c, d, at), "");
}

static void compare_sleeps_by(struct nod_comparison *c, const struct nod_demand *d,
			      const struct nod_network_finding *n)
{
	bool asleep = n->state == NOD_STATE_ASLEEP && nod_time_is_set(n->slept_at);

	if (!asleep)
		nod_comparison_differ(c, d, "",
				      nod_arena_printf(&c->d->arena, ": at the end it is %s",
						       nod_network_state_name(n->state)));
	else if (!nod_demand_within(d, moment_value(c, d, n->slept_at)))
		nod_comparison_differ(c, d, moment_text(c, d, n->slept_at), "");
}

static void compare_count(struct nod_comparison *c, const struct nod_demand *d, unsigned found)
{
	if (!nod_demand_within(d, found))
		nod_comparison_differ(c, d, nod_arena_printf(&c->d->arena, "%u", found), "");
}

static void compare_on_network(struct nod_comparison *c, const struct nod_demand *d,
			       const struct nod_network_finding *n)
{
	switch (d->key) {
	case NOD_DEMAND_NETWORK:
		nod_comparison_text(c, d, nod_verdict_name(n->verdict));
		break;
	case NOD_DEMAND_SLEPT_AT:
		compare_slept_at(c, d, n);
		break;
	case NOD_DEMAND_SLEEPS_BY:
		compare_sleeps_by(c, d, n);
		break;
	case NOD_DEMAND_WAKES:
		compare_count(c, d, n->wakes);
		break;
	default:
		compare_count(c, d, n->wakes_explained);
		break;
	}
}

void nod_comparison_network(struct nod_comparison *c, const struct nod_demand *d)
{
	for (size_t i = 0; i < c->f->network_count; i++)
		if (!strcmp(c->f->networks[i].name, d->object)) {
			compare_on_network(c, d, &c->f->networks[i]);
			return;
		}
	nod_comparison_differ(
		c, d, "", nod_arena_printf(&c->d->arena, ": there is no network %s", d->object));
}
