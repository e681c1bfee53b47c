/* SPDX-License-Identifier: MIT */
/* The parts of `nodoff session`. argv[0] is the name of the part; each returns
 * an exit status. */
#ifndef NOD_SESSION_COMMANDS_H
#define NOD_SESSION_COMMANDS_H

#include "session-survey.h"

int nod_session_make_command(int argc, char **argv);
int nod_session_show_command(int argc, char **argv);
int nod_session_mark_command(int argc, char **argv);
int nod_session_cut_command(int argc, char **argv);
int nod_session_join_command(int argc, char **argv);

/* Opens and surveys a session or capture. Says on stderr what is wrong, also
 * with single lines. Returns an exit status. */
int nod_session_survey_path(struct nod_survey *survey, const char *path);

#endif
