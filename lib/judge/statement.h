/* SPDX-License-Identifier: MIT */
/* The answer put into words. What is said is decided in statement-facts.c and
 * statement-doubts.c, by kind (about.h); how it is said, in fact-words.c and doubt-words.c, and
 * the sentence in statement-sentence.c. Internal. */
#ifndef NOD_STATEMENT_H
#define NOD_STATEMENT_H

#include "about.h"
#include "analysis.h"

/* Suspects below this are not spoken of, but stand in the table. */
#define NOD_SPOKEN_OF_MIN 0.05

/* Facts, doubts or cautions at most. Chosen: more than anybody reads. */
#define NOD_STATEMENT_LINES 24

/* So many stretches of use, holes and wake-ups are told one by one. Chosen. */
#define NOD_USES_TOLD 3
#define NOD_HOLES_TOLD 3
#define NOD_WAKES_TOLD 4

/* The sentence; a->told becomes the network whose reason it repeats. */
const char *nod_statement_sentence(struct nod_analysis *a);
void nod_statement_facts(struct nod_analysis *a);
void nod_statement_doubts(struct nod_analysis *a);

/* True when the facts speak of several suspects: each is then named. */
bool nod_statement_names(const struct nod_findings *f);

/* It sleeps, but was watched for so short a time that this is said. */
bool nod_statement_is_short(const struct nod_findings *f, const struct nod_network_finding *n);
/* How long it was watched asleep at the end. */
nod_duration nod_statement_silence(const struct nod_findings *f,
				   const struct nod_network_finding *n);

/* A fact or doubt in words; NULL when there is nothing to say, or no memory. */
const char *nod_fact_words(struct nod_analysis *a, struct nod_about about);
const char *nod_doubt_words(struct nod_analysis *a, struct nod_about about);

/* statement-ring.c: who in an OSEK ring is ready to sleep and who is not; NULL: no ring, or all
 * are. */
const char *nod_ring_words(struct nod_analysis *a, const struct nod_network_finding *n);

/* unmarked-person.c: how the wake-ups came, where somebody may have been at the car; NULL:
 * elsewhere. */
const char *nod_person_words(struct nod_analysis *a);

/* wakes-cost.c: what all wake-ups together take in a day, beside the battery; NULL: nothing to
 * say. */
const char *nod_wakes_total_words(struct nod_analysis *a);

/* map-says.c: where the map and what was heard, or the map and the journal, disagree; NULL: they
 * do not. */
const char *nod_map_networks_words(struct nod_analysis *a);
const char *nod_map_marks_words(struct nod_analysis *a);

#endif
