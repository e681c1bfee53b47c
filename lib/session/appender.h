/* SPDX-License-Identifier: MIT */
/* Adds lines to a text file so that a line is there whole, or not at all.
 *
 * Each is one write() at the end of the file (several processes may append),
 * synced when it has to be. What a failed write left is cut off again; what an
 * earlier crash left is closed first, so that nothing is glued to it. */
#ifndef NOD_APPENDER_H
#define NOD_APPENDER_H

#include <stdbool.h>
#include <stddef.h>

#include "file-ops.h"

struct nod_appender {
	const struct nod_file_ops *ops;
	int fd;              /* -1: not open */
	const char *cut_off; /* put behind a line that has no end, before its newline */
};

/* Opens the file, made when it is not there. Returns 0 or a negative errno. */
int nod_appender_open(struct nod_appender *appender, const char *path, const char *cut_off,
		      const struct nod_file_ops *ops);
void nod_appender_close(struct nod_appender *appender);

/* Appends whole lines; with `sync`, 0 says that they are on the disk. Returns
 * 0 or a negative errno: then the file is as it was before. */
int nod_appender_write(struct nod_appender *appender, const char *lines, size_t length, bool sync);

#endif
