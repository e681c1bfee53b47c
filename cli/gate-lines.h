/* SPDX-License-Identifier: MIT */
/* The outcome of the gate as JSON Lines (schema/gate.json): printed, kept in a file from run to
 * run, and put together from the files of many runs. */
#ifndef NOD_GATE_LINES_H
#define NOD_GATE_LINES_H

#include "gate.h"

/* Chosen: more than anybody runs at a time. */
#define NOD_GATE_SHARDS_MAX 10000

/* Which part of the sessions a run is about: those whose name falls to `shard` of `shards`. */
struct nod_gate_shard {
	unsigned shard, shards; /* from 1; 1 of 1: all */
	char program[NOD_DIGEST_TEXT];
};

/* True when a session of this name belongs to the part. Does not change when others come or go. */
bool nod_gate_shard_has(const struct nod_gate_shard *shard, const char *name);

/* Everything as lines, the shard first. Returns an exit status. */
int nod_gate_show_lines(FILE *out, const struct nod_gate_shard *shard,
			const struct nod_gate_sessions *sessions,
			const struct nod_gate_result *results);

struct nod_gate_lines;

/* Opens a file of results, or makes it, for this process alone, and fills the results of sessions
 * that stand in it: what was done before, perhaps by a run that was killed. Says on stderr what is
 * wrong and returns NULL. */
struct nod_gate_lines *nod_gate_lines_open(const char *path, const struct nod_gate_shard *shard,
					   const struct nod_gate_sessions *sessions,
					   struct nod_gate_result *results);

/* Adds the line of one session, so that it is there whatever happens next. Returns an exit
 * status. */
int nod_gate_lines_add(struct nod_gate_lines *lines, size_t session);

/* finished: leaves the file with one line for each session, in their order. Frees lines (NULL is
 * accepted). Returns an exit status. */
int nod_gate_lines_close(struct nod_gate_lines *lines, bool finished);

/* Reads the files of all shards of one run into sessions and results, by name. Says on stderr what
 * is wrong: a shard that is missing, not finished, there twice, or by another program. Returns an
 * exit status; the caller frees both. */
int nod_gate_merge(char **paths, size_t count, struct nod_gate_shard *whole,
		   struct nod_gate_sessions *sessions, struct nod_gate_result **results);

#endif
