/* SPDX-License-Identifier: MIT */
/* Tells what a text capture is from its first lines. */
#ifndef NOD_TEXT_FORM_H
#define NOD_TEXT_FORM_H

#include "console.h"
#include "error.h"

enum nod_text_form {
	NOD_TEXT_UNDECIDED,
	NOD_TEXT_LOG,
	NOD_TEXT_CONSOLE,
	NOD_TEXT_TIMELESS, /* without times */
	NOD_TEXT_OTHER     /* other-log.h */
};

/* What is known after some lines. Starts as all zero. */
struct nod_text_guess {
	enum nod_text_form form;
	enum nod_console_clock clock; /* with NOD_TEXT_CONSOLE */
	bool log_like;                /* a line begins like a log and then breaks off */
	uint64_t strange;             /* number of the first line that fits nothing, or 0 */
	uint64_t lines;
};

/* Takes the next line into account. Returns true when the form is decided. */
bool nod_text_guess_take(struct nod_text_guess *guess, const char *line, size_t length);

/* True when lines end in carriage returns alone. */
bool nod_text_ends_in_returns(const char *head, size_t length);

/* Says in err why `head`, the first `length` bytes of a capture, is not read.
 * Returns -EINVAL. */
int nod_text_refuse(const struct nod_text_guess *guess, const char *name, const char *head,
		    size_t length, struct nod_error *err);

#endif
