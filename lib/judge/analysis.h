/* SPDX-License-Identifier: MIT */
/* One analysis under way: the engine it reads and the findings it fills.
 * Internal. The steps run in the order of nod_engine_findings() in verdict.c;
 * each reads what the ones before it found. */
#ifndef NOD_ANALYSIS_H
#define NOD_ANALYSIS_H

#include "arena.h"
#include "engine-internal.h"

/* One hypothesis about the cause while it is being weighed. */
struct nod_hypothesis {
	enum nod_suspect_kind kind;
	int sender;  /* index into findings->senders, NOD_NONE */
	int network; /* whose trouble it explains */
	enum nod_role role;
	double score; /* log-odds so far, prior included */
	struct nod_evidence_finding evidence[NOD_EVIDENCE_KINDS]; /* one per kind at most */
	size_t evidence_count;
	double probability;
};

struct nod_analysis {
	struct nod_engine *engine;
	struct nod_findings *f;
	struct nod_arena *arena;
	bool parked;    /* parked.c; once holes are found */
	int told;       /* network whose reason the sentence repeats, NOD_NONE */
	int **ident_of; /* by network, by ident of its track: index into f->idents */
};

/* findings-copy.c: session, networks with their spans, IDs, senders, marks. */
int nod_analysis_copy(struct nod_analysis *a);

/* Networks with their spans, after the messages. 0 or -ENOMEM. */
int nod_analysis_copy_networks(struct nod_analysis *a);

/* use.c: the last span of a network that began by then, NULL: none did. */
const struct nod_span_finding *nod_analysis_span_at(const struct nod_network_finding *n,
						    nod_time time);

/* use.c: when the car was in use. use_at: the use that a wake-up at this time belongs to,
 * NULL: none. use_sign: by what it is known. */
int nod_analysis_copy_uses(struct nod_analysis *a);
const struct nod_use_finding *nod_analysis_use_at(const struct nod_analysis *a, nod_time time);
/* Where nothing says that the car was locked, a network that begins to talk before its deadline, or
 * whenever where nothing says either that it was parked, while another talks anyway was not woken
 * out of the sleep of a parked car. */
bool nod_analysis_is_amid_traffic(const struct nod_analysis *a, int network, nod_time time);
const char *nod_analysis_use_sign(struct nod_analysis *a, const struct nod_use_finding *use);

/* holes.c: which silences were sleep, and where nobody listened. */
int nod_analysis_find_holes(struct nod_analysis *a);

/* renamed-networks.c: networks that go on under another name, after the holes are found. */
void nod_analysis_find_renamed(struct nod_analysis *a);

/* parked.c: something says that the car was parked; once holes are found. not_parked: what there
 * is to be said of a network that was awake, when nothing does. */
bool nod_analysis_is_parked(const struct nod_analysis *a);
bool nod_analysis_tester_talks(const struct nod_analysis *a);
const char *nod_analysis_not_parked(struct nod_analysis *a, const struct nod_network_finding *n);

/* ... index of a sender in the findings, added when new. */
int nod_analysis_sender(struct nod_analysis *a, const struct nod_sender *sender);

/* routed-messages.c: who sends what is heard on two networks; who is a gateway. 0 or -ENOMEM. */
int nod_analysis_find_routed(struct nod_analysis *a);

/* wakes.c: the wake-ups across networks. */
int nod_analysis_find_wakes(struct nod_analysis *a);

/* meant-wakes.c: a wake-up that the vehicle file announces; and, of the unexplained ones of a
 * network, that they look meant: a sentence, "" when they do not. */
#define NOD_CAUSE_EXPECTED "expected by the vehicle file"
bool nod_analysis_is_expected(const struct nod_analysis *a, const struct nod_wake_finding *wake);
bool nod_analysis_is_expected_at(const struct nod_analysis *a,
				 nod_time time); /* once wakes are told */
const char *nod_analysis_likely_meant(struct nod_analysis *a, const struct nod_network_finding *n);

/* unmarked-person.c: so little was heard that it may be one module on a bench; and it broke off,
 * too, as what is switched off does (once holes are found): then nothing is known of a car's
 * sleep. */
bool nod_analysis_may_be_bench(const struct nod_analysis *a);
bool nod_analysis_is_switched_bench(const struct nod_analysis *a);

/* isolations.c: what the isolations in the journal show. */
int nod_analysis_judge_isolations(struct nod_analysis *a);

/* dating-text.c: adds to the text of an isolation when the traffic dates it. */
void nod_analysis_tell_dating(const struct nod_analysis *a, const struct nod_mark_finding *mark,
			      struct nod_isolation_finding *isolation);

/* questions.c: what happened and nobody noted. */
int nod_analysis_ask(struct nod_analysis *a);

/* network-verdict.c: each network on its own. */
void nod_analysis_judge_networks(struct nod_analysis *a);

/* draw.c: the battery current, and whether a sleeping car takes too much. */
int nod_analysis_read_current(struct nod_analysis *a);
bool nod_analysis_draws_too_much(const struct nod_analysis *a);
double nod_analysis_asleep_current(const struct nod_analysis *a); /* microamps */

/* observe-fuses.c: the readings across fuses in the journal. */
int nod_analysis_read_fuses(struct nod_analysis *a);

/* observe-good.c: what is different from the good recording, if there is one. */
int nod_analysis_compare_with_good(struct nod_analysis *a);
const char *nod_difference_text(struct nod_analysis *a, const struct nod_difference_finding *d);

/* suspects.c: evidence, posterior, suspects. */
int nod_analysis_weigh_suspects(struct nod_analysis *a);

/* next-test.c: what to isolate next. */
int nod_analysis_rank_tests(struct nod_analysis *a);

/* statement.c: the sentence, the facts, the doubts. */
int nod_analysis_state(struct nod_analysis *a);

/* next-step.c: what to do next, in a sentence or two; sets how much longer to record. */
const char *nod_analysis_next_step(struct nod_analysis *a);

/* isolations.c: an isolation in which nothing changes says something after so long. */
nod_duration nod_isolation_patience(const struct nod_findings *f,
				    const struct nod_isolation_finding *t);

/* verdict.c: it woke again, and rather because somebody was at the car than for any fault. */
bool nod_findings_rather_a_person(const struct nod_findings *f);

/* verdict.c: nothing was heard but a tester and the answers to it. */
bool nod_findings_only_a_tester(const struct nod_findings *f);

/* ---- shared by the steps ---- */

/* Overlap of [from, to] with the time after the settle deadline of a network. */
nod_duration nod_analysis_late_overlap(const struct nod_analysis *a, int network, nod_time from,
				       nod_time to);

/* Networks that wake within this time of the first belong to one wake-up:
 * a gateway passes wakefulness on in well under a second, sleeping senders
 * start within one. Chosen, with room. */
#define NOD_ONE_STORY_NS (5 * NOD_NS_PER_S)

/* Awake for longer than this past its deadline is late: the deadline itself is
 * somebody's round figure. Chosen. */
#define NOD_LATE_MIN_NS (2 * NOD_NS_PER_S)

/* The mark that explains a wake-up at this time, NULL: none does. */
const struct nod_mark_finding *nod_analysis_cause_of(const struct nod_analysis *a, nod_time time);

/* "lock+2112.345 s", or "start+12.345 s" when the lock is the start: whoever shows it knows the
 * zone (nod_moment_tell()). */
const char *nod_analysis_when(const struct nod_analysis *a, nod_time time);

/* Text of a duration in the arena. */
const char *nod_analysis_length(const struct nod_analysis *a, nod_duration d);

/* True when the sender hangs on what was isolated. */
bool nod_isolation_involves(const struct nod_analysis *a,
			    const struct nod_isolation_finding *isolation, int sender);

/* The network finding of a vehicle network, NULL: nothing heard of it. */
struct nod_network_finding *nod_analysis_network(const struct nod_analysis *a, int network);

#endif
