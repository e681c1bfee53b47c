/* SPDX-License-Identifier: MIT */
#include "compare.h"

#include <errno.h>
#include <math.h>

#include "chance.h"
#include "current-trace.h"
#include "lookup.h"
#include "quantity.h"

/* What the comparison is made of while it is made. */
struct comparing {
	struct nod_arena *arena;
	struct nod_comparison *c;
	size_t room; /* of reasons */
};

const char *nod_change_name(enum nod_change change)
{
	static const char *const names[] = {"cannot tell", "fixed", "better", "no change", "worse"};

	return names[change];
}

static void reason(struct comparing *m, const char *text)
{
	if (m->c->reason_count < m->room && *text)
		m->c->reasons[m->c->reason_count++] = text;
}

/* ---- networks ---- */

static const struct nod_network_finding *network_named(const struct nod_findings *f,
						       const char *name)
{
	int index = nod_lookup_network(f, name);

	return index == NOD_NONE ? NULL : &f->networks[index];
}

/* How bad it is; unknown is no place on the scale. */
static int severity(enum nod_verdict verdict)
{
	static const int of[NOD_VERDICTS] = {
		[NOD_VERDICT_CANNOT_TELL] = -1, [NOD_VERDICT_SLEEPS] = 0,
		[NOD_VERDICT_LATE] = 0,         [NOD_VERDICT_DRAWS] = 1,
		[NOD_VERDICT_WOKEN] = 2,        [NOD_VERDICT_KEPT_AWAKE] = 3};
	return of[verdict];
}

static double watched_s(const struct nod_findings *f, const struct nod_network_finding *n)
{
	nod_time from = nod_time_is_set(n->first_slept_at) ? n->first_slept_at : f->lock;

	return (double)nod_time_since(f->end, from).ns / NOD_NS_PER_S;
}

/* Woken in both: fewer or more, beyond chance? */
static void compare_wakes(struct comparing *m, struct nod_network_change *n)
{
	double t1 = watched_s(m->c->before, n->before), t2 = watched_s(m->c->after, n->after);
	unsigned n1 = n->before->wakes, n2 = n->after->wakes;
	bool fewer = nod_chance_fewer(n1, t1, n2, t2) < NOD_PROOF_CHANCE;
	bool more = nod_chance_fewer(n2, t2, n1, t1) < NOD_PROOF_CHANCE;
	char a[NOD_TIME_TEXT], b[NOD_TIME_TEXT];

	n->change = fewer ? NOD_CHANGE_BETTER : more ? NOD_CHANGE_WORSE : NOD_CHANGE_NONE;
	n->reason = nod_arena_printf(
		m->arena, "%s: still woken again: %u times in %s before, %u in %s after%s.",
		n->name, n1, nod_duration_print(a, (nod_duration){(int64_t)(t1 * NOD_NS_PER_S)}),
		n2, nod_duration_print(b, (nod_duration){(int64_t)(t2 * NOD_NS_PER_S)}),
		fewer || more ? "" : ", which may be chance");
}

/* It had a fault, and now it sleeps in time. A network that is still woken, however
 * briefly, has its waker still. */
static void compare_healed(struct comparing *m, struct nod_network_change *n)
{
	char slept[NOD_TIME_TEXT], needed[NOD_TIME_TEXT];

	if (n->before->verdict == NOD_VERDICT_WOKEN && n->after->wakes) {
		n->change = NOD_CHANGE_BETTER;
		n->reason = nod_arena_printf(m->arena,
					     "%s: woken again before; now it sleeps, but for %u "
					     "wake-up%s too short to matter.",
					     n->name, n->after->wakes,
					     n->after->wakes == 1 ? "" : "s");
		return;
	}
	n->slept = nod_proof_slept(m->c->after, n->after, n->before->verdict);
	bool proved = n->slept.ns >= n->needed.ns;
	nod_duration_print(slept, n->slept);
	nod_duration_print(needed, n->needed);
	/* A waker's network slept before, too: short sleep says nothing about it. */
	n->change = proved                                    ? NOD_CHANGE_FIXED
		    : n->before->verdict == NOD_VERDICT_WOKEN ? NOD_CHANGE_CANNOT_TELL
							      : NOD_CHANGE_BETTER;
	n->reason = nod_arena_printf(
		m->arena,
		"%s: %s before, sleeps in time now. It slept for %s, of %s that are needed: %s.",
		n->name, nod_verdict_name(n->before->verdict), slept, needed, n->needed_why);
}

static void compare_verdicts(struct comparing *m, struct nod_network_change *n)
{
	int before = severity(n->before->verdict), after = severity(n->after->verdict);

	if (before < 0 || after < 0) {
		n->change = NOD_CHANGE_CANNOT_TELL;
		n->reason = nod_arena_printf(m->arena, "%s: the session %s does not tell: %s",
					     n->name, before < 0 ? "before" : "after",
					     before < 0 ? n->before->reason : n->after->reason);
	} else if (before && !after) {
		compare_healed(m, n);
	} else if (n->before->verdict == NOD_VERDICT_WOKEN &&
		   n->after->verdict == NOD_VERDICT_WOKEN) {
		compare_wakes(m, n);
	} else if (before == after) {
		n->change = NOD_CHANGE_NONE;
		n->reason = nod_arena_printf(m->arena, "%s: %s before and after.", n->name,
					     nod_verdict_name(n->after->verdict));
	} else {
		n->change = after > before ? NOD_CHANGE_WORSE : NOD_CHANGE_BETTER;
		n->reason = nod_arena_printf(m->arena, "%s: %s before, %s after.", n->name,
					     nod_verdict_name(n->before->verdict),
					     nod_verdict_name(n->after->verdict));
	}
}

static void compare_network(struct comparing *m, struct nod_network_change *n)
{
	n->needed = n->slept = NOD_DURATION_NONE;
	n->needed_why = n->reason = "";
	if (n->before)
		n->needed = nod_proof_needed(m->arena, m->c->before, n->before, &n->needed_why);
	if (n->before && n->after && n->before->frames && n->after->frames) {
		compare_verdicts(m, n);
	} else if (!n->before || !n->before->frames) {
		int after = n->after ? severity(n->after->verdict) : 0;
		n->change = after > 0 ? NOD_CHANGE_WORSE : NOD_CHANGE_NONE;
		if (n->after && n->after->frames)
			n->reason = nod_arena_printf(m->arena, "%s: only heard after, %s.", n->name,
						     nod_verdict_name(n->after->verdict));
	} else {
		n->change = NOD_CHANGE_CANNOT_TELL;
		n->reason = nod_arena_printf(
			m->arena,
			"%s: nothing was heard of it after. That is not sleep: it "
			"may not have been connected.",
			n->name);
	}
	reason(m, n->reason);
}

static int compare_networks(struct comparing *m)
{
	struct nod_comparison *c = m->c;
	size_t most = c->before->network_count + c->after->network_count;

	c->networks = nod_arena_alloc(m->arena, (most + 1) * sizeof(*c->networks));
	if (!c->networks)
		return -ENOMEM;
	for (size_t i = 0; i < c->before->network_count; i++) {
		const struct nod_network_finding *n = &c->before->networks[i];
		c->networks[c->network_count++] = (struct nod_network_change){
			.name = n->name, .before = n, .after = network_named(c->after, n->name)};
	}
	for (size_t i = 0; i < c->after->network_count; i++) {
		const struct nod_network_finding *n = &c->after->networks[i];
		if (!network_named(c->before, n->name))
			c->networks[c->network_count++] = (struct nod_network_change){
				.name = n->name, .after = n};
	}
	for (size_t i = 0; i < c->network_count; i++)
		compare_network(m, &c->networks[i]);
	return 0;
}

/* ---- current ---- */

static enum nod_change compare_current(struct comparing *m)
{
	const struct nod_current_findings *b = m->c->before->current, *a = m->c->after->current;
	char before[NOD_QUANTITY_TEXT], after[NOD_QUANTITY_TEXT], unsure[NOD_QUANTITY_TEXT];

	if (!b || !a || !b->quiescent_known || !a->quiescent_known)
		return NOD_CHANGE_NONE;
	m->c->current_known = true;
	m->c->rest_before_ua = b->quiescent_ua;
	m->c->rest_after_ua = a->quiescent_ua;
	m->c->rest_unsure_ua = hypot(b->quiescent_uncertainty_ua, a->quiescent_uncertainty_ua);
	double change = a->quiescent_ua - b->quiescent_ua;
	bool told = fabs(change) > m->c->rest_unsure_ua;
	reason(m,
	       nod_arena_printf(
		       m->arena, "Current at rest: %s before, %s after; %s %s.",
		       nod_quantity_print(before, llround(b->quiescent_ua), NOD_UNIT_AMPERE),
		       nod_quantity_print(after, llround(a->quiescent_ua), NOD_UNIT_AMPERE),
		       told ? "the two are told apart, their difference is sure to"
			    : "no difference is told, it is unsure by",
		       nod_quantity_print(unsure, llround(m->c->rest_unsure_ua), NOD_UNIT_AMPERE)));
	if (!told)
		return NOD_CHANGE_NONE;
	bool over = m->c->after->verdict == NOD_VERDICT_DRAWS;
	if (change > 0)
		return over ? NOD_CHANGE_WORSE : NOD_CHANGE_NONE;
	return m->c->before->verdict == NOD_VERDICT_DRAWS && !over ? NOD_CHANGE_FIXED
								   : NOD_CHANGE_BETTER;
}

/* It drew too much, and no longer does: for how long was that watched? */
static enum nod_change prove_rest(struct comparing *m)
{
	const struct nod_current_findings *a = m->c->after->current;
	char watched[NOD_TIME_TEXT], needed[NOD_TIME_TEXT];

	m->c->rest_watched = nod_time_since(a->quiescent_to, a->quiescent_from);
	m->c->rest_needed = nod_seconds(NOD_PROOF_SLEEP_S);
	reason(m,
	       nod_arena_printf(m->arena,
				"That level was watched for %s, of %s that are needed: a circuit "
				"that is off for a while is no repair.",
				nod_duration_print(watched, m->c->rest_watched),
				nod_duration_print(needed, m->c->rest_needed)));
	return m->c->rest_watched.ns >= m->c->rest_needed.ns ? NOD_CHANGE_FIXED : NOD_CHANGE_BETTER;
}

/* Drawing current while asleep is nothing of a network's. */
static enum nod_change compare_draw(struct comparing *m)
{
	bool before = m->c->before->verdict == NOD_VERDICT_DRAWS;
	bool after = m->c->after->verdict == NOD_VERDICT_DRAWS;
	enum nod_change change = compare_current(m);

	if (before && !after && !m->c->current_known)
		reason(m, "Before, it drew current while asleep; after, no level at rest was "
			  "recorded.");
	if (before && !after)
		return change == NOD_CHANGE_FIXED ? prove_rest(m) : NOD_CHANGE_CANNOT_TELL;
	if (!before && after) {
		reason(m, "After, it draws more current while asleep than the limit.");
		return NOD_CHANGE_WORSE;
	}
	/* Less current at rest alone mends nothing that was found. */
	return before || change == NOD_CHANGE_WORSE ? change : NOD_CHANGE_NONE;
}

/* ---- together ---- */

/* What is isolated at the end of a session. */
static const char *isolated_at_end(const struct nod_findings *f)
{
	const char *subject = NULL;

	for (size_t i = 0; i < f->isolation_count; i++)
		if (!nod_time_is_set(f->isolations[i].refitted))
			subject = f->isolations[i].subject;
	return subject;
}

/* Sessions of two cars have nothing to say about a repair. */
static bool of_one_car(const struct nod_comparison *c)
{
	size_t b = c->before->ident_count, a = c->after->ident_count, fewer = b < a ? b : a;

	return fewer < NOD_SAME_CAR_IDS ||
	       (double)c->idents_common >= NOD_SAME_CAR_SHARE * (double)fewer;
}

static enum nod_change overall(const struct nod_comparison *c, enum nod_change draw)
{
	bool seen[NOD_CHANGE_WORSE + 1] = {false};

	if (!of_one_car(c))
		return NOD_CHANGE_CANNOT_TELL;
	for (size_t i = 0; i < c->network_count; i++)
		seen[c->networks[i].change] = true;
	seen[draw] = true;
	if (seen[NOD_CHANGE_WORSE])
		return NOD_CHANGE_WORSE;
	if (severity(c->before->verdict) < 0 || c->after->verdict == NOD_VERDICT_CANNOT_TELL)
		return NOD_CHANGE_CANNOT_TELL;
	if (seen[NOD_CHANGE_CANNOT_TELL])
		return NOD_CHANGE_CANNOT_TELL;
	if (seen[NOD_CHANGE_BETTER])
		return NOD_CHANGE_BETTER;
	if (!seen[NOD_CHANGE_FIXED])
		return NOD_CHANGE_NONE;
	return severity(c->after->verdict) == 0 ? NOD_CHANGE_FIXED : NOD_CHANGE_BETTER;
}

/* With the fuse still out it is a test, and no repair. */
static void check_isolation(struct comparing *m)
{
	const char *isolated = isolated_at_end(m->c->after);

	if (m->c->change != NOD_CHANGE_FIXED || !isolated)
		return;
	m->c->change = NOD_CHANGE_BETTER;
	reason(m,
	       nod_arena_printf(m->arena,
				"%s is still isolated at the end of the session after: that finds "
				"the cause, it does not mend it.",
				isolated));
}

/* The sleep that is still missing until everything that no longer shows is proved. */
static int64_t sleep_missing(const struct nod_comparison *c)
{
	int64_t missing = c->rest_needed.ns - c->rest_watched.ns;

	for (size_t i = 0; i < c->network_count; i++)
		if (c->networks[i].slept.ns != INT64_MIN &&
		    c->networks[i].needed.ns - c->networks[i].slept.ns > missing)
			missing = c->networks[i].needed.ns - c->networks[i].slept.ns;
	return missing;
}

static const char *sentence(struct comparing *m)
{
	const struct nod_comparison *c = m->c;
	char longer[NOD_TIME_TEXT];
	int64_t missing = sleep_missing(c);

	if (!of_one_car(c))
		return "Cannot tell: the two sessions share few messages; they seem to be of two "
		       "cars.";

	if (c->change == NOD_CHANGE_FIXED)
		return "Fixed: the fault of the session before is gone, and the car slept long "
		       "enough to prove it.";
	if (missing > 0 && (c->change == NOD_CHANGE_BETTER || c->change == NOD_CHANGE_CANNOT_TELL))
		return nod_arena_printf(
			m->arena,
			"%s: the fault did not show again, but the car has to sleep "
			"for %s more until that is proof.",
			c->change == NOD_CHANGE_BETTER ? "Better" : "Cannot tell",
			nod_duration_print(longer, (nod_duration){missing}));
	switch (c->change) {
	case NOD_CHANGE_BETTER:
		return "Better, but not fixed.";
	case NOD_CHANGE_WORSE:
		return "Worse: the session after shows a fault that the one before does not, or "
		       "more of it.";
	case NOD_CHANGE_NONE:
		return c->after->verdict == NOD_VERDICT_SLEEPS
			       ? "No change: it slept in time before, and it does so now."
			       : "No change: the same fault in both sessions.";
	default:
		return "Cannot tell: these two sessions do not carry the answer.";
	}
}

struct nod_comparison *nod_compare(struct nod_arena *arena, struct nod_compare_side before,
				   struct nod_compare_side after)
{
	struct nod_comparison *c = nod_arena_alloc(arena, sizeof(*c));
	struct comparing m = {arena, c, before.f->network_count + after.f->network_count + 8};

	if (!c)
		return NULL;
	c->before = before.f;
	c->after = after.f;
	c->reasons = nod_arena_alloc(arena, m.room * sizeof(*c->reasons));
	if (!c->reasons || compare_networks(&m) || nod_compare_idents(c, arena, before, after))
		return NULL;
	c->change = overall(c, compare_draw(&m));
	check_isolation(&m);
	c->sentence = sentence(&m);
	if (before.timeline && after.timeline) {
		c->outlook_known = true;
		nod_outlook_find(&c->outlook_before, before.f, before.timeline);
		nod_outlook_find(&c->outlook_after, after.f, after.timeline);
	}
	return arena->failed ? NULL : c;
}
