/* SPDX-License-Identifier: MIT */
/* The answer as a JSON object in memory, for who puts it into something else. */
#ifndef NOD_ANSWER_JSON_H
#define NOD_ANSWER_JSON_H

#include <jansson.h>

#include "findings.h"

/* One JSON object (described in answer-json.c), or NULL when memory ran out. The
 * caller releases it with json_decref(). */
json_t *nod_answer_json(const struct nod_findings *f);

/* The flags it is written with: stable order, 9 significant digits. */
#define NOD_JSON_FLAGS (JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9))

#endif
