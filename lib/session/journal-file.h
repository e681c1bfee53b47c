/* SPDX-License-Identifier: MIT */
/* The journal as a file: read while it may grow, appended so that a mark is
 * on the disk before it is acknowledged. */
#ifndef NOD_JOURNAL_FILE_H
#define NOD_JOURNAL_FILE_H

#include <stdbool.h>
#include <stdint.h>

#include "file-ops.h"
#include "journal.h"

struct nod_journal_file;

/* A line that is no mark. */
struct nod_journal_defect {
	uint64_t line;           /* from 1 */
	unsigned column;         /* from 1; 0: the whole line */
	struct nod_error reason; /* what was expected */
};

enum nod_journal_next { NOD_JOURNAL_END, NOD_JOURNAL_ENTRY, NOD_JOURNAL_DEFECT };

/* NULL with errno and err set. */
struct nod_journal_file *nod_journal_file_open(const char *path, struct nod_error *err);
void nod_journal_file_close(struct nod_journal_file *file);

/* The next mark (mark->subject lives until the next call) or defect, in the
 * order of the file. After NOD_JOURNAL_END it may be called again when the file
 * has grown. Returns one of the above or a negative errno when the file cannot
 * be read. */
int nod_journal_file_next(struct nod_journal_file *file, struct nod_mark *mark,
			  struct nod_journal_defect *defect);

/* True when a line without an end follows what was read: it is either being
 * written or was cut off. *line (may be NULL) is its number. */
bool nod_journal_file_torn(const struct nod_journal_file *file, uint64_t *line);

/* Lines read so far. */
uint64_t nod_journal_file_lines(const struct nod_journal_file *file);

/* Appends a mark to the journal at `path`, made when it is not there. 0 says
 * that it is on the disk; else a negative errno with err set, and the journal
 * is as it was. ops NULL: the real ones. */
int nod_journal_append(const char *path, const struct nod_mark *mark,
		       const struct nod_file_ops *ops, struct nod_error *err);

#endif
