/* SPDX-License-Identifier: MIT */
/* What one analysis found: everything that is shown, and nothing that is not.
 *
 * Made by nod_engine_findings(), rendered by answer.c (text) and
 * answer-json.c (JSON), read by the report, the comparison and the regression
 * gate. All memory belongs to the findings and is freed with them. Times are
 * on the session's clock; a time that does not apply is NOD_TIME_NONE.
 * Strings are never NULL unless said. Arrays are in a stated, fixed order.
 * Made by the engine only, never copied or changed by who reads them.
 *
 * The words, in code as in what is shown (nodoff(1), WORDS, has those that people meet):
 *
 *   network    what shares one bus (ISO 11898); heard through an interface, at a tap of nodoffd
 *   module     a control unit (ECU); a node: its number in network management
 *   message    what goes by one arbitration ID on one network, a frame at a time; an ident is the
 *              engine's record of it, a signal what some of its bits mean
 *   sender     who a message comes from, as far as can be told: module, source address, node or ID
 *   map        what the vehicle file says
 *   span       a network being awake; a wake-up begins one after sleep (in names: wake)
 *   silence    no frame of a network; asleep: that, heard for its quiet time. A sender pauses.
 *   gap        a time that nobody listened to, as the recorder says; deaf: since when. A hole: such
 *              a time by the traffic alone. Lost: frames that were not passed on.
 *   late       after the settle deadline, which counts from the settle clock's start
 *   mark       what stands in the journal; inferred: nobody entered it, the traffic shows it
 *   isolation  something taken out as a test, the mark of it and what it showed; then the refit
 *   sample     of the current, by a clamp or shunt; a reading is a multimeter's
 *   suspect    may be to blame: a holder keeps awake, a waker wakes, a drain takes current; others
 *              follow. The culprit is the one whom the sentence names.
 *   evidence   speaks for or against a suspect; a fact carries the sentence, a doubt limits it; a
 *              caution is for whoever works
 *   session    a recording in its folder: capture (frames), current, journal, map */
#ifndef NOD_FINDINGS_H
#define NOD_FINDINGS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "about.h"
#include "findings-heard.h"
#include "findings-judged.h"
#include "timestamp.h"
#include "use.h"
#include "vehicle.h"

/* Where the lock time comes from. */
enum nod_lock_source {
	NOD_LOCK_FROM_START, /* nothing said when: the start of the recording is taken */
	NOD_LOCK_FROM_JOURNAL,
	NOD_LOCK_FROM_HEADER,
	NOD_LOCK_FROM_OPTION
};
const char *nod_lock_source_name(enum nod_lock_source source);

struct nod_known;

struct nod_findings {
	enum nod_verdict verdict;
	const char *sentence; /* the answer */
	int culprit;          /* index into suspects of the one the sentence names, or NOD_NONE */
	const char **facts;   /* what carries the sentence, strongest first */
	struct nod_about *facts_about; /* of each fact: enum nod_fact */
	size_t fact_count;
	const char **doubts;            /* what limits it: losses, clock steps, defaults used */
	struct nod_about *doubts_about; /* of each doubt: enum nod_doubt */
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
	uint64_t restarts;   /* of the steps: the traffic did not go on there, see DOUBT_RESTARTS */
	uint64_t defects;    /* lines or records of the capture that could not be read */
	uint64_t misdated;   /* of these, frames with times before 1843 or after 2096 */
	const char *lagging; /* the interface whose clock is behind the others'; NULL: none */
	nod_duration lag;    /* so far; its times are moved by it */
	bool has_current;
	struct nod_current_findings
		*current;               /* current-trace.h, not installed; NULL without samples */
	struct nod_current_join *join;  /* current-join.h, not installed; NULL without samples */
	struct nod_fuse_finding *fuses; /* readings across fuses, in the journal's order */
	size_t fuse_count;

	const struct nod_vehicle *vehicle; /* with appended networks; lives as long as the engine */
	bool vehicle_given;
	const struct nod_known *known; /* known.h: what other recordings say; NULL: not asked */
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
