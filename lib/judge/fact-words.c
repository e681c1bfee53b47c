/* SPDX-License-Identifier: MIT */
/* The words of each kind of fact. */
#include <math.h>

#include "current-join.h"
#include "current-trace.h"
#include "j1939.h"
#include "signals.h"
#include "statement.h"

static const char *in_use(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_findings *f = a->f;
	const struct nod_use_finding *use = &f->uses[about.of];
	bool open = f->in_use && (size_t)about.of + 1 == f->use_count;
	nod_time to = open ? f->end : use->to;

	return nod_arena_printf(a->arena, "The car was in use from %s to %s (%s): %s.%s",
				nod_analysis_when(a, use->from), nod_analysis_when(a, to),
				nod_analysis_length(a, nod_time_since(to, use->from)),
				nod_analysis_use_sign(a, use),
				open ? "" : " The settle clock starts after it.");
}

static const char *more_uses(struct nod_analysis *a, struct nod_about about)
{
	return nod_arena_printf(a->arena, "... and in use %zu more times.",
				a->f->use_count - (size_t)about.of);
}

static const char *of_suspect(struct nod_analysis *a, int suspect, const char *text)
{
	return suspect != NOD_NONE && nod_statement_names(a->f)
		       ? nod_arena_printf(a->arena, "%s: %s", a->f->suspects[suspect].name, text)
		       : text;
}

static const char *evidence(struct nod_analysis *a, struct nod_about about)
{
	return of_suspect(a, about.of, a->f->suspects[about.of].evidence[about.part].text);
}

static const char *isolation(struct nod_analysis *a, struct nod_about about)
{
	const char *text = a->f->isolations[about.of].text;

	return *text ? of_suspect(a, about.part, text) : NULL;
}

static const char *address(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_sender_finding *sender = &a->f->senders[about.of];
	const char *preferred = sender->kind == NOD_SENDER_SOURCE_ADDRESS
					? nod_j1939_address_name((uint8_t)sender->number)
					: NULL;

	return preferred
		       ? nod_arena_printf(a->arena,
					  "By the J1939 list of preferred addresses %02Xh is: %s.",
					  (unsigned)sender->number, preferred)
		       : NULL;
}

static const char *bits(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_ident_finding *ident = &a->f->idents[about.of];
	uint64_t mask = ident->changing_late_mask;
	unsigned bit = (unsigned)__builtin_ctzll(mask);
	int more = __builtin_popcountll(mask & ~nod_signals_same(a->f, ident, mask));
	const char *rest = more > 0 ? nod_arena_printf(a->arena, " and %d other bit%s", more,
						       more == 1 ? "" : "s")
				    : "";
	const char *often = ident->changes_late == 1
				    ? "once"
				    : nod_arena_printf(a->arena, "%llu times",
						       (unsigned long long)ident->changes_late);
	char id[NOD_SIGNAL_TEXT];

	return nod_arena_printf(
		a->arena, "While parked its %s%s move%s, %s: look at what it reports there.",
		nod_signals_print_bit(id, a->f, ident, bit), rest, more > 0 ? "" : "s", often);
}

static const char *touch(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_touch_finding *t = &a->f->touches[about.of];
	char move[NOD_SIGNAL_TEXT], after[NOD_TIME_TEXT];

	return nod_arena_printf(
		a->arena, "When \"%s\" was touched, %s (%s s from the mark; %u times in all).",
		t->subject,
		nod_signals_print_move(move, a->f, &a->f->idents[t->ident], t->bit, t->from, t->to),
		nod_duration_print_seconds(after, t->after, 1), t->toggles);
}

static const char *ring(struct nod_analysis *a, struct nod_about about)
{
	return nod_ring_words(a, &a->f->networks[about.of]);
}

static const char *alone(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_network_finding *n = &a->f->networks[about.of];
	const struct nod_span_finding *span = &n->spans[about.part];
	nod_time end = span->open ? a->f->end : span->to;

	return nod_arena_printf(a->arena, "%s alone kept %s awake from %s to %s (%s).",
				a->f->senders[span->lone_sender].name, n->name,
				nod_analysis_when(a, span->lone_from), nod_analysis_when(a, end),
				nod_analysis_length(a, nod_time_since(end, span->lone_from)));
}

static const char *wake(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_wake_finding *w = &a->f->wakes[about.of];
	char id[NOD_ID_TEXT];

	return nod_arena_printf(a->arena, "%s was woken at %s by %s (first frame %s)%s%s.",
				a->f->networks[w->network].name, nod_analysis_when(a, w->time),
				a->f->senders[w->sender].name,
				nod_id_print(id, a->f->idents[w->ident].id),
				w->noted    ? "; the journal says: "
				: *w->cause ? "; "
					    : "",
				w->cause);
}

static const char *more_wakes(struct nod_analysis *a, struct nod_about about)
{
	return nod_arena_printf(a->arena, "... and %zu more wake-ups.",
				a->f->wake_count - (size_t)about.of);
}

/* ---- the battery current ---- */

static const char *in_milliamps(const struct nod_analysis *a, double ua)
{
	double ma = fabs(ua) < 500 ? 0 : ua / 1000; /* never "-0 mA" */

	return ma < 1000 ? nod_arena_printf(a->arena, "%.0f mA", ma)
			 : nod_arena_printf(a->arena, "%.2f A", ma / 1000);
}

static const char *rest_current(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_current_findings *c = a->f->current;

	(void)about;
	return nod_arena_printf(
		a->arena,
		"Lowest steady battery current since the lock: %s, give or take %s (limit %s%s)%s.",
		in_milliamps(a, c->quiescent_ua), in_milliamps(a, c->quiescent_uncertainty_ua),
		in_milliamps(a, (double)c->limit_ua),
		a->f->vehicle->key_off_current_given ? "" : ", nodoff's default",
		c->within_noise ? "; that cannot be told from zero" : "");
}

static const char *network_current(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_network_current *n = &a->f->join->networks[about.of];
	const char *name = a->f->networks[about.of].name;
	const char *unsure = in_milliamps(a, n->uncertainty_ua);

	if (n->ua <= n->uncertainty_ua)
		return nod_arena_printf(
			a->arena,
			"The current does not tell whether %s is awake (it draws %s "
			"more then, give or take %s).",
			name, in_milliamps(a, fmax(n->ua, 0)), unsure);
	return nod_arena_printf(a->arena,
				"While %s is awake the car draws %s more (give or take %s).", name,
				in_milliamps(a, n->ua), unsure);
}

static const char *asleep_current(struct nod_analysis *a, struct nod_about about)
{
	(void)about;
	return nod_arena_printf(a->arena, "With all networks asleep it draws %s (give or take %s).",
				in_milliamps(a, a->f->join->asleep_ua),
				in_milliamps(a, a->f->join->asleep_uncertainty_ua));
}

static const char *explained(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_current_join *j = a->f->join;

	(void)about;
	if (j->explained_uah >= j->charge_uah)
		return nod_arena_printf(
			a->arena, "Awake networks explain all of the %.2f Ah taken since the lock.",
			j->charge_uah / 1e6);
	return nod_arena_printf(a->arena,
				"Awake networks explain %.2f of the %.2f Ah taken since the lock.",
				j->explained_uah / 1e6, j->charge_uah / 1e6);
}

static const char *charge(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_current_findings *c = a->f->current;

	(void)about;
	return nod_arena_printf(a->arena, "Since the lock it took %.2f Ah in %s, %s on average.",
				c->charge_uah / 1e6, nod_analysis_length(a, c->measured),
				in_milliamps(a, c->mean_ua));
}

static const char *pulses(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_current_findings *c = a->f->current;

	return nod_arena_printf(
		a->arena,
		"%zu pulses of %s for %s every %s look like a telematics unit reporting: normal, "
		"%s on average.",
		c->groups[about.of].count, in_milliamps(a, c->groups[about.of].height_ua),
		nod_analysis_length(a, c->groups[about.of].duration),
		nod_analysis_length(a, c->groups[about.of].period),
		in_milliamps(a, c->groups[about.of].average_ua));
}

static const char *network(struct nod_analysis *a, struct nod_about about)
{
	return a->f->networks[about.of].reason;
}

static const char *person(struct nod_analysis *a, struct nod_about about)
{
	(void)about;
	return nod_person_words(a);
}

static const char *only(struct nod_analysis *a, struct nod_about about)
{
	return nod_arena_printf(a->arena, "Of %s only %s was ever heard.",
				a->f->networks[about.of].name, a->f->senders[about.part].name);
}

static const char *wakes_cost(struct nod_analysis *a, struct nod_about about)
{
	(void)about;
	return nod_wakes_total_words(a);
}

const char *nod_fact_words(struct nod_analysis *a, struct nod_about about)
{
	static const char *(*const words[])(struct nod_analysis *, struct nod_about) = {
		[NOD_FACT_IN_USE] = in_use,
		[NOD_FACT_MORE_USES] = more_uses,
		[NOD_FACT_EVIDENCE] = evidence,
		[NOD_FACT_ADDRESS] = address,
		[NOD_FACT_BITS] = bits,
		[NOD_FACT_TOUCH] = touch,
		[NOD_FACT_RING] = ring,
		[NOD_FACT_ISOLATION] = isolation,
		[NOD_FACT_ALONE] = alone,
		[NOD_FACT_WAKE] = wake,
		[NOD_FACT_MORE_WAKES] = more_wakes,
		[NOD_FACT_REST_CURRENT] = rest_current,
		[NOD_FACT_NETWORK_CURRENT] = network_current,
		[NOD_FACT_ASLEEP_CURRENT] = asleep_current,
		[NOD_FACT_EXPLAINED] = explained,
		[NOD_FACT_CHARGE] = charge,
		[NOD_FACT_PULSES] = pulses,
		[NOD_FACT_NETWORK] = network,
		[NOD_FACT_PERSON] = person,
		[NOD_FACT_ONLY] = only,
		[NOD_FACT_WAKES_COST] = wakes_cost,
	};

	_Static_assert(sizeof(words) / sizeof(words[0]) == NOD_FACTS, "a fact without words");
	return words[about.kind](a, about);
}
