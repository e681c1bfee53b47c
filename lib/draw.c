/* The battery current in the answer: how much the parked car takes, and
 * whether it takes too much although its networks sleep. */
#include <errno.h>

#include "analysis.h"
#include "current-trace.h"

int nod_analysis_read_current(struct nod_analysis *a)
{
	const struct nod_engine *engine = a->engine;
	struct nod_current_request request = {
		.lock = a->f->lock,
		.limit_ua = engine->vehicle->key_off_current_ua,
		.wander_ua = NOD_CLAMP_WANDER_UA,
	};

	if (!engine->current)
		return 0;
	errno = 0;
	a->f->current = nod_current_trace_findings(engine->current, &request, a->arena);
	a->f->has_current = a->f->current != NULL;
	return !a->f->current && errno == ENOMEM ? -ENOMEM : 0;
}

bool nod_analysis_draws_too_much(const struct nod_analysis *a)
{
	const struct nod_current_findings *c = a->f->current;

	return c && c->quiescent_known &&
	       c->quiescent_ua - c->quiescent_uncertainty_ua > (double)c->limit_ua;
}

static const char *in_milliamps(const struct nod_analysis *a, double ua)
{
	double ma = ua / 1000;

	return ma < 1000 ? nod_arena_printf(a->arena, "%.0f mA", ma)
			 : nod_arena_printf(a->arena, "%.2f A", ma / 1000);
}

/* What the current says, in one or two sentences. */
void nod_analysis_current_facts(const struct nod_analysis *a,
				void (*add)(struct nod_analysis *a, const char *text),
				struct nod_analysis *context)
{
	const struct nod_current_findings *c = a->f->current;

	if (!c)
		return;
	if (c->quiescent_known)
		add(context,
		    nod_arena_printf(a->arena,
				     "Battery current at rest: %s, give or take %s (limit %s%s)%s.",
				     in_milliamps(a, c->quiescent_ua),
				     in_milliamps(a, c->quiescent_uncertainty_ua),
				     in_milliamps(a, (double)c->limit_ua),
				     a->f->vehicle->key_off_current_given ? "" : ", nodoff's default",
				     c->within_noise ? "; that cannot be told from zero" : ""));
	if (c->measured.ns > 0)
		add(context,
		    nod_arena_printf(a->arena, "Since the lock it took %.2f Ah in %s, %s on average.",
				     c->charge_uah / 1e6, nod_analysis_length(a, c->measured),
				     in_milliamps(a, c->mean_ua)));
	for (size_t i = 0; i < c->group_count; i++)
		if (c->groups[i].telemetry_like)
			add(context,
			    nod_arena_printf(a->arena,
					     "%zu pulses of %s for %s every %s look like a telematics "
					     "unit reporting: normal, %s on average.",
					     c->groups[i].count,
					     in_milliamps(a, c->groups[i].height_ua),
					     nod_analysis_length(a, c->groups[i].duration),
					     nod_analysis_length(a, c->groups[i].period),
					     in_milliamps(a, c->groups[i].average_ua)));
}
