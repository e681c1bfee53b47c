/* SPDX-License-Identifier: MIT */
/* Reads a text file of lines that may have been cut off anywhere, and that may
 * still grow: journal.log, current.log, session.txt. */
#ifndef NOD_TEXT_LOG_H
#define NOD_TEXT_LOG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"

/* Longest line taken, with its newline. */
#define NOD_TEXT_LINE_MAX 4096

struct nod_text_line {
	char *text; /* terminated, without the newline; may be changed; until the next call */
	size_t length;
	uint64_t number;   /* from 1 */
	const char *fault; /* NULL; else why the line cannot be taken (text is then "") */
};

struct nod_text_log;

/* NULL with errno and err set (EINVAL: no regular file). */
struct nod_text_log *nod_text_log_open(const char *path, struct nod_error *err);
void nod_text_log_close(struct nod_text_log *log);

/* The next whole line. Returns 1, 0 when there is none (now: ask again when the
 * file may have grown), or a negative errno when the file cannot be read. */
int nod_text_log_next(struct nod_text_log *log, struct nod_text_line *line);

/* True when bytes without a newline follow the line taken last. */
bool nod_text_log_torn(const struct nod_text_log *log);

/* Number of the line that nod_text_log_torn() means. */
uint64_t nod_text_log_torn_line(const struct nod_text_log *log);

#endif
