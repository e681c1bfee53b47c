/* SPDX-License-Identifier: MIT */
/* Two sessions of one car compared: before and after a repair.
 *
 * What was found in each is compared network by network (by name) and message
 * by message (by ID). That a fault does not show is no proof that it is gone: the sleep
 * afterwards has to be long enough, and how long follows from what was seen
 * before. Both findings, both timelines and the arena must outlive the comparison. */
#ifndef NOD_COMPARE_H
#define NOD_COMPARE_H

#include <jansson.h>
#include <stdio.h>

#include "arena.h"
#include "findings.h"
#include "days-left.h"
#include "timeline.h"

enum nod_change {
	NOD_CHANGE_CANNOT_TELL,
	NOD_CHANGE_FIXED,
	NOD_CHANGE_BETTER,
	NOD_CHANGE_NONE,
	NOD_CHANGE_WORSE
};

/* "cannot tell", "fixed", "better", "no change", "worse". */
const char *nod_change_name(enum nod_change change);

/* A period has changed when it differs by more than this share, and by more
 * than three times the jitter. Chosen: far above what clocks of modules differ. */
#define NOD_PERIOD_CHANGE 0.2

/* Of the messages of the session with fewer, at least this share is in the other
 * one, too, when both are of one car; judged when both have NOD_SAME_CAR_IDS. Chosen:
 * one car's messages are nearly all in both, two cars' only by accident. */
#define NOD_SAME_CAR_SHARE 0.5
#define NOD_SAME_CAR_IDS 5

struct nod_compare_side {
	const struct nod_findings *f;
	const struct nod_timeline *timeline; /* NULL: bits and days are not compared */
};

/* One network in both, or in one of them. */
struct nod_network_change {
	const char *name;
	const struct nod_network_finding *before, *after; /* NULL: not in that session */
	enum nod_change change;                           /* of this network alone */
	nod_duration needed;    /* sleep that proves the fix; NONE: nothing to prove */
	const char *needed_why; /* how that follows; "" */
	nod_duration slept;     /* of that, what was recorded */
	const char *reason;
};

enum nod_ident_change_kind {
	NOD_IDENT_APPEARED,
	NOD_IDENT_VANISHED,
	NOD_IDENT_PERIOD,     /* its period changed */
	NOD_IDENT_LATE_BEGUN, /* it now talks past the deadline */
	NOD_IDENT_LATE_ENDED, /* it did, and no longer does */
	NOD_IDENT_BITS        /* payload bits that stay, but at another value, or move only once */
};
const char *nod_ident_change_name(enum nod_ident_change_kind kind);

struct nod_ident_change {
	enum nod_ident_change_kind kind;
	const char *network;
	uint32_t id;
	const char *sender;
	nod_duration period_before, period_after; /* NOD_DURATION_NONE: none */
	const char *bits;                         /* the following three in words; "" */
	uint64_t flipped; /* bits that were always one value, and are now always the other */
	uint64_t moving_before, moving_after; /* bits that changed in one of them only */
};

struct nod_comparison {
	enum nod_change change;
	const char *sentence;
	const char **reasons;
	size_t reason_count;
	struct nod_network_change *networks; /* in the order of the session before */
	size_t network_count;
	struct nod_ident_change *idents; /* by kind, then network, then ID */
	size_t ident_count;
	size_t idents_common;                                 /* messages that are in both */
	bool current_known;                                   /* a level at rest in both */
	double rest_before_ua, rest_after_ua, rest_unsure_ua; /* unsure: of the difference */
	nod_duration rest_watched, rest_needed; /* both 0 unless it drew too much before only */
	bool outlook_known;                     /* timelines were given */
	struct nod_outlook outlook_before, outlook_after;
	const struct nod_findings *before, *after;
};

/* NULL when memory ran out. */
struct nod_comparison *nod_compare(struct nod_arena *arena, struct nod_compare_side before,
				   struct nod_compare_side after);

/* compare-proof.c: the sleep that proves that the fault of this network is
 * gone, and why. NONE when it has none. */
nod_duration nod_proof_needed(struct nod_arena *arena, const struct nod_findings *f,
			      const struct nod_network_finding *n, const char **why);

/* The sleep that counts towards it. */
nod_duration nod_proof_slept(const struct nod_findings *f, const struct nod_network_finding *n,
			     enum nod_verdict fault);

/* compare-idents.c: fills in what changed among the messages. 0 or -ENOMEM. */
int nod_compare_idents(struct nod_comparison *c, struct nod_arena *arena,
		       struct nod_compare_side before, struct nod_compare_side after);

/* The answer first, then the reasons and the tables; 80 columns. 0 or a negative errno. */
int nod_comparison_print(FILE *out, const struct nod_comparison *c);

/* The same as one object, NULL when memory ran out. */
json_t *nod_comparison_json(const struct nod_comparison *c);

#endif
