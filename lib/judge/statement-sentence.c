/* SPDX-License-Identifier: MIT */
/* The sentence of the answer. */
#include <math.h>
#include <string.h>

#include "current-trace.h"
#include "statement.h"

/* From here on the sentence says "is"; below, "most likely". */
#define SURE 0.8

static int percent(double p)
{
	int n = (int)lround(100 * p);
	return n > 99 ? 99 : n;
}

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
					k == 1       ? ""
					: k == count ? " and "
						     : ", ",
					n->name);
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
		text = nod_arena_printf(a->arena, "%s%s%s", text, i + 1 == *count ? " and " : ", ",
					s[i].name);
	}
	return text;
}

/* Names of the suspects that hang on what was isolated, likeliest first. */
static const char *names_on(struct nod_analysis *a, const struct nod_isolation_finding *t)
{
	const char *text = "";

	for (size_t i = 0; i < a->f->suspect_count; i++) {
		const struct nod_suspect *s = &a->f->suspects[i];
		if (s->probability >= NOD_SPOKEN_OF_MIN && nod_isolation_involves(a, t, s->sender))
			text = nod_arena_printf(a->arena, "%s%s%s", text, *text ? " or " : "",
						s->name);
	}
	return text;
}

/* Nobody is likelier than not: at least what an isolation proves, if one does. */
static const char *nobody_sentence(struct nod_analysis *a, const char *networks)
{
	const char *how = a->f->verdict == NOD_VERDICT_KEPT_AWAKE ? "kept awake" : "woken again";

	for (size_t i = a->f->isolation_count; i-- > 0;) {
		const struct nod_isolation_finding *t = &a->f->isolations[i];
		const char *names = t->result == NOD_ISOLATION_PROVED ? names_on(a, t) : "";
		if (*names)
			return nod_arena_printf(
				a->arena,
				"%s: %s by what hangs on %s (proved by isolating it): %s.",
				networks, how, t->subject, names);
	}
	if (nod_findings_rather_a_person(a->f))
		return nod_arena_printf(
			a->arena,
			"%s: woken again, most likely by somebody at the car (%d %%), "
			"who noted nothing; a fault is not ruled out.",
			networks, percent(a->f->suspects[0].probability));
	return nod_arena_printf(a->arena, "%s: %s; this recording does not tell by which module.",
				networks, how);
}

/* True when a network on which nothing of the sender was heard woke in the story of this wake-up. */
static bool is_joined(const struct nod_findings *f, const struct nod_wake_finding *wake)
{
	for (size_t i = 0; i < f->network_count; i++) {
		const struct nod_network_finding *n = &f->networks[i];
		const struct nod_span_finding *s = nod_analysis_span_at(
			n, nod_time_after(wake->time, (nod_duration){NOD_ONE_STORY_NS}));
		if (s && s->slept_before && s->from.ns >= wake->time.ns &&
		    !was_heard_on(f, wake->sender, n->network))
			return true;
	}
	return false;
}

/* In how many of its wake-ups that was so; "" when it made none. */
static const char *how_often_joined(struct nod_analysis *a, int sender)
{
	unsigned all = 0, joined = 0;

	for (size_t i = 0; i < a->f->wake_count; i++) {
		const struct nod_wake_finding *wake = &a->f->wakes[i];
		if (wake->sender != sender || *wake->cause)
			continue;
		all++;
		joined += is_joined(a->f, wake);
	}
	return all ? nod_arena_printf(a->arena, " (in %u of its %u wake-ups)", joined, all) : "";
}

/* Where the sender was not heard on all networks in this trouble: *networks become those on which
 * it was, and the others have a sentence of their own, else "". */
static const char *elsewhere(struct nod_analysis *a, enum nod_verdict verdict, int sender,
			     const char **networks)
{
	size_t own = 0, unheard = 0;
	const char *here = network_list_of(a, verdict, sender, true, &own);
	const char *there = network_list_of(a, verdict, sender, false, &unheard);
	bool held = verdict == NOD_VERDICT_KEPT_AWAKE;

	if (!own || !unheard)
		return "";
	*networks = here;
	return nod_arena_printf(a->arena,
				" %s %s as well%s, where nothing of it was heard: passed on by "
				"a gateway, or for a reason of its own.",
				there, held ? "stayed awake" : "woke",
				held ? "" : how_often_joined(a, sender));
}

/* What the likeliest is suspected of: of what the session is judged by, unless it was heard only on
 * networks in other trouble. */
static enum nod_verdict blamed_for(const struct nod_analysis *a, int sender)
{
	enum nod_verdict other = a->f->verdict;

	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		bool trouble = n->verdict == NOD_VERDICT_KEPT_AWAKE ||
			       n->verdict == NOD_VERDICT_WOKEN;
		if (!trouble || !was_heard_on(a->f, sender, n->network))
			continue;
		if (n->verdict == a->f->verdict)
			return n->verdict;
		other = n->verdict;
	}
	return other;
}

/* The worse trouble, which is not that of the one who is named. */
static const char *not_its_own(struct nod_analysis *a, enum nod_verdict own)
{
	if (own == a->f->verdict)
		return "";
	return nod_arena_printf(a->arena,
				" %s stayed awake, where nothing of it was heard: by whom, this "
				"recording does not tell.",
				network_list(a, a->f->verdict));
}

static const char *suspects_sentence(struct nod_analysis *a, const char *names, size_t count,
				     bool proved)
{
	const struct nod_suspect *s = &a->f->suspects[a->f->culprit];
	enum nod_verdict own = count == 1 ? blamed_for(a, s->sender) : a->f->verdict;
	bool held = own == NOD_VERDICT_KEPT_AWAKE;
	const char *networks = network_list(a, own);
	double surely = s[count - 1].probability; /* of all of them, as far as one number can */
	const char *verb = count > 1 ? (held ? "keep" : "wake") : (held ? "keeps" : "wakes");
	const char *rest = held ? " awake" : " again and again";
	if (!held && most_wakes(a->f) < 3)
		rest = " again";
	const char *others = count == 1 ? elsewhere(a, own, s->sender, &networks) : "";
	const char *worse = not_its_own(a, own);
	if (surely >= SURE)
		return nod_arena_printf(a->arena, "%s %s %s%s (%d %% sure%s).%s%s", names, verb,
					networks, rest, percent(surely),
					proved ? ", proved by isolating it" : "", others, worse);
	return nod_arena_printf(a->arena, "%s: %s, most likely by %s (%d %%).%s%s", networks,
				held ? "kept awake" : "woken again", names, percent(surely), others,
				worse);
}

static const char *trouble_sentence(struct nod_analysis *a)
{
	const char *networks = network_list(a, a->f->verdict);
	bool proved;
	size_t count;

	if (a->f->culprit == NOD_NONE)
		return nobody_sentence(a, networks);
	const struct nod_suspect *s = &a->f->suspects[a->f->culprit];
	if (s->role == NOD_ROLE_TESTER)
		return nod_arena_printf(a->arena,
					"A diagnostic tester or a dongle keeps %s awake (%d %% "
					"sure): our own doing, not a fault of the car.",
					networks, percent(s->probability));
	const char *names = culprit_names(a, &count, &proved);
	if (count == 1 && a->f->senders[s->sender].gateway && !s->proved)
		names = nod_arena_printf(
			a->arena, "%s, or what is behind it on a network that was not recorded,",
			names);
	return suspects_sentence(a, names, count, proved);
}

/* The network whose doubt decides. */
static const struct nod_network_finding *undecided(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL &&
		    f->networks[i].goes_on_as == NOD_NONE && f->networks[i].span_count)
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
	a->told = n ? (int)(n - a->f->networks) : NOD_NONE;
	return nod_arena_printf(a->arena, "Cannot tell: %s", n ? n->reason : "nothing was heard.");
}

static const char *draws_sentence(struct nod_analysis *a)
{
	return nod_arena_printf(
		a->arena,
		"The networks sleep, and yet the car draws %.0f mA (limit %.0f mA): look "
		"for a circuit, not for a module on a network.",
		nod_analysis_asleep_current(a) / 1000, (double)a->f->current->limit_ua / 1000);
}

static const char *sleeps_sentence(struct nod_analysis *a)
{
	const char *names = network_list(a, NOD_VERDICT_SLEEPS);
	size_t networks = 0; /* one that goes on under another name is one */

	for (size_t i = 0; i < a->f->network_count; i++)
		networks += a->f->networks[i].goes_on_as == NOD_NONE;
	const char *heard = networks == 1 ? "" : ", every network heard";

	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (nod_time_is_set(n->deaf_since))
			return nod_arena_printf(
				a->arena, "%s slept in time%s; nobody has listened to %s since %s.",
				names, heard, n->name, nod_analysis_when(a, n->deaf_since));
	}
	return nod_arena_printf(a->arena, "%s sleep%s in time%s.", names, networks == 1 ? "s" : "",
				heard);
}

static const char *late_sentence(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++)
		if (a->f->networks[i].verdict == NOD_VERDICT_LATE) {
			a->told = (int)i;
			return nod_arena_printf(a->arena, "Slept late: %s",
						a->f->networks[i].reason);
		}
	return "Slept late.";
}

const char *nod_statement_sentence(struct nod_analysis *a)
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
