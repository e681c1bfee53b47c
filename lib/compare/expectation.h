/* SPDX-License-Identifier: MIT */
/* What nodoff must say of a session, and how what it says differs from it.
 *
 * A text file, expect.txt inside a session directory or CAPTURE.expect.txt
 * beside a bare capture; one demand a line, "key: value"; # begins a comment
 * line. `verdict` is required, the rest is as strict as its author wants:
 *
 *     verdict: kept awake             sleeps in time, kept awake, woken again, draws
 *                                     current while asleep, cannot tell
 *     culprit: seat heater unit       who is named, exactly these; once for each; or
 *                                     "none named"
 *     role: holder                    of those named: holder, waker, drain, tester, other
 *     probability: >= 90 %            of those named (the least likely of them), or of the
 *                                     likeliest sender when nobody is named
 *     network body: kept awake        the verdict of one network
 *     slept-at body: 50.123 after lock     its last frame before its first sleep after the
 *                                     lock: UNIX seconds, or seconds (or "2 min") after
 *                                     lock, exact to the millisecond; "<= 120 s after
 *                                     lock", ">= ..."; or "never"
 *     sleeps-by body: 120 s after lock     it is asleep at the end, since then or earlier
 *     wakes body: 3                   wake-ups that nothing in the journal explains;
 *                                     "<= 3", ">= 3"
 *     wakes-explained body: 1         ... that something does
 *     wakes-by: light module left     who speaks first in most unexplained wake-ups
 *     quiescent: <= 50 mA             the current at rest; without a bound: as written, to
 *                                     half its last digit
 *     sentence: seat heater unit keeps body awake (98 % sure).
 *                                     word by word
 *     locked: +12 min                 taken as the option of analyse
 *     vehicle: car.yaml               taken as the vehicle file; beside the expectation
 *     known-miss culprit: why         a difference of the key named is known and not
 *                                     counted as a failure
 *
 * A bound may be given twice ("probability: >= 60 %", "probability: <= 90 %").
 * Writing of this form 1 does not change; new keys may be added. */
#ifndef NOD_EXPECTATION_H
#define NOD_EXPECTATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "arena.h"
#include "error.h"
#include "findings.h"

enum nod_demand_key {
	NOD_DEMAND_VERDICT,
	NOD_DEMAND_CULPRIT,
	NOD_DEMAND_ROLE,
	NOD_DEMAND_PROBABILITY,
	NOD_DEMAND_NETWORK,
	NOD_DEMAND_SLEPT_AT,
	NOD_DEMAND_SLEEPS_BY,
	NOD_DEMAND_WAKES,
	NOD_DEMAND_WAKES_EXPLAINED,
	NOD_DEMAND_WAKES_BY,
	NOD_DEMAND_QUIESCENT,
	NOD_DEMAND_SENTENCE,
	NOD_DEMAND_LOCKED,
	NOD_DEMAND_VEHICLE,
	NOD_DEMAND_KNOWN_MISS,
	NOD_DEMAND_KEYS
};

enum nod_demand_bound { NOD_BOUND_EXACT, NOD_BOUND_AT_MOST, NOD_BOUND_AT_LEAST, NOD_BOUND_NEVER };

struct nod_demand {
	enum nod_demand_key key;
	const char *label;  /* the key as written, blanks made single: "slept-at body" */
	const char *object; /* the network, or the label a known miss is about; "" */
	const char *text;   /* the value as written */
	enum nod_demand_bound bound;
	int64_t value;     /* ppm, ns, count or microamps, by key */
	int64_t tolerance; /* beyond the value, same unit */
	bool after_lock;   /* value counts from the lock */
	uint64_t line;     /* from 1 */
};

struct nod_expectation {
	struct nod_arena arena;
	struct nod_demand *demands; /* as in the file */
	size_t count;
};

/* NULL with errno and err ("FILE:LINE: ...") set: what open says, or EINVAL. */
struct nod_expectation *nod_expectation_load(const char *path, struct nod_error *err);
void nod_expectation_free(struct nod_expectation *expectation);

/* The value of the first demand of a key (NOD_DEMAND_LOCKED, ...), or NULL. */
const char *nod_expectation_text(const struct nod_expectation *expectation,
				 enum nod_demand_key key);

/* One demand that is not met. */
struct nod_difference {
	const struct nod_demand *demand;
	const char *text;  /* "culprit: expected ..., found ..." */
	const char *found; /* what would have met it, as values, one a line; "" when nothing
			    * can be written */
	const char *known; /* why it is no failure; NULL: it is one */
};

struct nod_differences {
	struct nod_arena arena;
	struct nod_difference *list;      /* in the order of the demands */
	size_t count, failures;           /* failures: those that are not known */
	const struct nod_demand **healed; /* known misses that are none any more */
	size_t healed_count;
};

/* Compares; both must outlive the result. NULL when memory ran out. */
struct nod_differences *nod_expectation_compare(const struct nod_expectation *expectation,
						const struct nod_findings *findings);
void nod_differences_free(struct nod_differences *differences);

/* The names of those the answer names, joined as the form wants them, or "none
 * named". Memory belongs to the arena. */
const char *nod_expectation_culprits(const struct nod_findings *findings, struct nod_arena *arena);

/* Writes a first expectation: everything the findings say that is worth
 * demanding. Returns 0 or a negative errno from writing. */
int nod_expectation_draft(FILE *out, const struct nod_findings *findings);

/* Writes the text of `path` again with what is not met replaced by what was
 * found; comments and what is met stay as they are. Returns 0 or a negative
 * errno with err set. */
int nod_expectation_revise(FILE *out, const char *path, const struct nod_differences *differences,
			   struct nod_error *err);

#endif
