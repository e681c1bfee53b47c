/* SPDX-License-Identifier: MIT */
/* The battery current in the answer: how much the parked car takes, and
 * whether it takes too much although its networks sleep. */
#include <errno.h>

#include "analysis.h"
#include "current-join.h"
#include "current-trace.h"

/* The awake spans of all networks, and the stretches of which they do not tell: nobody
 * listened. */
static struct nod_awake_span *awake_spans(const struct nod_analysis *a, size_t *count)
{
	size_t room = 1;

	for (size_t n = 0; n < a->f->network_count; n++)
		room += 2 * a->f->networks[n].span_count;
	struct nod_awake_span *spans = nod_arena_alloc(a->arena, room * sizeof(*spans));
	*count = 0;
	for (size_t n = 0; spans && n < a->f->network_count; n++) {
		const struct nod_network_finding *network = &a->f->networks[n];
		for (size_t i = 0; i < network->span_count; i++) {
			const struct nod_span_finding *s = &network->spans[i];
			nod_time next = nod_span_silence_end(network, i, a->f->end);
			spans[(*count)++] = (struct nod_awake_span){(int)n, s->from,
								    s->open ? a->f->end : s->to};
			if (!s->open && !s->silence_known)
				spans[(*count)++] = (struct nod_awake_span){-1, s->to, next};
		}
	}
	return spans;
}

static int join_networks(struct nod_analysis *a)
{
	size_t count;
	struct nod_awake_span *spans = awake_spans(a, &count);

	if (!spans)
		return -ENOMEM;
	a->f->join = nod_current_join_find(a->engine->current, spans, count, a->f->network_count,
					   a->f->lock, a->f->end, NOD_CLAMP_WANDER_UA, a->arena);
	return a->f->join ? 0 : -ENOMEM;
}

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
	if (!a->f->current)
		return errno == ENOMEM ? -ENOMEM : 0;
	return join_networks(a);
}

bool nod_findings_rest_current(const struct nod_findings *f, double *ua, double *uncertainty_ua)
{
	if (f->join && f->join->asleep_known) {
		*ua = f->join->asleep_ua;
		*uncertainty_ua = f->join->asleep_uncertainty_ua;
		return true;
	}
	if (!f->current || !f->current->quiescent_known)
		return false;
	*ua = f->current->quiescent_ua;
	*uncertainty_ua = f->current->quiescent_uncertainty_ua;
	return true;
}

/* Only the current while all slept decides. */
bool nod_analysis_draws_too_much(const struct nod_analysis *a)
{
	return a->f->join &&
	       nod_current_join_asleep(a->f->join, a->f->current->limit_ua) == NOD_ASLEEP_DRAWS;
}

double nod_analysis_asleep_current(const struct nod_analysis *a)
{
	return a->f->join->asleep_ua;
}
