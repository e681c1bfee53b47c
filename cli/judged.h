/* A recording run through the engine: what analyse, report, compare and the
 * gate start from. */
#ifndef NOD_JUDGED_H
#define NOD_JUDGED_H

#include <stdbool.h>
#include <stddef.h>

#include "engine.h"
#include "session.h"

struct nod_judged {
	struct nod_session *session;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *findings;
};

struct nod_judge_options {
	const char *vehicle;	 /* NULL: the session's vehicle.yaml, if there is one */
	const char *locked;	 /* UNIX seconds, ISO 8601, or "+12 min" from the start; NULL */
	bool strict;		 /* stop at the first line that cannot be read */
	bool quiet;		 /* say nothing of lines that cannot be read */
	const struct nod_findings *good; /* NULL: none */
	const struct nod_findings *const *earlier;
	size_t earlier_count;
};

/* Reads captures (merged by time) or one session directory to its end and
 * finds. Says on stderr what is wrong. Returns NOD_EXIT_OK or the exit status;
 * close in any case. */
int nod_judge(struct nod_judged *judged, const char *const *paths, size_t count,
	      const struct nod_judge_options *options);
void nod_judged_close(struct nod_judged *judged);

#endif
