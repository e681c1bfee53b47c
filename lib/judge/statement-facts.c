/* SPDX-License-Identifier: MIT */
/* The facts that carry the sentence. */
#include <math.h>
#include <string.h>

#include "current-trace.h"
#include "j1939.h"
#include "signals.h"
#include "statement.h"

/* Evidence sentences given for the first suspect. */
#define EVIDENCE_LINES 3

/* So many suspects are spoken of in the facts; the table has all. */
#define SUSPECTS_SPOKEN_OF 3

/* Lone talkers shorter than this are not worth a line. */
#define LONE_LINE_NS (10 * NOD_NS_PER_S)
/* ... but who was the last before a sleep is, from here on. */
#define LONE_END_NS (2 * NOD_NS_PER_S)

static void add_fact(struct nod_analysis *a, const char *text)
{
	nod_statement_add(a->f->facts, &a->f->fact_count, text);
}

static void state_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (!strstr(a->f->sentence, n->reason))
			nod_statement_add(a->f->facts, &a->f->fact_count, n->reason);
	}
}

/* True for those the facts speak of: the first, and others nearly as likely. */
static bool is_spoken_of(const struct nod_findings *f, size_t i)
{
	const struct nod_suspect *s = &f->suspects[i];

	return s->kind == NOD_SUSPECT_SENDER && s->probability >= NOD_SPOKEN_OF_MIN &&
	       (i == 0 || s->probability >= 0.2);
}

static void state_evidence_of(struct nod_analysis *a, const struct nod_suspect *s, bool name,
			      size_t lines)
{
	const struct nod_sender_finding *sender = &a->f->senders[s->sender];

	for (size_t k = 0; k < s->evidence_count && lines; k++) {
		if (s->evidence[k].weight <= 0 ||
		    (k && !strcmp(s->evidence[k].text, s->evidence[k - 1].text)))
			continue;
		nod_statement_add(
			a->f->facts, &a->f->fact_count,
			name ? nod_arena_printf(a->arena, "%s: %s", s->name, s->evidence[k].text)
			     : s->evidence[k].text);
		lines--;
	}
	const char *preferred = sender->kind == NOD_SENDER_SOURCE_ADDRESS
					? nod_j1939_address_name((uint8_t)sender->number)
					: NULL;
	if (preferred)
		nod_statement_add(
			a->f->facts, &a->f->fact_count,
			nod_arena_printf(a->arena,
					 "By the J1939 list of preferred addresses %02Xh is: %s.",
					 (unsigned)sender->number, preferred));
}

static void state_evidence(struct nod_analysis *a)
{
	size_t spoken = a->f->culprit == NOD_NONE, done = 0; /* then the sentence names nobody */

	for (size_t i = 0; i < a->f->suspect_count; i++)
		spoken += is_spoken_of(a->f, i);
	for (size_t i = 0; i < a->f->suspect_count && done < SUSPECTS_SPOKEN_OF; i++)
		if (is_spoken_of(a->f, i)) {
			state_evidence_of(a, &a->f->suspects[i], spoken > 1,
					  spoken > 1 ? 2 : EVIDENCE_LINES);
			done++;
		}
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

/* Who has the network to himself, before the deadline too: a technician wants
 * to know even while nothing is a finding yet. */
static void state_lone(struct nod_analysis *a, const struct nod_network_finding *n)
{
	int only = only_sender_on(a->f, n->network);
	size_t lines = 0;

	if (only != NOD_NONE) {
		add_fact(a, nod_arena_printf(a->arena, "Of %s only %s was ever heard.", n->name,
					     a->f->senders[only].name));
		return;
	}
	for (size_t i = 0; i < n->span_count && lines < 3; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		nod_time end = span->open ? a->f->end : span->to;
		nod_duration alone = nod_time_since(end, span->lone_from);
		bool told = alone.ns >= LONE_LINE_NS ||
			    (alone.ns >= LONE_END_NS && span->slept_after && !lines);
		if (span->lone_sender == NOD_NONE || !told)
			continue;
		add_fact(a, nod_arena_printf(a->arena, "%s alone kept %s awake from %s to %s (%s).",
					     a->f->senders[span->lone_sender].name, n->name,
					     nod_analysis_when(a, span->lone_from),
					     nod_analysis_when(a, end),
					     nod_analysis_length(a, alone)));
		lines++;
	}
}

static void state_wakes(struct nod_analysis *a)
{
	char id[NOD_ID_TEXT];

	for (size_t i = 0; i < a->f->wake_count && i < 4; i++) {
		const struct nod_wake_finding *w = &a->f->wakes[i];
		nod_statement_add(a->f->facts, &a->f->fact_count,
				  nod_arena_printf(a->arena,
						   "%s was woken at %s by %s (first frame %s)%s%s.",
						   a->f->networks[w->network].name,
						   nod_analysis_when(a, w->time),
						   a->f->senders[w->sender].name,
						   nod_id_print(id, a->f->idents[w->ident].id),
						   w->noted    ? "; the journal says: "
						   : *w->cause ? "; "
							       : "",
						   w->cause));
	}
	if (a->f->wake_count > 4)
		nod_statement_add(a->f->facts, &a->f->fact_count,
				  nod_arena_printf(a->arena, "... and %zu more wake-ups.",
						   a->f->wake_count - 4));
}

/* Inputs that were worked on, and the bit that moved with each. */
static void state_touches(struct nod_analysis *a)
{
	char move[NOD_SIGNAL_TEXT], after[NOD_TIME_TEXT];

	for (size_t i = 0; i < a->f->touch_count; i++) {
		const struct nod_touch_finding *t = &a->f->touches[i];
		if (i && a->f->touches[i - 1].time.ns == t->time.ns)
			continue; /* the likeliest bit of each mark */
		nod_statement_add(
			a->f->facts, &a->f->fact_count,
			nod_arena_printf(
				a->arena,
				"When \"%s\" was touched, %s (%s s from the mark; %u times in "
				"all).",
				t->subject,
				nod_signals_print_move(move, a->f, &a->f->idents[t->ident], t->bit,
						       t->from, t->to),
				nod_duration_print_seconds(after, t->after, 1), t->toggles));
	}
}

/* The bits of the first suspect that move while parked: where to look. */
static void state_bits(struct nod_analysis *a)
{
	char id[NOD_SIGNAL_TEXT];

	if (a->f->culprit == NOD_NONE || a->f->suspects[a->f->culprit].sender == NOD_NONE)
		return;
	for (size_t i = 0, lines = 0; i < a->f->ident_count && lines < 2; i++) {
		const struct nod_ident_finding *ident = &a->f->idents[i];
		uint64_t mask = ident->changing_late_mask;
		if (ident->sender != a->f->suspects[a->f->culprit].sender || !mask)
			continue;
		unsigned bit = (unsigned)__builtin_ctzll(mask);
		int more = __builtin_popcountll(mask & ~nod_signals_same(a->f, ident, mask));
		const char *rest = more > 0 ? nod_arena_printf(a->arena, " and %d other bit%s",
							       more, more == 1 ? "" : "s")
					    : "";
		nod_statement_add(
			a->f->facts, &a->f->fact_count,
			nod_arena_printf(
				a->arena,
				"While parked its %s moves%s, %llu times: look at what it reports "
				"there.",
				nod_signals_print_bit(id, a->f, ident, bit), rest,
				(unsigned long long)ident->changes_late));
		lines++;
	}
}

void nod_statement_facts(struct nod_analysis *a)
{
	nod_analysis_say_uses(a, add_fact);
	nod_analysis_say_person(a, add_fact);
	if (nod_findings_only_a_tester(a->f)) {
		state_networks(a);
		return;
	}
	state_evidence(a);
	state_bits(a);
	state_touches(a);
	for (size_t i = 0; i < a->f->network_count; i++)
		nod_analysis_ring_fact(a, &a->f->networks[i], add_fact, a);
	for (size_t i = 0; i < a->f->isolation_count; i++)
		if (a->f->isolations[i].text[0])
			nod_statement_add(a->f->facts, &a->f->fact_count, a->f->isolations[i].text);
	for (size_t i = 0; i < a->f->network_count; i++)
		state_lone(a, &a->f->networks[i]);
	state_wakes(a);
	nod_analysis_current_facts(a, add_fact, a);
	state_networks(a);
}
