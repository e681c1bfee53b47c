/* SPDX-License-Identifier: MIT */
/* The regression gate: sessions, each with what nodoff must say of it. */
#ifndef NOD_GATE_H
#define NOD_GATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "digest.h"

/* A session and where its expectation is. */
struct nod_gate_session {
	char *path;        /* a directory or a capture */
	char *expectation; /* a path; the file may be missing */
	char *name;        /* for people: the path without the folder */
};

struct nod_gate_sessions {
	struct nod_gate_session *list; /* by name, byte by byte */
	size_t count;
};

/* All sessions in and below a folder: directories with frames-*, frames.* or an
 * expect.txt, and files with a FILE.expect.txt beside them. Hidden names and
 * links to directories are left out. Returns an exit status, after saying on
 * stderr what is wrong. */
int nod_gate_find(struct nod_gate_sessions *sessions, const char *folder);

/* The one session at `path`, whether it has an expectation or not. */
int nod_gate_find_one(struct nod_gate_session *session, const char *path);
void nod_gate_session_free(struct nod_gate_session *session);
void nod_gate_sessions_free(struct nod_gate_sessions *sessions);

enum nod_gate_state {
	NOD_GATE_OK,
	NOD_GATE_KNOWN, /* only known misses */
	NOD_GATE_DIFFERENT,
	NOD_GATE_MISSING,    /* no expectation */
	NOD_GATE_UNREADABLE, /* the session or its expectation; or the analysis broke off */
};

/* "ok", "known miss", "different", "no expectation", "unreadable": for programs. */
const char *nod_gate_state_name(enum nod_gate_state state);

#define NOD_GATE_LINES 64

/* What came out of one session. */
struct nod_gate_result {
	enum nod_gate_state state;
	char *text;                              /* holds the lines */
	const char *differences[NOD_GATE_LINES]; /* failures, as sentences; or what is unreadable */
	size_t difference_count;
	const char *known[NOD_GATE_LINES], *why[NOD_GATE_LINES]; /* known misses */
	size_t known_count;
	const char *healed[NOD_GATE_LINES]; /* keys whose known miss is gone */
	size_t healed_count;
	char digest[NOD_DIGEST_TEXT]; /* gate-digest.h; "": not asked for, or not known */
	bool unchanged;               /* taken from an earlier run */
};

/* Judges one session and compares; writes the outcome to `out` in the form that
 * nod_gate_result_read() takes. Returns the state. */
enum nod_gate_state nod_gate_judge(const struct nod_gate_session *session, FILE *out);

/* Takes `text` over. */
void nod_gate_result_read(struct nod_gate_result *result, enum nod_gate_state state, char *text);

/* How they are judged. */
struct nod_gate_plan {
	unsigned jobs; /* at a time */
	const char
		*program; /* its digest: results get theirs, and a result that is there and has the
			      * same stays (but not an unreadable one); NULL: no digests */
	int (*done)(void *context, size_t session); /* after each that was judged; returns an exit
						     * status. NULL: nobody wants to know */
	void *context;
};

/* Judges all, each in a process of its own. Returns an exit status. */
int nod_gate_run(const struct nod_gate_sessions *sessions, struct nod_gate_result *results,
		 const struct nod_gate_plan *plan);

/* The three forms of the outcome. */
void nod_gate_show(FILE *out, const struct nod_gate_sessions *sessions,
		   const struct nod_gate_result *results);
void nod_gate_show_tap(FILE *out, const struct nod_gate_sessions *sessions,
		       const struct nod_gate_result *results);
void nod_gate_show_junit(FILE *out, const struct nod_gate_sessions *sessions,
			 const struct nod_gate_result *results);

/* Shows how the expectation of a session would change, then writes it when
 * `yes` or when the terminal says so. Returns an exit status. */
int nod_gate_update(const char *path, bool yes);

#endif
