/* SPDX-License-Identifier: MIT */
/* A simulated session as a directory of text files. */
#ifndef SIM_WRITE_H
#define SIM_WRITE_H

#include "generator.h"

/* Runs the generator to its end and writes frames.log, journal.log,
 * current.log (when there is a clamp), vehicle.yaml and truth.txt into the
 * directory, which is made when it is missing; older files are replaced.
 * Returns 0 or a negative errno with err set. */
int sim_session_write(struct nod_generator *generator, const char *directory,
		      struct nod_error *err);

#endif
