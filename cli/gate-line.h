/* SPDX-License-Identifier: MIT */
/* One line of the gate's results. Internal to gate-line*.c and gate-merge.c. */
#ifndef NOD_GATE_LINE_H
#define NOD_GATE_LINE_H

#include <jansson.h>

#include "gate-lines.h"

/* A line with its newline, for the caller to free; NULL: out of memory. */
char *nod_gate_line_of_shard(const struct nod_gate_shard *shard, size_t sessions, bool finished);
char *nod_gate_line_of_session(const char *name, const struct nod_gate_result *result);

/* What a line says, for the caller to release; NULL: it is none of ours, or cut off. */
json_t *nod_gate_line_read(const char *line, size_t length);

/* The name of the session that a line is about; NULL: it is about something else. */
const char *nod_gate_line_session(const json_t *line);

/* The result it states, which takes the place of what was there. Returns 0 or -1 (it states
 * none, or memory ran out). */
int nod_gate_line_result(const json_t *line, struct nod_gate_result *result);

#endif
