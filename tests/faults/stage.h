/* SPDX-License-Identifier: MIT */
/* Where a scenario is played: a directory of its own, a command or a function
 * called in this process, and what came of it. */
#ifndef STAGE_H
#define STAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "faults.h"

#define STAGE_TEXT (1 << 20) /* bytes of output that are compared */

struct stage {
	char path[64];     /* "DIR/": what is made lies below */
	char fixtures[64]; /* "DIR/": what fixtures.c made once, which nothing changes */
};

struct scenario {
	const char *name;
	/* Words of a command of the CLI, at single blanks: "%" becomes the stage's directory
	 * with a slash, "@" that of the captures, "^" that of the fixtures. NULL: `play` is
	 * called. */
	const char *command;
	/* Returns an exit status; says on stderr what is wrong. SCENARIO_WRONG: something
	 * is that must never be, and it says what. */
	int (*play)(const struct stage *stage, FILE *out);
	int status;       /* with which it ends without a fault */
	bool tolerant;    /* what it makes is a recording, good up to where it failed */
	bool threads;     /* it starts some, in which something can fail, too */
	bool explains;    /* among its results, on standard output */
	bool patient;     /* a call that was interrupted is made again */
	bool once;        /* played without faults only */
	size_t most;      /* places that are played, evenly chosen; 0: all */
	long beyond;      /* calls that the processes it starts may make, about */
	const char *made; /* the directory below the stage that is made or changed; NULL: none */
	void (*prepare)(const struct stage *stage); /* before every run; NULL: nothing */
};

#define SCENARIO_WRONG 99

struct outcome {
	int status;
	size_t length, said_length;
	char *out, *said; /* standard output and standard error, terminated; not to be freed */
	uint64_t made;    /* digest of what lies below the stage afterwards, unpacked; 0: nothing */
	int left;         /* unfinished sessions that lie there */
	long blocks;      /* allocated and not freed */
	int files;        /* open and not closed */
};

void stage_open(struct stage *stage);
void stage_close(struct stage *stage);

/* Clears the stage, plays the scenario with that fault and says what came of it. The
 * outcome is overwritten by the next but one. */
void stage_play(const struct stage *stage, const struct scenario *scenario,
		const struct fault *fault, struct outcome *outcome);

/* Clears the stage and makes it ready for the scenario. */
void stage_prepare(const struct stage *stage, const struct scenario *scenario);

/* The digest of what lies below the stage now; 0: nothing. */
uint64_t stage_digest(const struct stage *stage, int *left);

/* For what prepares a scenario. */
void stage_copy(const struct stage *stage, const char *session, const char *as);

/* What scenarios read: packed captures, other forms, a folder of sessions. */
void fixtures_make(const struct stage *stage);

/* A process that answers as nodoffd does, at the socket ^nodoff.sock. */
void server_start(const struct stage *stage);
void server_stop(void);

/* nodoffd without its sockets on the bus; see scenarios-daemon.c. */
int scenario_record(const struct stage *stage, FILE *out);
int scenario_control(const struct stage *stage, FILE *out);

/* The scenarios, the last one without a name. */
extern const struct scenario scenarios[];

#endif
