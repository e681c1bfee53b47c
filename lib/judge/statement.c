/* The words of the answer: the sentence, the facts that carry it, what limits
 * it, and what to do next. */
#include "analysis.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "current-trace.h"
#include "j1939.h"
#include "signals.h"

/* From here on the sentence says "is"; below, "most likely". */
#define SURE 0.8

#define LINES_MAX 24

/* Evidence sentences given for the first suspect. */
#define EVIDENCE_LINES 3

/* So many suspects are spoken of in the facts; the table has all. */
#define SUSPECTS_SPOKEN_OF 3
#define SPOKEN_OF_MIN 0.05

/* Lone talkers shorter than this are not worth a line. */
#define LONE_LINE_NS (10 * NOD_NS_PER_S)

/* A network judged asleep on less silence than this: said as a doubt. */
#define SHORT_SILENCE_NS (600 * NOD_NS_PER_S)

/* What carries the verdict may be found on two ways, with a module's name before it and
 * without; it is said once. */
static void add(const char **lines, size_t *count, const char *text)
{
	for (size_t i = 0; i < *count; i++)
		if (strstr(lines[i], text))
			return;
	if (*count < LINES_MAX)
		lines[(*count)++] = text;
}

static int percent(double p)
{
	int n = (int)lround(100 * p);
	return n > 99 ? 99 : n;
}

/* ---- the sentence ---- */

/* True when something of this sender was heard on the network. */
static bool was_heard_on(const struct nod_findings *f, int sender, int network)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].sender == sender && f->idents[i].network == network)
			return true;
	return false;
}

static bool is_listed(const struct nod_findings *f, const struct nod_network_finding *n,
		      enum nod_verdict verdict, int sender, bool heard)
{
	return n->verdict == verdict &&
	       (sender == NOD_NONE || was_heard_on(f, sender, n->network) == heard);
}

/* The networks of this verdict; of these, only those on which `sender` was heard or, with
 * `heard` false, was not. sender NOD_NONE: all. */
static const char *network_list_of(struct nod_analysis *a, enum nod_verdict verdict, int sender,
				   bool heard, size_t *listed)
{
	const char *text = "";
	size_t count = 0;

	for (size_t i = 0; i < a->f->network_count; i++)
		count += is_listed(a->f, &a->f->networks[i], verdict, sender, heard);
	for (size_t i = 0, k = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (!is_listed(a->f, n, verdict, sender, heard))
			continue;
		k++;
		text = nod_arena_printf(a->arena, "%s%s%s", text,
					k == 1 ? "" : k == count ? " and " : ", ", n->name);
	}
	*listed = count;
	return text;
}

static const char *network_list(struct nod_analysis *a, enum nod_verdict verdict)
{
	size_t count;

	return network_list_of(a, verdict, NOD_NONE, true, &count);
}

/* Wake-ups of one network that nothing explains, at most. */
static unsigned most_wakes(const struct nod_findings *f)
{
	unsigned most = 0;

	for (size_t i = 0; i < f->network_count; i++)
		most = f->networks[i].wakes > most ? f->networks[i].wakes : most;
	return most;
}

/* Names of the suspects that are more likely than not, likeliest first; *proved: every one
 * of them is. */
static const char *culprit_names(struct nod_analysis *a, size_t *count, bool *proved)
{
	const struct nod_suspect *s = a->f->suspects;
	const char *text = s[0].name;

	*count = 1;
	*proved = s[0].proved;
	while (*count < a->f->suspect_count && s[*count].kind == NOD_SUSPECT_SENDER &&
	       s[*count].probability >= 0.5)
		(*count)++;
	for (size_t i = 1; i < *count; i++) {
		*proved &= s[i].proved;
		text = nod_arena_printf(a->arena, "%s%s%s", text,
					i + 1 == *count ? " and " : ", ", s[i].name);
	}
	return text;
}

/* Names of the suspects that hang on what was isolated, likeliest first. */
static const char *names_on(struct nod_analysis *a, const struct nod_trial_finding *t)
{
	const char *text = "";

	for (size_t i = 0; i < a->f->suspect_count; i++) {
		const struct nod_suspect *s = &a->f->suspects[i];
		if (s->probability >= SPOKEN_OF_MIN && nod_trial_involves(a, t, s->sender))
			text = nod_arena_printf(a->arena, "%s%s%s", text, *text ? " or " : "",
						s->name);
	}
	return text;
}

/* Nobody is likelier than not: at least what an isolation proves, if one does. */
static const char *nobody_sentence(struct nod_analysis *a, const char *networks)
{
	const char *how = a->f->verdict == NOD_VERDICT_KEPT_AWAKE ? "kept awake" : "woken again";

	for (size_t i = a->f->trial_count; i-- > 0;) {
		const struct nod_trial_finding *t = &a->f->trials[i];
		const char *names = t->result == NOD_TRIAL_PROVED ? names_on(a, t) : "";
		if (*names)
			return nod_arena_printf(a->arena,
						"%s: %s by what hangs on %s (proved by isolating it): %s.",
						networks, how, t->subject, names);
	}
	return nod_arena_printf(a->arena, "%s: %s; this recording does not tell by which module.",
				networks, how);
}

static const char *trouble_sentence(struct nod_analysis *a)
{
	bool held = a->f->verdict == NOD_VERDICT_KEPT_AWAKE, proved;
	const char *networks = network_list(a, a->f->verdict);
	size_t count;

	if (a->f->culprit == NOD_NONE)
		return nobody_sentence(a, networks);
	const struct nod_suspect *s = &a->f->suspects[a->f->culprit];
	if (s->role == NOD_ROLE_TESTER)
		return nod_arena_printf(a->arena,
					"A diagnostic tester keeps %s awake (%d %% sure): our own "
					"doing, not a fault of the car.",
					networks, percent(s->probability));
	const char *names = culprit_names(a, &count, &proved);
	if (count == 1 && a->f->senders[s->sender].gateway && !s->proved)
		names = nod_arena_printf(a->arena, "%s, or what is behind it on a network that was not recorded,",
					 names);
	double surely = s[count - 1].probability; /* of all of them, as far as one number can */
	const char *verb = count > 1 ? (held ? "keep" : "wake") : (held ? "keeps" : "wakes");
	const char *rest = held ? " awake" : " again and again";
	if (!held && most_wakes(a->f) < 3)
		rest = " again";
	const char *others = "";
	size_t own = 0, unheard = 0;
	if (count == 1) {
		const char *here = network_list_of(a, a->f->verdict, s->sender, true, &own);
		const char *there = network_list_of(a, a->f->verdict, s->sender, false, &unheard);
		if (own && unheard) {
			networks = here;
			others = nod_arena_printf(a->arena,
						  " %s %s as well, where nothing of it was heard: passed "
						  "on by a gateway, or for a reason of its own.",
						  there, held ? "stayed awake" : "woke");
		}
	}
	if (surely >= SURE)
		return nod_arena_printf(a->arena, "%s %s %s%s (%d %% sure%s).%s", names, verb,
					networks, rest, percent(surely),
					proved ? ", proved by isolating it" : "", others);
	return nod_arena_printf(a->arena, "%s: %s, most likely by %s (%d %%).%s", networks,
				held ? "kept awake" : "woken again", names, percent(surely), others);
}

/* The network whose doubt decides. */
static const struct nod_network_finding *undecided(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL && f->networks[i].span_count)
			return &f->networks[i];
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL)
			return &f->networks[i];
	return NULL;
}

static const char *unsure_sentence(struct nod_analysis *a)
{
	const struct nod_network_finding *n = undecided(a->f);

	if (!a->f->frames)
		return "Cannot tell: the recording holds no frame at all. That is not the same as "
		       "asleep.";
	if (nod_findings_only_a_tester(a->f))
		return "Cannot tell: nothing was heard but a diagnostic tester and the answers to it. "
		       "The traffic is the tester itself, not a fault of the car.";
	return nod_arena_printf(a->arena, "Cannot tell: %s", n ? n->reason : "nothing was heard.");
}

static const char *draws_sentence(struct nod_analysis *a)
{
	return nod_arena_printf(a->arena,
				"The networks sleep, and yet the car draws %.0f mA (limit %.0f mA): look "
				"for a circuit, not for a module on a network.",
				nod_analysis_asleep_current(a) / 1000,
				(double)a->f->current->limit_ua / 1000);
}

static const char *sleeps_sentence(struct nod_analysis *a)
{
	const char *names = network_list(a, NOD_VERDICT_SLEEPS);
	const char *heard = a->f->network_count == 1 ? "" : ", every network heard";

	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (nod_time_is_set(n->deaf_since))
			return nod_arena_printf(a->arena,
						"%s slept in time%s; nobody has listened to %s since %s.",
						names, heard, n->name,
						nod_analysis_when(a, n->deaf_since));
	}
	return nod_arena_printf(a->arena, "%s sleep%s in time%s.", names,
				a->f->network_count == 1 ? "s" : "", heard);
}

static const char *late_sentence(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++)
		if (a->f->networks[i].verdict == NOD_VERDICT_LATE)
			return nod_arena_printf(a->arena, "Slept late: %s", a->f->networks[i].reason);
	return "Slept late.";
}

static const char *sentence(struct nod_analysis *a)
{
	switch (a->f->verdict) {
	case NOD_VERDICT_KEPT_AWAKE:
	case NOD_VERDICT_WOKEN:
		return trouble_sentence(a);
	case NOD_VERDICT_SLEEPS:
		return sleeps_sentence(a);
	case NOD_VERDICT_DRAWS:
		return draws_sentence(a);
	case NOD_VERDICT_LATE:
		return late_sentence(a);
	default:
		return unsure_sentence(a);
	}
}

/* ---- facts ---- */

static void state_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (!strstr(a->f->sentence, n->reason))
			add(a->f->facts, &a->f->fact_count, n->reason);
	}
}

/* True for those the facts speak of: the first, and others nearly as likely. */
static bool is_spoken_of(const struct nod_findings *f, size_t i)
{
	const struct nod_suspect *s = &f->suspects[i];

	return s->kind == NOD_SUSPECT_SENDER && s->probability >= SPOKEN_OF_MIN &&
	       (i == 0 || s->probability >= 0.2);
}

static void state_evidence_of(struct nod_analysis *a, const struct nod_suspect *s, bool name,
			      size_t lines)
{
	const struct nod_sender_finding *sender = &a->f->senders[s->sender];

	for (size_t k = 0; k < s->evidence_count && lines; k++) {
		if (s->evidence[k].weight <= 0 || (k && !strcmp(s->evidence[k].text,
								s->evidence[k - 1].text)))
			continue;
		add(a->f->facts, &a->f->fact_count,
		    name ? nod_arena_printf(a->arena, "%s: %s", s->name, s->evidence[k].text)
			 : s->evidence[k].text);
		lines--;
	}
	const char *preferred = sender->kind == NOD_SENDER_SOURCE_ADDRESS
					? nod_j1939_address_name((uint8_t)sender->number)
					: NULL;
	if (preferred)
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena,
				     "By the J1939 list of preferred addresses %02Xh is: %s.",
				     (unsigned)sender->number, preferred));
}

static void state_evidence(struct nod_analysis *a)
{
	size_t spoken = 0, done = 0;

	for (size_t i = 0; i < a->f->suspect_count; i++)
		spoken += is_spoken_of(a->f, i);
	for (size_t i = 0; i < a->f->suspect_count && done < SUSPECTS_SPOKEN_OF; i++)
		if (is_spoken_of(a->f, i)) {
			state_evidence_of(a, &a->f->suspects[i], spoken > 1,
					  spoken > 1 ? 2 : EVIDENCE_LINES);
			done++;
		}
}

/* Who has the network to himself, before the deadline too: a technician wants
 * to know even while nothing is a finding yet. */
static void state_lone(struct nod_analysis *a, const struct nod_network_finding *n)
{
	size_t lines = 0;

	for (size_t i = 0; i < n->span_count && lines < 3; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		nod_time end = span->open ? a->f->end : span->to;
		nod_duration alone = nod_time_since(end, span->lone_from);
		if (span->lone_sender == NOD_NONE || alone.ns < LONE_LINE_NS)
			continue;
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena,
				     "%s alone kept %s awake from %s to %s (%s).",
				     a->f->senders[span->lone_sender].name, n->name,
				     nod_analysis_when(a, span->lone_from),
				     nod_analysis_when(a, end), nod_analysis_length(a, alone)));
		lines++;
	}
}

static void state_wakes(struct nod_analysis *a)
{
	char id[NOD_ID_TEXT];

	for (size_t i = 0; i < a->f->wake_count && i < 4; i++) {
		const struct nod_wake_finding *w = &a->f->wakes[i];
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena, "%s was woken at %s by %s (first frame %s)%s%s.",
				     a->f->networks[w->network].name,
				     nod_analysis_when(a, w->time), a->f->senders[w->sender].name,
				     nod_id_print(id, a->f->idents[w->ident].id),
				     w->noted ? "; the journal says: " : *w->cause ? "; " : "", w->cause));
	}
	if (a->f->wake_count > 4)
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena, "... and %zu more wake-ups.", a->f->wake_count - 4));
}

/* Inputs that were worked on, and the bit that moved with each. */
static void state_touches(struct nod_analysis *a)
{
	char move[NOD_SIGNAL_TEXT], after[NOD_TIME_TEXT];

	for (size_t i = 0; i < a->f->touch_count; i++) {
		const struct nod_touch_finding *t = &a->f->touches[i];
		if (i && a->f->touches[i - 1].time.ns == t->time.ns)
			continue; /* the likeliest bit of each mark */
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena,
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
		const char *rest = more > 0 ? nod_arena_printf(a->arena, " and %d other bit%s", more,
							       more == 1 ? "" : "s")
					    : "";
		add(a->f->facts, &a->f->fact_count,
		    nod_arena_printf(a->arena,
				     "While parked its %s moves%s, %llu times: look at what it reports "
				     "there.",
				     nod_signals_print_bit(id, a->f, ident, bit), rest,
				     (unsigned long long)ident->changes_late));
		lines++;
	}
}

static void add_fact(struct nod_analysis *a, const char *text)
{
	add(a->f->facts, &a->f->fact_count, text);
}

static void state_facts(struct nod_analysis *a)
{
	nod_analysis_say_uses(a, add_fact);
	state_evidence(a);
	state_bits(a);
	state_touches(a);
	for (size_t i = 0; i < a->f->network_count; i++)
		nod_analysis_ring_fact(a, &a->f->networks[i], add_fact, a);
	for (size_t i = 0; i < a->f->trial_count; i++)
		if (a->f->trials[i].text[0])
			add(a->f->facts, &a->f->fact_count, a->f->trials[i].text);
	for (size_t i = 0; i < a->f->network_count; i++)
		state_lone(a, &a->f->networks[i]);
	state_wakes(a);
	nod_analysis_current_facts(a, add_fact, a);
	state_networks(a);
}

/* ---- doubts ---- */

static void doubt_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		nod_duration silence = nod_time_is_set(n->slept_until)
					       ? nod_time_since(n->slept_until, n->slept_at)
					       : nod_time_since(a->f->end, n->since);
		if (nod_time_is_set(n->deaf_since))
			add(a->f->doubts, &a->f->doubt_count,
			    nod_arena_printf(a->arena,
					     "Nobody has listened to %s since %s: what it does is not "
					     "known.",
					     n->name, nod_analysis_when(a, n->deaf_since)));
		if (n->lost)
			add(a->f->doubts, &a->f->doubt_count,
			    nod_arena_printf(a->arena,
					     "%llu frames of %s were lost; silence beside a loss "
					     "does not count as sleep.",
					     (unsigned long long)n->lost, n->name));
		if (n->errors)
			add(a->f->doubts, &a->f->doubt_count,
			    nod_arena_printf(a->arena,
					     "%llu error reports on %s: check wiring, terminators "
					     "and the bitrate.",
					     (unsigned long long)n->errors, n->name));
		if (n->verdict == NOD_VERDICT_SLEEPS && silence.ns < SHORT_SILENCE_NS)
			add(a->f->doubts, &a->f->doubt_count,
			    nod_arena_printf(a->arena,
					     "%s was watched asleep for only %s: a waker that comes "
					     "more rarely would not have shown.",
					     n->name, nod_analysis_length(a, silence)));
	}
}

static void doubt(struct nod_analysis *a, const char *text)
{
	add(a->f->doubts, &a->f->doubt_count, text);
}

/* Stretches of being awake for which there was no room. */
static void doubt_spans(struct nod_analysis *a, const struct nod_network_finding *n,
			const struct nod_track *track)
{
	doubt(a, nod_arena_printf(a->arena,
				  "%s was awake more than %d times: %llu further stretches are "
				  "neither listed nor judged.",
				  n->name, NOD_SPANS_MAX, (unsigned long long)track->spans_dropped));
}

static void doubt_room_of_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		const struct nod_track *track = nod_engine_track(a->engine, (size_t)n->network);
		if (track && track->spans_dropped)
			doubt_spans(a, n, track);
		if (track && track->unkept)
			doubt(a, nod_arena_printf(a->arena,
						  "More than %d different IDs: %llu frames of further ones "
						  "on %s are counted, but not judged.",
						  NOD_IDENTS_MAX, (unsigned long long)track->unkept,
						  n->name));
	}
}

/* What there was no room for. */
static void doubt_room(struct nod_analysis *a)
{
	const struct nod_engine *e = a->engine;

	doubt_room_of_networks(a);
	if (e->marks_dropped)
		doubt(a, nod_arena_printf(a->arena,
					  "%zu entries of the journal beyond the first %d are not taken "
					  "into account.", e->marks_dropped, NOD_MARKS_MAX));
	if (e->snapshots_dropped)
		doubt(a, nod_arena_printf(a->arena,
					  "%zu isolations and refits beyond the first %d are not judged.",
					  e->snapshots_dropped, NOD_SNAPSHOTS_MAX));
	if (e->touches_dropped)
		doubt(a, nod_arena_printf(a->arena,
					  "%zu touched inputs beyond the first %d are not looked at.",
					  e->touches_dropped, NOD_TOUCHES_MAX));
}

/* A candump log ends with its last frame, however long it was listened to. */
static void doubt_end(struct nod_analysis *a)
{
	bool awake = false, stopped = false;

	for (size_t i = 0; i < a->f->network_count; i++)
		awake |= a->f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL &&
			 a->f->networks[i].state == NOD_STATE_AWAKE;
	for (size_t i = 0; i < a->f->mark_count; i++)
		stopped |= a->f->marks[i].kind == NOD_MARK_STOPPED;
	if (awake && !stopped && !a->f->in_use && a->f->verdict == NOD_VERDICT_CANNOT_TELL)
		add(a->f->doubts, &a->f->doubt_count,
		    "The recording ends with a frame. If it was listened to for longer, say until when: "
		    "\"# ended: SECONDS\" in the capture, or \"stopped\" in the journal.");
}

static void doubt_late_start(struct nod_analysis *a)
{
	char unheard[NOD_TIME_TEXT];
	const struct nod_findings *f = a->f;

	if (!nod_time_is_set(f->late_start))
		return;
	nod_duration_print(unheard, nod_time_since(f->late_start, f->lock));
	doubt(a, nod_arena_printf(a->arena, "The first %s after the lock were not recorded and say "
				  "nothing: the time to sleep counts from when listening began.",
				  unheard));
}

static void state_doubts(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	bool default_deadline = false;

	nod_analysis_say_holes(a, doubt);
	nod_analysis_say_map(a, doubt);
	for (size_t i = 0; i < f->network_count; i++)
		default_deadline |= f->networks[i].deadline_default && f->networks[i].span_count;
	doubt_late_start(a);
	if (f->verdict == NOD_VERDICT_WOKEN && nod_analysis_may_be_bench(a))
		doubt(a, "So few messages are rather one unit on a bench than a car: there, being switched "
			 "on again looks like a wake-up.");
	if (f->lock_source == NOD_LOCK_FROM_START)
		add(a->f->doubts, &a->f->doubt_count,
		    "Nothing says when the car was locked: the start of the recording is taken.");
	if (default_deadline)
		add(a->f->doubts, &a->f->doubt_count,
		    "The time to sleep is nodoff's default (40 min after lock), not this car's.");
	doubt_end(a);
	doubt_networks(a);
	doubt_room(a);
	if (f->clock_steps)
		add(a->f->doubts, &a->f->doubt_count,
		    nod_arena_printf(a->arena,
				     "The recording clock was stepped %llu time%s; later times are "
				     "shown as if it had gone on.",
				     (unsigned long long)f->clock_steps,
				     f->clock_steps == 1 ? "" : "s"));
	if (f->defects)
		add(a->f->doubts, &a->f->doubt_count,
		    nod_arena_printf(a->arena, "%llu line%s of the recording could not be read.",
				     (unsigned long long)f->defects, f->defects == 1 ? "" : "s"));
	if (f->gaps)
		add(a->f->doubts, &a->f->doubt_count,
		    nod_arena_printf(a->arena,
				     "Nobody listened during %llu gap%s; silence there is unknown.",
				     (unsigned long long)f->gaps, f->gaps == 1 ? "" : "s"));
}

static void state_cautions(struct nod_analysis *a)
{
	bool trouble = a->f->verdict == NOD_VERDICT_KEPT_AWAKE ||
		       a->f->verdict == NOD_VERDICT_WOKEN || a->f->verdict == NOD_VERDICT_DRAWS;
	if (!trouble)
		return;
	add(a->f->cautions, &a->f->caution_count,
	    "Do not pull or probe airbag or high-voltage circuits. The vehicle maker's procedure "
	    "comes first.");
	add(a->f->cautions, &a->f->caution_count,
	    "Pulling or refitting a fuse wakes the car: the way to sleep starts anew.");
}

int nod_analysis_state(struct nod_analysis *a)
{
	a->f->facts = nod_arena_alloc(a->arena, LINES_MAX * sizeof(*a->f->facts));
	a->f->doubts = nod_arena_alloc(a->arena, LINES_MAX * sizeof(*a->f->doubts));
	a->f->cautions = nod_arena_alloc(a->arena, LINES_MAX * sizeof(*a->f->cautions));
	if (!a->f->facts || !a->f->doubts || !a->f->cautions)
		return -ENOMEM;
	a->f->sentence = sentence(a);
	state_facts(a);
	state_doubts(a);
	state_cautions(a);
	a->f->next = nod_analysis_next_step(a);
	return 0;
}
