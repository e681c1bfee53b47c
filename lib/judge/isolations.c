/* SPDX-License-Identifier: MIT */
/* What the isolations in the journal show: each is found, given its network, and judged. */
#include "isolations.h"

#include <errno.h>
#include <strings.h>

/* Nothing is concluded from an isolation shorter than this, and than this
 * share of the network's time to sleep: pulling a fuse is itself a
 * disturbance that the network has to settle from. Chosen. */
#define PATIENCE_MIN_NS (60 * NOD_NS_PER_S)
#define PATIENCE_SHARE 0.25

static const struct nod_snapshot *snapshot_of(const struct nod_engine *engine, size_t mark)
{
	for (size_t i = 0; i < engine->snapshot_count; i++)
		if (engine->snapshots[i].mark == (int)mark)
			return &engine->snapshots[i];
	return NULL;
}

static bool involves(const struct nod_vehicle *vehicle, const struct nod_isolation_finding *t,
		     const struct nod_sender_finding *sender)
{
	if (sender->kind != NOD_SENDER_MODULE)
		return false;
	if (t->module == sender->module)
		return true;
	const struct nod_module *module = &vehicle->modules[sender->module];
	for (size_t i = 0; t->fuse != NOD_NONE && i < module->fuse_count; i++)
		if (module->fuses[i] == t->fuse)
			return true;
	return false;
}

bool nod_isolation_involves(const struct nod_analysis *a, const struct nod_isolation_finding *t,
			    int sender)
{
	return sender != NOD_NONE && involves(a->f->vehicle, t, &a->f->senders[sender]);
}

/* How long after its last frame a span still is the one that a mark means. */
static int64_t reach_of(const struct nod_network_finding *n)
{
	return n->quiet_time.ns > NOD_HAND_USUAL_NS ? n->quiet_time.ns : NOD_HAND_USUAL_NS;
}

int nod_isolation_span_at(const struct nod_network_finding *n, nod_time time)
{
	for (size_t i = 0; i < n->span_count; i++)
		if (n->spans[i].from.ns <= time.ns &&
		    (n->spans[i].open || nod_ns_add(n->spans[i].to.ns, reach_of(n)) >= time.ns))
			return (int)i;
	return -1;
}

/* True when something that was isolated talks on the network. */
static bool sits_on(const struct isolation *t, size_t network)
{
	const struct nod_findings *f = t->a->f;

	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].network == (int)network &&
		    nod_isolation_involves(t->a, t->out, f->idents[i].sender))
			return true;
	return false;
}

/* Takes the network when it was awake longer than the one taken before. */
static void consider(struct isolation *t, size_t network)
{
	const struct nod_network_finding *n = &t->a->f->networks[network];
	int span = nod_isolation_span_at(n, t->from);

	if (span < 0 ||
	    (t->network && t->network->spans[t->span].from.ns <= n->spans[span].from.ns))
		return;
	t->network = n;
	t->span = (size_t)span;
	t->out->network = (int)network;
}

/* Chooses the network the isolation speaks of: of those that were awake when it was
 * isolated the one that was so the longest, best one on which the isolated
 * module talks. */
static bool choose_network(struct isolation *t)
{
	for (int pass = 0; pass < 2 && !t->network; pass++)
		for (size_t n = 0; n < t->a->f->network_count; n++)
			if (pass || sits_on(t, n))
				consider(t, n);
	return t->network != NULL;
}

/* A fuse is pulled first and noted then: a network that was awake all along and
 * fell silent just before the mark did so with the pull. A wake-up ends by itself, so
 * there the mark is taken as it stands. */
int64_t nod_isolation_awake_until(const struct isolation *t, const struct nod_span_finding *span)
{
	return t->from.ns - (span->slept_before ? 0 : NOD_HAND_USUAL_NS);
}

int nod_isolation_sleep_of(const struct isolation *t, const struct nod_network_finding *n,
			   size_t first)
{
	for (size_t i = first; i < n->span_count && n->spans[i].from.ns <= t->to.ns; i++)
		if (nod_span_slept_after(n, i) && n->spans[i].to.ns < t->to.ns &&
		    n->spans[i].to.ns > nod_isolation_awake_until(t, &n->spans[i]))
			return (int)i;
	return -1;
}

nod_duration nod_isolation_patience(const struct nod_findings *f,
				    const struct nod_isolation_finding *t)
{
	double allowed = (double)f->vehicle->networks[t->network].sleeps_within.ns;
	int64_t share = (int64_t)(PATIENCE_SHARE * allowed);

	return (nod_duration){share > PATIENCE_MIN_NS ? share : PATIENCE_MIN_NS};
}

static void judge_awake(struct isolation *t)
{
	struct nod_isolation_finding *out = t->out;
	nod_duration waited = nod_time_since(t->quiet_until, t->from);
	bool patient = waited.ns >= nod_isolation_patience(t->a->f, out).ns;

	out->result = patient ? NOD_ISOLATION_UNCHANGED : NOD_ISOLATION_UNDECIDED;
	out->slept_after = waited;
	out->text = nod_arena_printf(
		t->a->arena,
		patient ? "%s isolated at %s: %s stayed awake for the %s that followed."
			: "%s isolated at %s: %s was watched for only %s; too short to tell.",
		out->subject, nod_analysis_when(t->a, t->from), t->network->name,
		nod_analysis_length(t->a, waited));
}

/* Awake when it was isolated: the last frame came after that, or just before. What the hand
 * at the fuse has woken itself was asleep, and goes to sleep again. */
static bool was_awake(const struct isolation *t)
{
	const struct nod_span_finding *span = &t->network->spans[t->span];

	if (span->slept_before && nod_time_since(t->from, span->from).ns < NOD_HAND_NS)
		return false;
	return span->open || span->to.ns > nod_isolation_awake_until(t, span);
}

static int judge(struct isolation *t)
{
	struct nod_isolation_finding *out = t->out;
	bool not_off;

	if (!choose_network(t) || !was_awake(t)) {
		nod_isolation_wakes(t);
		return 0;
	}
	if (nod_isolation_presence(t, &not_off))
		return -ENOMEM;
	int span = nod_isolation_sleep_of(t, t->network, t->span);
	if (not_off) {
		out->result = NOD_ISOLATION_NOT_OFF;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: but its frames went on. It was not "
			"isolated, or the map is wrong.",
			out->subject, nod_analysis_when(t->a, t->from));
	} else if (span >= 0) {
		nod_isolation_slept(t, (size_t)span);
	} else {
		judge_awake(t);
	}
	return 0;
}

static bool same_thing(const struct nod_isolation_finding *out, const struct nod_vehicle *vehicle,
		       const char *subject)
{
	int fuse = NOD_NONE, module = NOD_NONE;

	if (!strcasecmp(out->subject, subject) || !*subject)
		return true;
	return nod_vehicle_resolve(vehicle, subject, &fuse, &module) && fuse == out->fuse &&
	       module == out->module;
}

static bool disturbs(const struct nod_mark_finding *m)
{
	return nod_mark_disturbs((enum nod_mark_kind)m->kind) || m->kind == NOD_MARK_LOCKED;
}

/* The next disturbance from this mark on, or the end. */
static nod_time next_disturbance(const struct nod_findings *f, size_t mark)
{
	for (size_t i = mark; i < f->mark_count; i++)
		if (disturbs(&f->marks[i]))
			return f->marks[i].time;
	return f->end;
}

/* Finds when it was refitted and when the next disturbances came. */
static void find_end(struct isolation *t, size_t mark)
{
	const struct nod_findings *f = t->a->f;

	t->to = t->back_until = f->end;
	t->quiet_until = next_disturbance(f, mark + 1);
	t->out->refitted = NOD_TIME_NONE;
	for (size_t i = mark + 1; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		if (m->kind != NOD_MARK_REFITTED ||
		    !same_thing(t->out, f->vehicle, m->meant ? m->meant : m->subject))
			continue;
		t->to = t->out->refitted = m->time;
		t->after = snapshot_of(t->a->engine, i);
		t->back_until = next_disturbance(f, i + 1);
		return;
	}
}

/* Judges the isolation at this mark; false: its moment was not kept. */
static bool begin(struct isolation *t, struct nod_analysis *a, size_t mark)
{
	struct nod_isolation_finding *out = &a->f->isolations[a->f->isolation_count];

	*t = (struct isolation){
		.mark = &a->f->marks[mark], .a = a, .out = out, .from = a->f->marks[mark].time};
	t->before = snapshot_of(a->engine, mark);
	if (!t->before)
		return false;
	out->isolated = t->from;
	out->subject = t->mark->meant ? t->mark->meant : t->mark->subject;
	out->fuse = out->module = NOD_NONE;
	out->by_chance = out->refit_by_chance = 1;
	out->text = "";
	nod_vehicle_resolve(a->f->vehicle, out->subject, &out->fuse, &out->module);
	find_end(t, mark);
	a->f->isolation_count++;
	return true;
}

int nod_analysis_judge_isolations(struct nod_analysis *a)
{
	size_t count = 0;

	for (size_t i = 0; i < a->f->mark_count; i++)
		count += a->f->marks[i].kind == NOD_MARK_ISOLATED;
	a->f->isolations = nod_arena_alloc(a->arena, (count + 1) * sizeof(*a->f->isolations));
	struct isolation *isolations = nod_arena_alloc(a->arena, (count + 1) * sizeof(*isolations));
	if (!a->f->isolations || !isolations)
		return -ENOMEM;
	count = 0;
	for (size_t i = 0; i < a->f->mark_count; i++)
		if (a->f->marks[i].kind == NOD_MARK_ISOLATED && begin(&isolations[count], a, i) &&
		    judge(&isolations[count++]))
			return -ENOMEM;
	nod_isolations_conclude(isolations, count);
	for (size_t i = 0; i < count; i++)
		nod_analysis_tell_dating(a, isolations[i].mark, isolations[i].out);
	return 0;
}

nod_time nod_isolation_wait(const struct nod_findings *f, const struct nod_isolation_finding *t)
{
	return t->network == NOD_NONE ? NOD_TIME_NONE
				      : nod_time_after(t->isolated, nod_isolation_patience(f, t));
}
