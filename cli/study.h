/* A session read to its end: what report, timeline and compare begin with. */
#ifndef NOD_STUDY_H
#define NOD_STUDY_H

#include "engine.h"
#include "session.h"
#include "timeline.h"

struct nod_study {
	struct nod_session *session;
	const char *vehicle_path; /* NULL: none */
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_timeline *timeline;
	struct nod_findings *findings;
	uint64_t defects; /* lines that could not be read */
};

/* Reads the session or capture at path; vehicle_path NULL: the session's own.
 * Returns an exit status, after saying on stderr what is wrong. The study is
 * closed with nod_study_close() in any case. */
int nod_study_read(struct nod_study *study, const char *path, const char *vehicle_path);
void nod_study_close(struct nod_study *study);

/* Its title: what session.txt calls it, else the last part of its path. */
const char *nod_study_title(const struct nod_study *study);

/* The last part of a path; the path itself when it ends in '/'. */
const char *nod_path_name(const char *path);

#endif
