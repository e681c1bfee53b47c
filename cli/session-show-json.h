/* SPDX-License-Identifier: MIT */
/* What is in a session, for programs: schema/session-show.json. */
#ifndef NOD_SESSION_SHOW_JSON_H
#define NOD_SESSION_SHOW_JSON_H

#include <jansson.h>

#include "session-survey.h"

/* A mark of the journal. */
json_t *nod_session_show_mark(const struct nod_mark *mark);

/* All of it once the session was read to its end; takes the marks of the journal over. NULL:
 * out of memory. */
json_t *nod_session_show_json(struct nod_session *session, const struct nod_survey *survey,
			      json_t *journal);

#endif
