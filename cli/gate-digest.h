/* SPDX-License-Identifier: MIT */
/* By what it is told that a session need not be judged again. */
#ifndef NOD_GATE_DIGEST_H
#define NOD_GATE_DIGEST_H

#include "digest.h"
#include "gate.h"

/* SHA-256 of this very program: another build may judge otherwise, whatever its version. Returns
 * an exit status. */
int nod_gate_digest_program(char text[NOD_DIGEST_TEXT]);

/* SHA-256 over the names and contents of the files of a session (hidden ones and folders are left
 * out), its expectation, the vehicle file that this names, and the program. Returns 0 or -1
 * when something cannot be read: it is then no digest. */
int nod_gate_digest(char text[NOD_DIGEST_TEXT], const struct nod_gate_session *session,
		    const char *program);

#endif
