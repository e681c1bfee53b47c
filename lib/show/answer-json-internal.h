/* SPDX-License-Identifier: MIT */
/* Shared by the files that write the answer as JSON. */
#ifndef NOD_ANSWER_JSON_INTERNAL_H
#define NOD_ANSWER_JSON_INTERNAL_H

#include "answer-json.h"

/* Values as the head of answer-json.c says; null where they do not apply. */
json_t *nod_answer_moment(nod_time t);
json_t *nod_answer_seconds(nod_duration d);
json_t *nod_answer_share(double x);
json_t *nod_answer_id(uint32_t id);
json_t *nod_answer_texts(const char *const *lines, size_t count);

/* The parts of the answer that have these names. */
json_t *nod_answer_fact_kinds(const struct nod_findings *f);
json_t *nod_answer_doubt_kinds(const struct nod_findings *f);
json_t *nod_answer_suspects(const struct nod_findings *f);
json_t *nod_answer_culprits(const struct nod_findings *f);
json_t *nod_answer_tests(const struct nod_findings *f);
json_t *nod_answer_isolations(const struct nod_findings *f);
json_t *nod_answer_journal(const struct nod_findings *f);
json_t *nod_answer_known(const struct nod_findings *f);

#endif
