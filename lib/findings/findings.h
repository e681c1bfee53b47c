/* SPDX-License-Identifier: MIT */
/* What one analysis found: everything that is shown, and nothing that is not.
 *
 * Made by nod_engine_findings(), rendered by answer.c (text) and
 * answer-json.c (JSON), read by the report, the comparison and the regression
 * gate. All memory belongs to the findings and is freed with them. Times are
 * on the session's clock; a time that does not apply is NOD_TIME_NONE.
 * Strings are never NULL unless said. Arrays are in a stated, fixed order.
 * Made by the engine only, never copied or changed by who reads them. */
#ifndef NOD_FINDINGS_H
#define NOD_FINDINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "evidence.h"
#include "rhythm.h"
#include "timestamp.h"
#include "use.h"
#include "vehicle.h"

enum nod_verdict {
	NOD_VERDICT_CANNOT_TELL,
	NOD_VERDICT_SLEEPS, /* sleeps in time */
	NOD_VERDICT_KEPT_AWAKE,
	NOD_VERDICT_WOKEN, /* woken again */
	NOD_VERDICT_DRAWS, /* draws current while asleep */
	NOD_VERDICT_LATE,  /* slept late: after nodoff's default deadline */
	NOD_VERDICTS
};

/* "sleeps in time", "kept awake", ...: the words of the design. */
const char *nod_verdict_name(enum nod_verdict verdict);

/* Where the lock time comes from. */
enum nod_lock_source {
	NOD_LOCK_FROM_START, /* nothing said when: the start of the recording is taken */
	NOD_LOCK_FROM_JOURNAL,
	NOD_LOCK_FROM_HEADER,
	NOD_LOCK_FROM_OPTION
};
const char *nod_lock_source_name(enum nod_lock_source source);

/* A message and its sender: one arbitration ID on one network. */
struct nod_ident_finding {
	uint32_t id; /* with NOD_ID_EXTENDED */
	int sender;  /* index into senders */
	int network;
	uint64_t frames, frames_late; /* all; after the settle deadline */
	nod_time first, last;
	struct nod_period before, after;      /* of the deadline */
	unsigned counter_bits, checksum_bits; /* among the first 64 payload bits */
	unsigned changing_bits;               /* bits whose changes mean something */
	uint64_t changing_mask;               /* which (bit 0: bit 0 of byte 0) */
	uint64_t changing_late_mask;          /* of these, changed after the deadline */
	uint64_t changes_late;                /* frames after the deadline with such a change */
	uint64_t live_mask; /* bits that ever changed, counters and checksums too */
	uint64_t word;      /* the first 8 bytes of its last frame, byte 0 lowest */
	unsigned length;    /* of its last frame */
	nod_time last_change;
	bool management; /* a network-management message, by the map or as detected */
};

enum nod_sender_kind {
	NOD_SENDER_MODULE,         /* a module of the vehicle file */
	NOD_SENDER_SOURCE_ADDRESS, /* a J1939 source address no module claims */
	NOD_SENDER_NODE,           /* a network-management node no module claims */
	NOD_SENDER_ID,             /* one ID no module claims */
	NOD_SENDER_TESTER          /* diagnostic requests: our own tool or a dongle */
};

/* A sender as far as it can be told: what suspicion falls on. */
struct nod_sender_finding {
	enum nod_sender_kind kind;
	int module;       /* index into the vehicle's modules, NOD_NONE */
	int network;      /* where it was heard first */
	uint32_t number;  /* source address, or ID, by kind */
	const char *name; /* for people: "tailgate module", "source address 21h", ... */
	bool gateway;     /* by the map, by own messages on two networks, or by others' handed on */
};

struct nod_speaker {
	int ident; /* index into idents */
	nod_time time;
};

#define NOD_SPAN_SPEAKERS 6

/* One stretch of a network being awake. */
struct nod_span_finding {
	nod_time from, to;  /* first and last frame; `to` grows while it is awake */
	bool open;          /* still awake at the end of the recording */
	bool slept_before;  /* it woke: true silence was heard right before it */
	bool slept_after;   /* the network fell asleep at its end, or slept at some time before the
				* next one */
	bool silence_known; /* the silence after it was listened to without loss or gap */
	nod_time hole_from, hole_to; /* the part of that silence in which nobody seems to have
				* listened; NONE: there is none */
	double asleep; /* that the silence was sleep from end to end, 0..1; as far as is known */
	uint64_t frames, bits; /* bits: exact, with stuff bits and interframe space */
	uint64_t errors;       /* error reports of the controller */
	int first_count, last_count;
	struct nod_speaker first[NOD_SPAN_SPEAKERS]; /* who spoke first, in order */
	struct nod_speaker last[NOD_SPAN_SPEAKERS];  /* who spoke last, latest first */
	int lone_sender;    /* who was alone at its end, NOD_NONE when nobody for long */
	nod_time lone_from; /* the last frame of anybody else (or `from`) */
	const void *clues;  /* for the engine: how it began and ended */
};

struct nod_late {
	nod_time from, to;
};

enum nod_network_state {
	NOD_STATE_NOTHING_HEARD, /* no frame at all: not the same as asleep */
	NOD_STATE_AWAKE,
	NOD_STATE_ASLEEP, /* silent for its quiet time, after it was heard */
	NOD_STATE_UNKNOWN /* nobody is listening, or frames were lost */
};
const char *nod_network_state_name(enum nod_network_state state);

struct nod_network_finding {
	const char *name;
	int network; /* index into the vehicle's networks (interfaces nobody claims are appended) */
	enum nod_network_state state;
	nod_time since; /* of that state */
	nod_time
		deaf_since; /* nobody listens to it, NONE: somebody does; then its state is unknown */
	nod_time slept_until;     /* it slept when nobody listened any more, and was not heard awake
			       * or asleep since; NONE: not so */
	enum nod_verdict verdict; /* of this network alone */
	const char *reason;       /* one sentence for the verdict */
	nod_time deadline;        /* settle deadline, by the settle clock that runs now */
	nod_time judged_by;       /* the deadline that the verdict speaks of: an earlier one when
				   * the clock was started anew after it was missed */
	bool deadline_default;    /* from nodoff's default, not from the vehicle file */
	nod_duration quiet_time;
	nod_time slept_at;       /* the last frame before its last true sleep, or NONE */
	nod_time first_slept_at; /* ... its first after the lock */
	struct nod_late *late;   /* when being awake is a finding: from each settle deadline to
				   * what started the settle clock anew, or the end */
	size_t late_count;
	nod_duration awake_late;   /* time awake after the deadline */
	nod_duration asleep_known; /* time known to be asleep after the lock */
	unsigned wakes; /* wake-ups after the lock that nothing in the journal explains */
	unsigned wakes_explained;
	struct nod_span_finding *spans; /* in time order */
	size_t span_count;
	uint64_t frames, lost, errors;
	uint32_t bitrate;
	bool bitrate_default;
	double load;            /* 0..1: mean while awake since the lock; -1: unknown */
	double load_now;        /* last whole second, live view; -1 */
	const char *management; /* "AUTOSAR CanNm (detected, 98 %)", "none seen", ... */
};

/* When the silence after span i ended: with the next span, or at `end`, or with the
 * listening. */
static inline nod_time nod_span_silence_end(const struct nod_network_finding *n, size_t i,
					    nod_time end)
{
	return i + 1 < n->span_count             ? n->spans[i + 1].from
	       : nod_time_is_set(n->slept_until) ? n->slept_until
						 : end;
}

/* True when that silence, or a part of it, was heard to be sleep. */
static inline bool nod_span_slept_after(const struct nod_network_finding *n, size_t i)
{
	return n->spans[i].slept_after;
}

/* How much of that silence is known to be silence. */
static inline nod_duration nod_span_silence_known(const struct nod_network_finding *n, size_t i,
						  nod_time end)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_duration all = nod_time_since(nod_span_silence_end(n, i, end), s->to);

	if (nod_time_is_set(s->hole_from))
		all.ns -= nod_time_since(s->hole_to, s->hole_from).ns;
	return all;
}

/* A stretch in which, by the traffic before and after it, nobody seems to have listened. */
struct nod_hole_finding {
	nod_time from, to; /* last frame before, first after it (or the end of the recording) */
	int network;       /* NOD_NONE: all that were awake */
	bool torn;         /* what the recording has there cannot be read */
	double probability;
	const char *text; /* a sentence: what breaks off, and how it goes on */
};

/* A wake-up as one story across networks. */
struct nod_wake_finding {
	nod_time time;
	int network;            /* which woke first */
	int ident;              /* who spoke first there (index into idents) */
	int sender;             /* the same as a sender */
	nod_duration lead;      /* until a second sender spoke anywhere; NONE: nobody did */
	nod_duration awake_for; /* until the last of the networks slept again (or the end) */
	unsigned networks_woken;
	const char *cause; /* what explains it: the journal's entry, or use; "" when nothing does */
	bool noted;        /* the journal's */
};

enum nod_role { NOD_ROLE_HOLDER, NOD_ROLE_WAKER, NOD_ROLE_DRAIN, NOD_ROLE_TESTER, NOD_ROLE_OTHER };
const char *nod_role_name(enum nod_role role);

/* Hypotheses that are no sender of the recording. */
enum nod_suspect_kind {
	NOD_SUSPECT_SENDER,
	NOD_SUSPECT_UNSEEN,      /* something that does not show on the networks recorded here */
	NOD_SUSPECT_NOT_NETWORK, /* the current is not a network matter */
	NOD_SUSPECT_NOTHING      /* nothing is wrong (yet) */
};

struct nod_evidence_finding {
	enum nod_evidence kind;
	double weight;    /* log-odds it adds for (positive) or against the suspect */
	const char *text; /* a sentence that can be checked by hand */
};

struct nod_suspect {
	enum nod_suspect_kind kind;
	int sender; /* index into senders, NOD_NONE */
	int network;
	enum nod_role role;
	double probability; /* that it is (one of) the cause(s): marginal, 0..1 */
	const char *name;
	bool in_map; /* the vehicle file knows it */
	bool proved; /* by isolation, both ways or by a long clean sleep */
	struct nod_evidence_finding *evidence; /* strongest first */
	size_t evidence_count;
	int *fuses; /* vehicle fuse indices */
	size_t fuse_count;
};

struct nod_test_proposal {
	const char *what;    /* "fuse F12 (10 A, cabin box)", "unplug roof unit" */
	int fuse, module;    /* indices or NOD_NONE */
	double information;  /* expected, bits */
	double minutes;      /* what the wait is expected to cost */
	double hit;          /* probability that the cause hangs on it */
	const char *caution; /* "" when none */
};

/* How an isolation in the journal is judged. */
enum nod_isolation_result {
	NOD_ISOLATION_UNDECIDED, /* too short, or disturbed */
	NOD_ISOLATION_SLEPT,     /* the network slept while it was isolated */
	NOD_ISOLATION_PROVED, /* ... and that was no chance (chance.h), by a refit or a long sleep */
	NOD_ISOLATION_UNCHANGED, /* nothing changed: exonerated */
	NOD_ISOLATION_NOT_OFF    /* the isolated module's IDs went on: it was not isolated */
};

/* What came of putting it back. */
enum nod_refit {
	NOD_REFIT_NONE,  /* it was not, or too little was heard after it */
	NOD_REFIT_AWAKE, /* the network woke and stayed awake, or was woken again */
	NOD_REFIT_SLEPT  /* the network slept with it in place, within the time it is allowed */
};

struct nod_isolation_finding {
	nod_time isolated, refitted; /* refitted NONE: until the end */
	const char *subject;
	int fuse, module; /* what it resolves to */
	int network;
	enum nod_isolation_result result;
	nod_duration slept_after; /* from isolation to the last frame before sleep */
	double by_chance;         /* how likely the same was without it, 0..1; 1: it says nothing */
	enum nod_refit refit;
	double refit_by_chance; /* the same of what came of the refit */
	const char *text;
	bool *stayed_on; /* by sender: its frames went on; NULL: not looked at */
	int *vanished;   /* idents that stopped with it (and came back with the refit, if any) */
	size_t vanished_count;
};

/* A bit that moved when an input was worked on. */
struct nod_touch_finding {
	nod_time time; /* of the mark */
	const char *subject;
	int ident;
	unsigned bit;       /* 0: lowest bit of byte 0 */
	unsigned toggles;   /* so often it changed in all, until then */
	nod_duration after; /* from the mark to its change; negative: before it */
	uint64_t from, to;  /* the first 8 bytes of the payload before and after that change */
};

/* A bit of a message that stands otherwise than in the good recording. */
struct nod_difference_finding {
	int ident;
	uint64_t bits; /* steady in both, but different */
	bool appeared; /* the good recording does not have the message at all */
	bool period;   /* it comes faster here by half or more */
	nod_duration period_good, period_here;
};

/* A reading across a fuse of the map, from the journal. */
struct nod_fuse_finding {
	int fuse; /* index into the vehicle's fuses */
	nod_time time;
	int64_t low_ua, high_ua; /* what it can carry, microamps */
	const char *text;
};

struct nod_mark_finding {
	nod_time time; /* by the traffic where that tells it, else as entered */
	int kind;      /* enum nod_mark_kind */
	const char *subject;
	nod_time entered;  /* as it stands in the journal */
	unsigned dated_by; /* so many messages stopped or came back then; 0: as entered */
	const char *meant; /* the fuse or module of the map that the traffic shows, where the
			    * entry names another; NULL: as entered */
	bool inferred;     /* nobody entered it: the traffic shows it (entered: NONE) */
};

/* Something that happened in the car and that nobody noted. */
struct nod_question_finding {
	int mark; /* index into marks: what is taken to have happened */
	const char *text;
};

struct nod_findings {
	enum nod_verdict verdict;
	const char *sentence; /* the answer */
	int culprit;          /* index into suspects of the one the sentence names, or NOD_NONE */
	const char **facts;   /* what carries the sentence, strongest first */
	size_t fact_count;
	const char **doubts; /* what limits it: losses, clock steps, defaults used */
	size_t doubt_count;
	const char **cautions;
	size_t caution_count;
	const char *next;           /* what to do next: one or two sentences */
	nod_duration record_longer; /* for "cannot tell": how much longer; NONE otherwise */

	nod_time start, end; /* of the recording */
	nod_duration
		clock_shift; /* times here less this: what the clock shows, as it was set last */
	nod_time lock;
	enum nod_lock_source lock_source;
	nod_time
		late_start; /* after the lock: nobody listened before it; NOD_TIME_NONE: somebody did */
	nod_time clock_from;     /* settle clock: the lock or the last disturbance after it */
	const char *clock_cause; /* "locked", "door", ... */

	struct nod_network_finding *networks;
	size_t network_count;
	struct nod_sender_finding *senders;
	size_t sender_count;
	struct nod_ident_finding *idents; /* by network, then ID */
	size_t ident_count;
	struct nod_wake_finding *wakes; /* in time order */
	size_t wake_count;
	struct nod_suspect *suspects; /* most probable first */
	size_t suspect_count;
	struct nod_test_proposal *proposals; /* best first */
	size_t proposal_count;
	struct nod_isolation_finding *isolations; /* in time order */
	size_t isolation_count;
	struct nod_mark_finding *marks; /* the journal, in time order */
	size_t mark_count;
	struct nod_question_finding *questions; /* in time order */
	size_t question_count;

	struct nod_touch_finding *touches; /* by mark, likeliest bit first */
	size_t touch_count;
	struct nod_difference_finding *differences; /* by ident; empty without a good recording */
	size_t difference_count;

	struct nod_use_finding *uses; /* when the car was in use, by the traffic; in time order */
	size_t use_count;
	bool in_use;                    /* ... up to the end */
	struct nod_hole_finding *holes; /* in time order */
	size_t hole_count;

	uint64_t frames, lost, errors, gaps, clock_steps;
	uint64_t defects; /* lines or records of the capture that could not be read */
	bool has_current;
	struct nod_current_findings
		*current;               /* current-trace.h, not installed; NULL without samples */
	struct nod_current_join *join;  /* current-join.h, not installed; NULL without samples */
	struct nod_fuse_finding *fuses; /* readings across fuses, in the journal's order */
	size_t fuse_count;

	const struct nod_vehicle *vehicle; /* with appended networks; lives as long as the engine */
	bool vehicle_given;
};

/* The current of the resting car in microamps: while all networks slept, or, where
 * that was not measured for long enough, the lowest steady level since the lock.
 * False when neither is known. */
bool nod_findings_rest_current(const struct nod_findings *findings, double *ua,
			       double *uncertainty_ua);

/* Until when an isolation is worth waiting for: later, that nothing changed tells that it
 * was not this. NOD_TIME_NONE when it concerns no network. */
nod_time nod_isolation_wait(const struct nod_findings *findings,
			    const struct nod_isolation_finding *isolation);

void nod_findings_free(struct nod_findings *findings);

#endif
