/* SPDX-License-Identifier: MIT */
/* What a session holds, in figures: taken event by event. */
#ifndef NOD_SESSION_SURVEY_H
#define NOD_SESSION_SURVEY_H

#include "session.h"

struct nod_survey_interface {
	uint64_t frames, errors; /* errors: error reports, not counted among frames */
	uint64_t lost;           /* reported lost */
	uint64_t losses, gaps;   /* reports of them */
	nod_duration gap_length; /* all gaps together */
	nod_time first, last;    /* frame; NOD_TIME_NONE: none */
};

struct nod_survey {
	struct nod_survey_interface interfaces[255]; /* as nod_session_interfaces() */
	struct nod_survey_interface all;             /* of all together */
	uint64_t samples, marks, defects, clock_steps;
	nod_time first, last; /* frame or sample */
	nod_time end;         /* listened until: the last thing said of any kind */
	struct nod_session_lock lock;
};

void nod_survey_init(struct nod_survey *survey);
void nod_survey_take(struct nod_survey *survey, const struct nod_event *event,
		     const struct nod_interfaces *interfaces);

/* Takes the whole session, from where it was read to. Returns 0 or a negative
 * errno with err set. */
int nod_survey_session(struct nod_survey *survey, struct nod_session *session,
		       struct nod_error *err);

#endif
