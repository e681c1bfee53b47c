/* SPDX-License-Identifier: MIT */
/* The words of a DBC file: an open grammar of words, strings and a few signs, with
 * remarks as in C. Internal to dbc.c. */
#ifndef NOD_DBC_LEXER_H
#define NOD_DBC_LEXER_H

#include <stdbool.h>
#include <stddef.h>

#include "error.h"

enum nod_dbc_kind {
	NOD_DBC_END,
	NOD_DBC_WORD,   /* a name, a number, or both: "8", "Foo", "m2M", "1-", "0-3" */
	NOD_DBC_STRING, /* without its quotes */
	NOD_DBC_SIGN    /* one of : ; , | @ ( ) [ ] */
};

struct nod_dbc_token {
	enum nod_dbc_kind kind;
	const char *text; /* in the file, not terminated */
	size_t length;
	unsigned line, column; /* from 1; columns in characters */
	bool first_of_line;    /* nothing but blanks stands before it */
};

struct nod_dbc_lexer {
	const char *at, *end;
	const char *counted; /* columns are counted up to here, in line `line` */
	unsigned line, column;
	const char *name; /* for messages */
	struct nod_error *err;
	struct nod_dbc_token token; /* the present one */
};

/* Begins with the first token; text must be UTF-8 and outlive the lexer. Both: 0,
 * or -EINVAL with a message (a string or a remark that does not end). */
int nod_dbc_lexer_begin(struct nod_dbc_lexer *lexer, const char *text, size_t length,
			const char *name, struct nod_error *err);
int nod_dbc_lexer_next(struct nod_dbc_lexer *lexer);

/* "expected WHAT, found `...`" at the present token. Returns -EINVAL. */
int nod_dbc_expected(const struct nod_dbc_lexer *lexer, const char *what);

/* A message at the present token. Returns -EINVAL. */
__attribute__((format(printf, 2, 3))) int nod_dbc_error(const struct nod_dbc_lexer *lexer,
							const char *format, ...);

bool nod_dbc_is_sign(const struct nod_dbc_token *token, char sign);
bool nod_dbc_is_word(const struct nod_dbc_token *token, const char *word);

/* A string as one line: escaped quotes are quotes, line ends and control characters
 * blanks, blanks single; cut to `most` bytes with "..." when longer. The caller frees it;
 * NULL: out of memory. */
char *nod_dbc_text(const struct nod_dbc_token *token, size_t most);

#endif
