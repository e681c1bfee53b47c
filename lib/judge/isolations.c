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

/* Marked before anything else was isolated, and watched for long enough: a sleep after that is
 * the other's. */
static bool had_its_turn(const struct isolation *t, size_t span)
{
	int64_t waited = nod_time_since(t->next_isolated, t->from).ns;

	return t->network->spans[span].to.ns > t->next_isolated.ns - NOD_HAND_USUAL_NS &&
	       waited >= nod_isolation_patience(t->a->f, t->out).ns;
}

/* How long its network was held later, in one go, while it was still out; beyond what is
 * allowed. */
static nod_duration held_later(const struct isolation *t, size_t span)
{
	const struct nod_network_finding *n = t->network;
	int64_t allowed = t->a->engine->vehicle->networks[n->network].sleeps_within.ns, most = 0;

	for (size_t i = span + 1; i < n->span_count && n->spans[i].from.ns < t->to.ns; i++) {
		nod_time end = n->spans[i].open ? t->a->f->end : n->spans[i].to;
		end = end.ns < t->to.ns ? end : t->to;
		int64_t over = nod_time_since(end, n->spans[i].from).ns - allowed;
		int64_t late =
			nod_analysis_late_overlap(t->a, n->network, n->spans[i].from, end).ns;
		over = over < late ? over : late;
		most = over > most ? over : most;
	}
	return (nod_duration){most};
}

/* It slept, but was awake past its deadline later, with the part still out. */
static bool was_held_without(struct isolation *t, size_t span)
{
	const struct nod_network_finding *n = t->network;
	nod_duration late = held_later(t, span);

	if (late.ns <= NOD_LATE_MIN_NS)
		return false;
	t->out->result = NOD_ISOLATION_UNCHANGED;
	t->out->slept_after = late;
	t->out->text = nod_arena_printf(
		t->a->arena,
		"%s isolated at %s: with it still out, %s was awake for %s past its settle deadline%s.",
		t->out->subject, nod_analysis_when(t->a, t->from), n->name,
		nod_analysis_length(t->a, late),
		nod_time_is_set(t->not_back)
			? "; it was noted as refitted, but none of its messages has come back"
			: "");
	return true;
}

static int judge(struct isolation *t)
{
	struct nod_isolation_finding *out = t->out;
	bool not_off;

	if (nod_isolation_not_back(t))
		return -ENOMEM;
	if (!choose_network(t) || !was_awake(t)) {
		nod_isolation_wakes(t);
		return 0;
	}
	if (nod_isolation_presence(t, &not_off))
		return -ENOMEM;
	int span = nod_isolation_sleep_of(t, t->network, t->span);
	if (not_off && span >= 0)
		not_off = !nod_isolation_back_unnoted(t, (size_t)span);
	if (not_off) {
		out->result = NOD_ISOLATION_NOT_OFF;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: but its frames went on. It was not "
			"isolated, or the map is wrong.",
			out->subject, nod_analysis_when(t->a, t->from));
	} else if (span < 0 || had_its_turn(t, (size_t)span)) {
		judge_awake(t);
	} else if (!was_held_without(t, (size_t)span)) {
		nod_isolation_slept(t, (size_t)span);
	}
	return 0;
}

/* Whether this fuse carries that module and no other of the map, and no other fuse does. */
static bool is_its_own(const struct nod_vehicle *vehicle, int fuse, int module)
{
	if (fuse == NOD_NONE || module == NOD_NONE)
		return false;
	for (size_t i = 0; i < vehicle->module_count; i++)
		for (size_t k = 0; k < vehicle->modules[i].fuse_count; k++)
			if ((vehicle->modules[i].fuses[k] == fuse) != ((int)i == module))
				return false;
	return vehicle->modules[module].fuse_count == 1;
}

bool nod_isolation_same_thing(const struct nod_vehicle *vehicle,
			      const struct nod_isolation_finding *x,
			      const struct nod_isolation_finding *y)
{
	if (x->fuse == NOD_NONE && x->module == NOD_NONE)
		return !strcasecmp(x->subject, y->subject);
	return (x->fuse == y->fuse && x->module == y->module) ||
	       is_its_own(vehicle, x->fuse, y->module) || is_its_own(vehicle, y->fuse, x->module);
}

/* What a mark is about. */
static struct nod_isolation_finding thing_of(const struct nod_vehicle *vehicle,
					     const struct nod_mark_finding *m)
{
	struct nod_isolation_finding thing = {
		.subject = m->meant ? m->meant : m->subject, .fuse = NOD_NONE, .module = NOD_NONE};

	nod_vehicle_resolve(vehicle, thing.subject, &thing.fuse, &thing.module);
	return thing;
}

static bool is_another_out(const struct nod_vehicle *vehicle, const struct nod_mark_finding *m,
			   const struct nod_isolation_finding *out)
{
	struct nod_isolation_finding thing = thing_of(vehicle, m);

	return m->kind == NOD_MARK_ISOLATED && !nod_isolation_same_thing(vehicle, out, &thing);
}

static bool is_refit_of(const struct nod_vehicle *vehicle, const struct nod_mark_finding *m,
			const struct nod_isolation_finding *out)
{
	struct nod_isolation_finding thing = thing_of(vehicle, m);

	return m->kind == NOD_MARK_REFITTED &&
	       (!*thing.subject || nod_isolation_same_thing(vehicle, out, &thing));
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

nod_time nod_isolation_undisturbed(const struct nod_findings *f, nod_time from)
{
	size_t i = 0;

	while (i < f->mark_count && f->marks[i].time.ns <= from.ns)
		i++;
	return next_disturbance(f, i);
}

/* Finds when it was refitted and when the next disturbances came. */
static void find_end(struct isolation *t, size_t mark)
{
	const struct nod_findings *f = t->a->f;

	t->to = t->back_until = t->next_isolated = f->end;
	t->quiet_until = next_disturbance(f, mark + 1);
	t->out->refitted = NOD_TIME_NONE;
	for (size_t i = mark + 1; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		if (is_another_out(f->vehicle, m, t->out) && m->time.ns < t->next_isolated.ns)
			t->next_isolated = m->time;
		if (!is_refit_of(f->vehicle, m, t->out))
			continue;
		t->to = t->out->refitted = m->time;
		t->after = snapshot_of(t->a->engine, i);
		t->back_until = next_disturbance(f, i + 1);
		return;
	}
}

/* Noted again while it is out, by the same name or by that of its fuse or plug. */
static bool is_out_already(const struct nod_findings *f, const struct nod_isolation_finding *out)
{
	for (size_t i = 0; i < f->isolation_count; i++) {
		const struct nod_isolation_finding *t = &f->isolations[i];
		if ((!nod_time_is_set(t->refitted) || t->refitted.ns > out->isolated.ns) &&
		    nod_isolation_same_thing(f->vehicle, t, out))
			return true;
	}
	return false;
}

/* Begins the isolation at this mark; false: its moment was not kept, or it is none. */
static bool begin(struct isolation *t, struct nod_analysis *a, size_t mark)
{
	struct nod_isolation_finding *out = &a->f->isolations[a->f->isolation_count];

	*t = (struct isolation){.mark = &a->f->marks[mark],
				.a = a,
				.out = out,
				.from = a->f->marks[mark].time,
				.not_back = NOD_TIME_NONE};
	t->before = snapshot_of(a->engine, mark);
	if (!t->before)
		return false;
	*out = thing_of(a->f->vehicle, t->mark);
	out->isolated = t->from;
	out->by_chance = out->refit_by_chance = 1;
	out->text = "";
	if (is_out_already(a->f, out))
		return false;
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
