/* SPDX-License-Identifier: MIT */
/* Learning the map of a car from what was isolated while it was recorded: the
 * IDs that fall silent and come back with a fuse or a module are its own.
 * Several recordings of one car accumulate.
 *
 * For each isolation in the journal and each ID heard before it, two
 * explanations are compared. "It hangs on the subject" expects silence while
 * it was isolated. "It does not" needs an accident: either a few frames were
 * missed by chance, or its module stopped by itself just then and, when it
 * came back with the refit, began again by itself just then.
 *
 *   missed by chance    long * 0.5^(missed - 1): `long` is how often this ID's
 *                       intervals were longer than 1.5 of its usual one (Laplace's
 *                       rule, so never 0), and each further period is missed with 1/2.
 *                       Pessimistic: random (Poisson) arrivals would give e^-1 = 0.37.
 *                       `missed` counts only time in which the network was awake.
 *   stopped by itself   as something that came (its other stops + 1/2) times in the time that the
 *                       network was awake (chance.h).
 *                       The window is NOD_HAND_NS before and after the
 *                       mark: nobody enters a mark in the very second. 1/2 is Jeffreys' rule
 *                       for a rate of which nothing was seen.
 *   silent already,     (wake-ups without it + 1/2) / (wake-ups + 1): the network slept when
 *   as all were         it was isolated, and woke in between without this ID.
 *   followed            when the network slept while it was isolated: it was on its way to
 *                       sleep, and this ID stopped as one of the first: anywhere on that way,
 *                       so with 1.5 periods / (its last frame to the network's last). A message
 *                       of network management stops with NOD_LEARN_MANAGED, as the protocol has
 *                       it when another member is gone, and begins again with the refit.
 *   began by itself     as for the stop; 1 when the network had slept in between, since
 *                       the refit then wakes everybody.
 *
 * An ID that goes on while the subject is isolated speaks against it with
 * NOD_LEARN_WENT_ON, one that does not come back while the network is awake with
 * NOD_LEARN_STAYED_AWAY. Probabilities multiply over isolations and recordings;
 * but to have followed is no accident: the second time a protocol does again
 * what it did (factor 1), and a car's modules stop in much the same order (power
 * NOD_LEARN_ORDER_CHANCE). The odds start from NOD_LEARN_PRIOR_ODDS, and fuses (or modules) compete:
 * at most one of them explains an ID. The moment of the hand, too, is inferred:
 * what hangs on the subject stops at once, each ID within its own period. */
#ifndef NOD_LEARN_H
#define NOD_LEARN_H

#include <jansson.h>
#include <stdio.h>

#include "findings.h"
#include "heard-times.h"
#include "source.h"

/* A module that has power again speaks within this. Chosen: displays and radios
 * take longest, half a minute. */
#define NOD_LEARN_BOOT_NS (30 * NOD_NS_PER_S)
/* One ID in ten hangs on a given fuse. Chosen: a car has some dozen fuses, and
 * one isolates what one suspects of having something on it. */
#define NOD_LEARN_PRIOR_ODDS 0.1
#define NOD_LEARN_WENT_ON 0.02     /* a wrong mark, a second supply. Chosen. */
#define NOD_LEARN_STAYED_AWAY 0.05 /* with power again a module starts and speaks. Chosen. */
#define NOD_LEARN_MANAGED 0.3      /* NM message of another member. Chosen. */
#define NOD_LEARN_ORDER_CHANCE 0.5 /* how far the order of stopping is chance. Chosen. */
#define NOD_LEARN_SILENT 0.98      /* the complement of a wrong mark */
/* From here on it is written as a line, from there on as a remark. Chosen. */
#define NOD_LEARN_SURE 0.9
#define NOD_LEARN_PERHAPS 0.5
/* ... and from there on it is mentioned: it was silent, but that may have been
 * because others were. Twice the prior. */
#define NOD_LEARN_MENTIONED 0.2
/* At most this for an ID that did not come back with most refits, or that was
 * never silent while its network stayed awake: half a proof. Chosen: just short of
 * sure; on invented cars about 85 in 100 of these are right. */
#define NOD_LEARN_ONE_WAY 0.89

struct nod_learn;

enum nod_learned_kind { NOD_LEARNED_FUSE, NOD_LEARNED_MODULE, NOD_LEARNED_OTHER };

/* One ID proposed for a subject, or of a group. */
struct nod_learned_id {
	const char *network;
	uint32_t id;              /* with NOD_ID_EXTENDED */
	int source_address;       /* when J1939 names its sender; -1 */
	double confidence;        /* 0..1 */
	unsigned silent, went_on; /* isolations of the subject with either */
	unsigned came_back;       /* of the silent ones: back with the refit */
	double missed;            /* periods in all, while the network was awake */
	const char *owner;        /* the module of the map that claims it; NULL: none */
	bool fits;                /* the map says already that it hangs on the subject */
	const char *why;          /* one sentence */
	const char *conflict;     /* NULL, or what speaks against the map */
};

struct nod_learned_subject {
	const char *name; /* of the map, or as the person wrote it */
	enum nod_learned_kind kind;
	unsigned isolations, judged; /* isolations; those in which something could be told */
	struct nod_learned_id *ids; /* sure ones first, then by network and ID; from MENTIONED on */
	size_t id_count;
};

/* IDs that no module claims and that start and stop together. */
struct nod_learned_group {
	const char *name; /* "unknown module 1" */
	const char *network;
	struct nod_learned_id *ids;
	size_t id_count;
	unsigned edges; /* starts and stops that they share and the network does not */
	double confidence;
	const char *why;
};

/* A bit that moves with an input. */
struct nod_learned_input {
	const char *input, *network;
	uint32_t id;
	unsigned bit;       /* 0: lowest bit of byte 0 */
	const char *signal; /* of the vehicle file, that the bit belongs to; NULL: none */
	bool is_switch;     /* that signal is one, by its length or its table of values */
	unsigned moved;     /* marks of this input with which it moved */
	unsigned toggles;   /* changes in all, in the busiest recording */
};

struct nod_lesson {
	unsigned sessions;
	struct nod_learned_subject *subjects; /* in the order in which they were isolated */
	size_t subject_count;
	struct nod_learned_group *groups;
	size_t group_count;
	struct nod_learned_input *inputs; /* by input, best first; at most three of each */
	size_t input_count;
	const struct nod_vehicle *vehicle; /* as given; NULL: none */
};

/* NULL when memory ran out. */
struct nod_learn *nod_learn_new(void);
void nod_learn_free(struct nod_learn *learn);

/* Adds one recording. Nothing of it is needed afterwards. 0 or -ENOMEM. */
int nod_learn_add(struct nod_learn *learn, const struct nod_findings *f,
		  const struct nod_heard *heard, const struct nod_interfaces *names);

/* What was learned, against the present map (NULL: none). Owned by learn and
 * valid until the next call on it. NULL when memory ran out. */
const struct nod_lesson *nod_learn_conclude(struct nod_learn *learn,
					    const struct nod_vehicle *vehicle);

/* ---- showing it: learn-write.c ---- */

/* Lines for the vehicle file, with remarks that say why. 0 or -EIO. */
int nod_lesson_write(const struct nod_lesson *lesson, FILE *out);

/* A new reference; NULL when memory ran out. */
json_t *nod_lesson_json(const struct nod_lesson *lesson);

/* Adds what is sure and claimed by nobody to a vehicle: IDs to modules of that
 * name, new modules for the others. 0 or -ENOMEM; the vehicle can be written
 * with nod_vehicle_write() afterwards. */
int nod_lesson_merge(const struct nod_lesson *lesson, struct nod_vehicle *vehicle);

#endif
