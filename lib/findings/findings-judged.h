/* SPDX-License-Identifier: MIT */
/* The part of the findings that is judged: suspects and what speaks against them, isolations
 * and what they showed, the journal as it is understood. See findings.h. */
#ifndef NOD_FINDINGS_JUDGED_H
#define NOD_FINDINGS_JUDGED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "evidence.h"
#include "timestamp.h"

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
	int isolation;    /* whose text it is, NOD_NONE: a text of its own */
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
			    * mark names another; NULL: as entered */
	bool inferred;     /* nobody entered it: the traffic shows it (entered: NONE) */
	unsigned unmapped; /* of those messages the map has so many nowhere */
	bool by_sleep; /* dated by how its network fell asleep: that it did is no further news */
};

/* Something that happened in the car and that nobody noted. */
struct nod_question_finding {
	nod_time time;
	int kind; /* of the mark that says yes: enum nod_mark_kind */
	const char *subject;
	const char *text;
};

#endif
