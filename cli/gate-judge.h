/* SPDX-License-Identifier: MIT */
/* One session of the gate and what it is judged to be; shared by the gate and
 * its update. */
#ifndef NOD_GATE_JUDGE_H
#define NOD_GATE_JUDGE_H

#include "expectation.h"
#include "gate.h"
#include "judged.h"

/* The path of the vehicle file that the expectation names, for the caller to free; NULL: it names
 * none. Returns 0 or -ENOMEM. */
int nod_gate_map(const struct nod_gate_session *session, const struct nod_expectation *x,
		 char **path);

/* Judges a session with the lock and the vehicle file its expectation asks for
 * (NULL: none). Returns an exit status, after saying on stderr what is wrong;
 * close `judged` in any case. */
int nod_gate_analyse(const struct nod_gate_session *session, const struct nod_expectation *x,
		     struct nod_judged *judged);

#endif
