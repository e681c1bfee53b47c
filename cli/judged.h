/* SPDX-License-Identifier: MIT */
/* A recording run through the engine: what analyse, report, compare and the
 * gate start from. */
#ifndef NOD_JUDGED_H
#define NOD_JUDGED_H

#include <stdbool.h>
#include <stddef.h>

#include "engine.h"
#include "heard-times.h"
#include "session.h"
#include "timeline.h"
#include "vin-heard.h"

struct nod_signal_watch;

struct nod_judged {
	struct nod_session *session;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *findings;
	struct nod_timeline *timeline; /* NULL unless asked for */
	struct nod_heard *heard;       /* NULL unless asked for */
	struct nod_vin_heard vin;      /* empty unless asked for */
};

struct nod_judge_options {
	const char *vehicle; /* NULL: the session's vehicle.yaml, if there is one */
	const char *locked;  /* as lock-option.h has it; NULL: as the recording says */
	bool strict;         /* stop at the first line that cannot be read */
	bool quiet;          /* say nothing of lines that cannot be read, nor how far it is */
	bool timeline;       /* keep what happened when, too */
	bool heard;          /* keep when each ID was heard, too */
	bool vin;            /* listen for the VIN, too */
	bool beside;         /* of another one: that one's zone stays in use */
	struct nod_signal_watch *signals; /* told each frame; NULL: nobody */
	const struct nod_findings *good;  /* NULL: none */
	const struct nod_findings *const *earlier;
	size_t earlier_count;
};

/* Reads captures (merged by time) or one session directory to its end and
 * finds. Says on stderr what is wrong. Returns NOD_EXIT_OK or the exit status;
 * close in any case. */
int nod_judge(struct nod_judged *judged, const char *const *paths, size_t count,
	      const struct nod_judge_options *options);
void nod_judged_close(struct nod_judged *judged);

/* The title of its session: what session.txt says, else the last part of its path. */
const char *nod_judged_title(const struct nod_judged *judged);

/* The vehicle file it was judged by; NULL: none. */
const char *nod_judged_map(const struct nod_judged *judged,
			   const struct nod_judge_options *options);

/* The last part of a path; the path itself when it ends in '/'. */
const char *nod_path_name(const char *path);

#endif
