/* SPDX-License-Identifier: MIT */
/* Which facts carry the sentence, strongest first. Their words: fact-words.c. */
#include "current-join.h"
#include "current-trace.h"
#include "j1939.h"
#include "statement.h"

/* Evidence sentences given for the first suspect; for each of several. */
#define EVIDENCE_LINES 3
#define EVIDENCE_LINES_EACH 2

/* So many suspects are spoken of in the facts; the table has all. */
#define SUSPECTS_SPOKEN_OF 3

/* Others than the first are spoken of from this on. Chosen. */
#define SPOKEN_OF_TOO 0.2

/* Lone senders shorter than this are not worth a line. */
#define LONE_LINE_NS (10 * NOD_NS_PER_S)
/* ... but who was the last before a sleep is, from here on. */
#define LONE_END_NS (2 * NOD_NS_PER_S)

/* An isolation is one fact, of whichever suspect it is said. */
static bool is_same(struct nod_about x, struct nod_about y)
{
	return x.kind == y.kind && x.of == y.of &&
	       (x.part == y.part || x.kind == NOD_FACT_ISOLATION);
}

static bool is_said(const struct nod_findings *f, struct nod_about about)
{
	for (size_t i = 0; i < f->fact_count; i++)
		if (is_same(f->facts_about[i], about))
			return true;
	return false;
}

/* True when it was not said before. */
static bool say(struct nod_analysis *a, enum nod_fact kind, size_t of, int part)
{
	struct nod_findings *f = a->f;
	struct nod_about about = {(int)kind, (int)of, part};

	if (f->fact_count == NOD_STATEMENT_LINES || is_said(f, about))
		return false;
	const char *text = nod_fact_words(a, about);
	if (!text || !*text)
		return false;
	f->facts_about[f->fact_count] = about;
	f->facts[f->fact_count++] = text;
	return true;
}

static void state_uses(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->use_count && i < NOD_USES_TOLD; i++)
		say(a, NOD_FACT_IN_USE, i, 0);
	if (a->f->use_count > NOD_USES_TOLD)
		say(a, NOD_FACT_MORE_USES, NOD_USES_TOLD, 0);
}

/* True for those the facts speak of: the first, and others nearly as likely. */
static bool is_spoken_of(const struct nod_findings *f, size_t i)
{
	const struct nod_suspect *s = &f->suspects[i];

	return s->kind == NOD_SUSPECT_SENDER && s->probability >= NOD_SPOKEN_OF_MIN &&
	       (i == 0 || s->probability >= SPOKEN_OF_TOO);
}

bool nod_statement_names(const struct nod_findings *f)
{
	size_t spoken = f->culprit == NOD_NONE; /* then the sentence names nobody */

	for (size_t i = 0; i < f->suspect_count; i++)
		spoken += is_spoken_of(f, i);
	return spoken > 1;
}

static void state_evidence_of(struct nod_analysis *a, size_t suspect, size_t lines)
{
	const struct nod_suspect *s = &a->f->suspects[suspect];

	for (size_t k = 0; k < s->evidence_count && lines; k++) {
		const struct nod_evidence_finding *e = &s->evidence[k];
		if (e->weight <= 0)
			continue;
		if (e->isolation != NOD_NONE)
			lines -= say(a, NOD_FACT_ISOLATION, (size_t)e->isolation, (int)suspect);
		else
			lines -= say(a, NOD_FACT_EVIDENCE, suspect, (int)k);
	}
	say(a, NOD_FACT_ADDRESS, (size_t)s->sender, 0);
}

static void state_evidence(struct nod_analysis *a)
{
	size_t lines = nod_statement_names(a->f) ? EVIDENCE_LINES_EACH : EVIDENCE_LINES;

	for (size_t i = 0, done = 0; i < a->f->suspect_count && done < SUSPECTS_SPOKEN_OF; i++)
		if (is_spoken_of(a->f, i)) {
			state_evidence_of(a, i, lines);
			done++;
		}
}

/* The messages of the first suspect whose data moves while parked: where to look. */
static void state_bits(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	int sender = f->culprit == NOD_NONE ? NOD_NONE : f->suspects[f->culprit].sender;

	if (sender == NOD_NONE || f->senders[sender].kind == NOD_SENDER_TESTER)
		return;
	for (size_t i = 0, lines = 0; i < f->ident_count && lines < 2; i++)
		if (f->idents[i].sender == sender && f->idents[i].changing_late_mask)
			lines += say(a, NOD_FACT_BITS, i, 0);
}

/* Inputs that were worked on, and the likeliest bit that moved with each. */
static void state_touches(struct nod_analysis *a)
{
	const struct nod_touch_finding *t = a->f->touches;

	for (size_t i = 0; i < a->f->touch_count; i++)
		if (!i || t[i - 1].time.ns != t[i].time.ns)
			say(a, NOD_FACT_TOUCH, i, 0);
}

/* The only sender that was ever heard on the network; NOD_NONE: there are more. */
static int only_sender_on(const struct nod_findings *f, int network)
{
	int only = NOD_NONE;

	for (size_t i = 0; i < f->ident_count; i++) {
		if (f->idents[i].network != network)
			continue;
		if (only != NOD_NONE && f->idents[i].sender != only)
			return NOD_NONE;
		only = f->idents[i].sender;
	}
	return only;
}

/* That it was alone in the last span is part of what was said against a suspect. */
static bool is_said_of_suspect(const struct nod_findings *f, int network, int sender)
{
	for (size_t i = 0; i < f->fact_count; i++) {
		struct nod_about about = f->facts_about[i];
		if (about.kind != NOD_FACT_EVIDENCE)
			continue;
		const struct nod_suspect *s = &f->suspects[about.of];
		if (s->sender == sender && s->network == network &&
		    s->evidence[about.part].kind == NOD_EV_ALONE)
			return true;
	}
	return false;
}

/* Who has the network to himself, before the deadline too: a technician wants
 * to know even while nothing is a finding yet. */
static void state_lone(struct nod_analysis *a, size_t network)
{
	const struct nod_network_finding *n = &a->f->networks[network];
	int only = only_sender_on(a->f, n->network);

	if (only != NOD_NONE) {
		say(a, NOD_FACT_ONLY, network, only);
		return;
	}
	for (size_t i = 0, lines = 0; i < n->span_count && lines < 3; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		nod_time end = span->open ? a->f->end : span->to;
		int64_t alone = nod_time_since(end, span->lone_from).ns;
		bool told = alone >= LONE_LINE_NS ||
			    (alone >= LONE_END_NS && span->slept_after && !lines);
		bool said = i + 1 == n->span_count &&
			    is_said_of_suspect(a->f, n->network, span->lone_sender);
		if (span->lone_sender != NOD_NONE && told && !said)
			lines += say(a, NOD_FACT_ALONE, network, (int)i);
	}
}

static void state_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++)
		if ((int)i != a->told)
			say(a, NOD_FACT_NETWORK, i, 0);
}

/* What all of them come to says more than when each was; of one network alone, its own
 * sentence says so. */
static void state_wakes(struct nod_analysis *a)
{
	if (a->f->verdict == NOD_VERDICT_SLEEPS && a->f->wake_count)
		state_networks(a);
	if (a->f->verdict != NOD_VERDICT_SLEEPS || a->f->network_count > 1)
		say(a, NOD_FACT_WAKES_COST, 0, 0);
	for (size_t i = 0; i < a->f->wake_count && i < NOD_WAKES_TOLD; i++)
		say(a, NOD_FACT_WAKE, i, 0);
	if (a->f->wake_count > NOD_WAKES_TOLD)
		say(a, NOD_FACT_MORE_WAKES, NOD_WAKES_TOLD, 0);
}

static void state_current(struct nod_analysis *a)
{
	const struct nod_current_findings *c = a->f->current;
	const struct nod_current_join *j = a->f->join;

	if (!c)
		return;
	if (c->quiescent_known && !j->asleep_known)
		say(a, NOD_FACT_REST_CURRENT, 0, 0);
	for (size_t i = 0; i < j->network_count; i++)
		if (j->networks[i].known)
			say(a, NOD_FACT_NETWORK_CURRENT, i, 0);
	if (j->asleep_known)
		say(a, NOD_FACT_ASLEEP_CURRENT, 0, 0);
	if (j->explained_all && j->charge_uah > 0)
		say(a, NOD_FACT_EXPLAINED, 0, 0);
	if (c->measured.ns > 0)
		say(a, NOD_FACT_CHARGE, 0, 0);
	for (size_t i = 0; i < c->group_count; i++)
		if (c->groups[i].telemetry_like)
			say(a, NOD_FACT_PULSES, i, 0);
}

void nod_statement_facts(struct nod_analysis *a)
{
	state_uses(a);
	say(a, NOD_FACT_PERSON, 0, 0);
	if (nod_findings_only_a_tester(a->f)) {
		state_networks(a);
		return;
	}
	state_evidence(a);
	state_bits(a);
	state_touches(a);
	for (size_t i = 0; i < a->f->network_count; i++)
		say(a, NOD_FACT_RING, i, 0);
	for (size_t i = 0; i < a->f->isolation_count; i++)
		say(a, NOD_FACT_ISOLATION, i, NOD_NONE);
	for (size_t i = 0; i < a->f->network_count; i++)
		state_lone(a, i);
	state_wakes(a);
	state_current(a);
	state_networks(a);
}
