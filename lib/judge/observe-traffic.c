/* SPDX-License-Identifier: MIT */
/* Evidence from who talks: alone, stopped, still changing. */
#include "weighing.h"

/* Being alone for this long is full evidence; or for this share of the time
 * the network was late. Chosen. */
#define ALONE_FULL_NS (60 * NOD_NS_PER_S)
#define ALONE_MIN_SHARE 0.25

/* Stretches of being alone count when there are several, most are of one
 * sender, and fully when they last this long together. Chosen. */
#define STRETCHES_MIN 3
#define STRETCHES_SHARE 0.8
#define STRETCHES_FULL_NS (15 * NOD_NS_PER_S)

/* Near an isolation or refit, silence has that reason. */
#define NEAR_ISOLATION_NS (30 * NOD_NS_PER_S)

static bool near_isolation(const struct nod_weighing *w, nod_time time)
{
	for (size_t i = 0; i < w->a->f->isolation_count; i++) {
		int64_t d = nod_time_since(time, w->a->f->isolations[i].isolated).ns;
		if (d > -NEAR_ISOLATION_NS && d < NEAR_ISOLATION_NS)
			return true;
	}
	return false;
}

static void observe_stopped(struct nod_weighing *w, struct nod_hypothesis *h,
			    const struct nod_tally *t)
{
	nod_duration silent = nod_time_since(w->end, t->last);

	if (!nod_time_is_set(t->last)) {
		nod_hypothesis_add(w, h, NOD_EV_STOPPED, 1,
				   "It said nothing while %s was awake the longest.", w->n->name);
		return;
	}
	if (t->coverage >= 0 && t->coverage < NOD_COVERAGE_MIN && w->covering &&
	    t->silence >= NOD_SILENT_MIN_NS) {
		nod_hypothesis_add(
			w, h, NOD_EV_STOPPED, 1,
			"It spoke through only %.0f %% of the time that %s was awake after "
			"the deadline.",
			100 * t->coverage, w->n->name);
		return;
	}
	if (w->end.ns < t->stopped.ns || near_isolation(w, t->last))
		return;
	nod_hypothesis_add(w, h, NOD_EV_STOPPED, t->paced ? 1 : 0.4,
			   "Its last frame was at %s; %s stayed awake for %s more.",
			   nod_analysis_when(w->a, t->last), w->n->name,
			   nod_analysis_length(w->a, silent));
}

/* True when somebody else's frames were due in the stretches: then their silence
 * means that they stopped, not that they are slow. */
static bool others_were_due(const struct nod_weighing *w, int sender)
{
	const struct nod_tally *t = w->tallies[sender];
	double stretch = (double)t->lone_ns / (double)t->lone_runs;

	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		int64_t fastest = w->tallies[i]->fastest;
		if ((int)i != sender && fastest > 0 && stretch >= NOD_DUE_PERIODS * (double)fastest)
			return true;
	}
	return false;
}

/* Where all fall silent and another begins again, who is alone until then runs on longest. */
static bool is_run_on(const struct nod_weighing *w, int sender)
{
	return w->beginner != NOD_NONE && w->beginner != sender;
}

/* Who alone speaks again and again while the others have fallen silent is what
 * brings them back. */
static void observe_stretches(struct nod_weighing *w, struct nod_hypothesis *h)
{
	const struct nod_tally *t = w->tallies[h->sender];

	if (w->steady_request) /* a ring that is held may turn slowly */
		return;
	if (is_run_on(w, h->sender) || t->lone_runs < STRETCHES_MIN ||
	    (double)t->lone_ns < STRETCHES_SHARE * (double)w->lone_ns ||
	    !others_were_due(w, h->sender))
		return;
	nod_hypothesis_add(
		w, h, NOD_EV_ALONE,
		t->lone_ns >= STRETCHES_FULL_NS ? 1
						: (double)t->lone_ns / (double)STRETCHES_FULL_NS,
		"In %u stretches of together %s it alone spoke on while all others on %s "
		"had fallen silent.",
		t->lone_runs, nod_analysis_length(w->a, (nod_duration){t->lone_ns}), w->n->name);
}

static void observe_alone(struct nod_weighing *w, struct nod_hypothesis *h)
{
	int64_t alone = nod_time_since(w->end, w->lone_from).ns;

	if (w->covering == 1 && w->tallies[h->sender]->coverage >= NOD_COVERAGE_MIN &&
	    w->lone != h->sender && !is_run_on(w, h->sender)) {
		nod_hypothesis_add(w, h, NOD_EV_ALONE, 1,
				   "It alone spoke on through the %s that %s was awake after the "
				   "deadline.",
				   nod_analysis_length(w->a, w->n->awake_late), w->n->name);
		return;
	}
	if (w->lone != h->sender) {
		observe_stretches(w, h);
		return;
	}
	if (alone >= ALONE_FULL_NS || (double)alone >= ALONE_MIN_SHARE * (double)w->late)
		nod_hypothesis_add(
			w, h, NOD_EV_ALONE,
			alone >= ALONE_FULL_NS ? 1 : (double)alone / (double)ALONE_FULL_NS,
			"From %s to %s (%s) it was the only one on %s.",
			nod_analysis_when(w->a, w->lone_from), nod_analysis_when(w->a, w->end),
			nod_analysis_length(w->a, (nod_duration){alone}), w->n->name);
	else if (!w->open)
		nod_hypothesis_add(
			w, h, NOD_EV_LAST_TO_STOP, 1,
			"It was the last to stop: %s slept with its frame at %s, %s after "
			"anybody else's.",
			w->n->name, nod_analysis_when(w->a, w->end),
			nod_analysis_length(w->a, (nod_duration){alone}));
}

void nod_observe_traffic(struct nod_weighing *w)
{
	if (!w->serial || !(w->held || w->tentative))
		return;
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		const struct nod_tally *t = w->tallies[h->sender];
		observe_stopped(w, h, t);
		observe_alone(w, h);
	}
}
