/* SPDX-License-Identifier: MIT */
/* Evidence from earlier sessions of the same car: what was isolated there, and
 * who was suspected, counts here as well. */
#include "weighing.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* An earlier suspicion without an isolation is the same kind of evidence over
 * again: it counts half, and at most this much (log-odds). Chosen. */
#define SUSPICION_SHARE 0.5
#define SUSPICION_MAX 2.0

/* Isolations are carried over at this share: the fault may have moved on. Chosen. */
#define ISOLATION_SHARE 0.8

/* By what chance leaves of it there (observe-isolations.c). */
static double isolation_weight(const struct nod_isolation_finding *t)
{
	double most = nod_evidence_rule(NOD_EV_ISOLATED_SLEPT)->strength +
		      nod_evidence_rule(NOD_EV_REFIT_WOKE)->strength;

	switch (t->result) {
	case NOD_ISOLATION_PROVED:
		return most;
	case NOD_ISOLATION_SLEPT:
		return t->refit == NOD_REFIT_SLEPT
			       ? 0
			       : fmin(most, -log(t->by_chance * t->refit_by_chance));
	case NOD_ISOLATION_UNCHANGED:
		return nod_evidence_rule(NOD_EV_ISOLATED_UNCHANGED)->strength;
	default:
		return 0;
	}
}

/* True when the earlier isolation was about this module, by the names of the map. */
static bool concerned(const struct nod_findings *earlier, const struct nod_isolation_finding *t,
		      const struct nod_vehicle *vehicle, const struct nod_module *module)
{
	if (t->module != NOD_NONE)
		return !strcasecmp(earlier->vehicle->modules[t->module].name, module->name);
	if (t->fuse == NOD_NONE)
		return false;
	for (size_t i = 0; i < module->fuse_count; i++)
		if (!strcasecmp(earlier->vehicle->fuses[t->fuse].name,
				vehicle->fuses[module->fuses[i]].name))
			return true;
	return false;
}

static double suspicion(const struct nod_findings *earlier, const char *name)
{
	for (size_t i = 0; i < earlier->suspect_count; i++) {
		const struct nod_suspect *s = &earlier->suspects[i];
		double p = s->probability;
		if (s->kind != NOD_SUSPECT_SENDER || strcmp(s->name, name) || p <= 0.5)
			continue;
		return fmin(SUSPICION_MAX, SUSPICION_SHARE * log(p / (1 - fmin(p, 0.999))));
	}
	return 0;
}

static void observe_one(struct nod_weighing *w, struct nod_hypothesis *h,
			const struct nod_findings *earlier, const struct nod_module *module)
{
	double strength = nod_evidence_rule(NOD_EV_EARLIER)->strength;
	bool tried = false;

	for (size_t k = 0; k < earlier->isolation_count; k++) {
		const struct nod_isolation_finding *t = &earlier->isolations[k];
		double weight = isolation_weight(t);
		if (weight == 0 || !concerned(earlier, t, w->a->f->vehicle, module))
			continue;
		tried = true;
		nod_hypothesis_add(w, h, NOD_EV_EARLIER, ISOLATION_SHARE * weight / strength,
				   "In an earlier session: %s", t->text);
	}
	double weight = tried ? 0 : suspicion(earlier, module->name);
	if (weight > 0)
		nod_hypothesis_add(w, h, NOD_EV_EARLIER, weight / strength,
				   "It was the first suspect of an earlier session.");
}

void nod_observe_earlier(struct nod_weighing *w)
{
	const struct nod_findings *f = w->a->f;

	for (size_t e = 0; e < w->a->engine->earlier_count; e++)
		for (size_t i = 0; i < w->count; i++) {
			struct nod_hypothesis *h = &w->hypotheses[i];
			if (h->kind == NOD_SUSPECT_SENDER &&
			    f->senders[h->sender].kind == NOD_SENDER_MODULE)
				observe_one(w, h, w->a->engine->earlier[e],
					    &f->vehicle->modules[f->senders[h->sender].module]);
		}
}
