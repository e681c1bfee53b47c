/* SPDX-License-Identifier: MIT */
/* Gives up, for good, writing anywhere but where recordings are made. Part of lockdown.h. */
#ifndef NOD_LOCKDOWN_FILES_H
#define NOD_LOCKDOWN_FILES_H

#include "error.h"

/* From here on the process can open nothing for writing, and make, rename or remove nothing,
 * but below the directory that holds `sessions` (NULL: nowhere), so that a disk can be mounted
 * there anew; in the directory of `socket` it can remove files (NULL: none). What is open
 * already stays open. By Landlock (Linux 5.13 and later).
 *
 * Returns 0; 1 when this kernel cannot, or nobody lets us (then nothing has changed); or a negative errno with
 * err set; the process must then not go on. */
int nod_lockdown_files(const char *sessions, const char *socket, struct nod_error *err);

#endif
