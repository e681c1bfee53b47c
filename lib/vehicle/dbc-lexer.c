/* SPDX-License-Identifier: MIT */
#include "dbc-lexer.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SIGNS ":;,|@()[]"

static bool is_blank(char c)
{
	return c == ' ' || (c >= '\t' && c <= '\r') || c == '\0' || c == 0x1A; /* Ctrl-Z */
}

/* The column of a place at or behind the last one asked for in this line. */
static unsigned column_of(struct nod_dbc_lexer *l, const char *at)
{
	for (; l->counted < at; l->counted++)
		l->column += ((unsigned char)*l->counted & 0xC0) != 0x80;
	return l->column;
}

/* LF, CR LF, or CR alone. */
static bool ends_line(const struct nod_dbc_lexer *l, const char *c)
{
	return *c == '\n' || (*c == '\r' && (c + 1 == l->end || c[1] != '\n'));
}

static void new_line(struct nod_dbc_lexer *l, const char *newline)
{
	l->line++;
	l->counted = newline + 1;
	l->column = 1;
}

/* Counts the lines up to `to` and goes there. */
static void advance(struct nod_dbc_lexer *l, const char *to)
{
	for (; l->at < to; l->at++)
		if (ends_line(l, l->at))
			new_line(l, l->at);
}

static bool begins(const struct nod_dbc_lexer *l, const char *two)
{
	return l->end - l->at >= 2 && l->at[0] == two[0] && l->at[1] == two[1];
}

static int skip_remark(struct nod_dbc_lexer *l)
{
	const char *end;

	if (begins(l, "//")) {
		for (end = l->at; end < l->end && !ends_line(l, end);)
			end++;
		advance(l, end);
		return 0;
	}
	end = memmem(l->at + 2, (size_t)(l->end - l->at) - 2, "*/", 2);
	if (!end)
		return nod_error_at(l->err, EINVAL, l->name, l->line, column_of(l, l->at),
				    "the remark that begins here does not end, expected */");
	advance(l, end + 2);
	return 0;
}

static int skip_blanks(struct nod_dbc_lexer *l)
{
	int status = 0;

	while (!status && l->at < l->end) {
		if (is_blank(*l->at))
			advance(l, l->at + 1);
		else if (begins(l, "//") || begins(l, "/*"))
			status = skip_remark(l);
		else
			break;
	}
	return status;
}

/* Whether `;` ends the line behind a quote, and a statement or nothing follows: then the quote
 * closes, and a backslash before it is the text's own ("kept in D:\"). */
static bool ends_statement(const struct nod_dbc_lexer *l, const char *quote)
{
	const char *c = quote + 1, *line, *word;

	while (c < l->end && (*c == ' ' || *c == '\t'))
		c++;
	if (c == l->end || *c++ != ';')
		return false;
	for (line = c; c < l->end && is_blank(*c);)
		c++;
	if (c == l->end)
		return true;
	for (word = c; c < l->end && ((*c >= 'A' && *c <= 'Z') || *c == '_');)
		c++;
	return c > word && c[-1] == '_' &&
	       (memchr(line, '\n', (size_t)(word - line)) ||
		memchr(line, '\r', (size_t)(word - line)));
}

/* Up to the quote that no backslash stands before. */
static int take_string(struct nod_dbc_lexer *l)
{
	const char *c = l->at + 1;

	while (c < l->end && *c != '"')
		c += *c == '\\' && c + 1 < l->end && c[1] == '"' && !ends_statement(l, c + 1) ? 2
											      : 1;
	if (c >= l->end)
		return nod_error_at(l->err, EINVAL, l->name, l->token.line, l->token.column,
				    "the text that begins here does not end, expected \"");
	l->token.kind = NOD_DBC_STRING;
	l->token.text = l->at + 1;
	l->token.length = (size_t)(c - l->at) - 1;
	advance(l, c + 1);
	return 0;
}

static void take_word(struct nod_dbc_lexer *l)
{
	const char *c = l->at;

	while (c < l->end && !is_blank(*c) && *c != '"' && !strchr(SIGNS, *c))
		c++;
	l->token.kind = NOD_DBC_WORD;
	l->token.length = (size_t)(c - l->at);
	l->at = c;
}

int nod_dbc_lexer_next(struct nod_dbc_lexer *l)
{
	unsigned before = l->token.line;
	int status = skip_blanks(l);

	if (status)
		return status;
	l->token = (struct nod_dbc_token){NOD_DBC_END,      l->at, 0, l->line, column_of(l, l->at),
					  l->line != before};
	if (l->at == l->end)
		return 0;
	if (*l->at == '"')
		return take_string(l);
	if (strchr(SIGNS, *l->at)) {
		l->token.kind = NOD_DBC_SIGN;
		l->token.length = 1;
		l->at++;
		return 0;
	}
	take_word(l);
	return 0;
}

int nod_dbc_lexer_begin(struct nod_dbc_lexer *l, const char *text, size_t length, const char *name,
			struct nod_error *err)
{
	*l = (struct nod_dbc_lexer){.at = text,
				    .end = text + length,
				    .counted = text,
				    .line = 1,
				    .column = 1,
				    .name = name,
				    .err = err};
	return nod_dbc_lexer_next(l);
}

int nod_dbc_error(const struct nod_dbc_lexer *l, const char *format, ...)
{
	char text[300];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	return nod_error_at(l->err, EINVAL, l->name, l->token.line, l->token.column, "%s", text);
}

int nod_dbc_expected(const struct nod_dbc_lexer *l, const char *what)
{
	char *found = nod_dbc_text(&l->token, 40);
	int status = l->token.kind == NOD_DBC_END
			     ? nod_dbc_error(l, "expected %s, found the end of the file", what)
			     : nod_dbc_error(l, "expected %s, found `%s`", what,
					     found ? found : "");

	free(found);
	return status;
}

bool nod_dbc_is_sign(const struct nod_dbc_token *token, char sign)
{
	return token->kind == NOD_DBC_SIGN && *token->text == sign;
}

bool nod_dbc_is_word(const struct nod_dbc_token *token, const char *word)
{
	return token->kind == NOD_DBC_WORD && token->length == strlen(word) &&
	       !memcmp(token->text, word, token->length);
}

/* C0, DEL, C1, and what YAML takes for a line end or for no character (U+2028, U+2029, U+FEFF,
 * U+FFFE, U+FFFF), as UTF-8: the bytes it takes, 0 for none. */
static size_t control_at(const char *c, size_t left)
{
	unsigned char first = (unsigned char)*c;

	if (first <= 0x20 || first == 0x7F)
		return 1;
	if (first == 0xC2 && left > 1 && (unsigned char)c[1] < 0xA0)
		return 2;
	if (left < 3)
		return 0;
	return !memcmp(c, "\xE2\x80\xA8", 3) || !memcmp(c, "\xE2\x80\xA9", 3) ||
			       !memcmp(c, "\xEF\xBB\xBF", 3) || !memcmp(c, "\xEF\xBF\xBE", 3) ||
			       !memcmp(c, "\xEF\xBF\xBF", 3)
		       ? 3
		       : 0;
}

static void cut(char *text, size_t length, size_t most)
{
	if (length <= most)
		return;
	most -= 3;
	while (most && ((unsigned char)text[most] & 0xC0) == 0x80)
		most--;
	strcpy(text + most, "...");
}

char *nod_dbc_text(const struct nod_dbc_token *token, size_t most)
{
	char *text = malloc(token->length + 4);
	size_t used = 0;

	if (!text)
		return NULL;
	for (size_t i = 0; i < token->length;) {
		size_t control = control_at(token->text + i, token->length - i);
		bool escape = token->text[i] == '\\' && i + 1 < token->length &&
			      token->text[i + 1] == '"';
		if (control && used && text[used - 1] != ' ')
			text[used++] = ' ';
		else if (!control && !escape)
			text[used++] = token->text[i];
		i += control ? control : 1;
	}
	used -= used && text[used - 1] == ' ';
	text[used] = 0;
	cut(text, used, most);
	return text;
}
