/* SPDX-License-Identifier: MIT */
#include "dbc.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "dbc-reader.h"
#include "signal-value.h"
#include "vehicle-reader.h"

/* ---- tokens ---- */

int nod_dbc_next(struct nod_dbc_reader *r)
{
	return nod_dbc_lexer_next(&r->lexer);
}

int nod_dbc_no_memory(struct nod_dbc_reader *r)
{
	return nod_error_set(r->lexer.err, ENOMEM, "%s: out of memory", r->lexer.name);
}

int nod_dbc_take_sign(struct nod_dbc_reader *r, char sign)
{
	const char what[] = {sign, 0};

	return nod_dbc_is_sign(&r->lexer.token, sign) ? nod_dbc_next(r)
						      : nod_dbc_expected(&r->lexer, what);
}

static int take(struct nod_dbc_reader *r, enum nod_dbc_kind kind, const char *what, size_t most,
		char **text)
{
	if (r->lexer.token.kind != kind)
		return nod_dbc_expected(&r->lexer, what);
	char *copy = nod_dbc_text(&r->lexer.token, most);
	if (!copy)
		return nod_dbc_no_memory(r);
	/* a word of control characters only is no name */
	int status = kind == NOD_DBC_WORD && !*copy ? nod_dbc_expected(&r->lexer, what)
						    : nod_dbc_next(r);
	if (status)
		free(copy);
	else
		*text = copy;
	return status;
}

int nod_dbc_take_name(struct nod_dbc_reader *r, const char *what, char **name)
{
	return take(r, NOD_DBC_WORD, what, NOD_DBC_NAME_MAX, name);
}

int nod_dbc_take_text(struct nod_dbc_reader *r, const char *what, char **text)
{
	return take(r, NOD_DBC_STRING, what, NOD_DBC_TEXT_MAX, text);
}

bool nod_dbc_whole_number(const char *text, size_t length, int64_t *number)
{
	bool minus = length && *text == '-', sign = minus || (length && *text == '+');
	uint64_t n = 0;

	text += sign;
	length -= sign;
	if (!length || length > 20)
		return false;
	for (size_t i = 0; i < length; i++)
		if (text[i] < '0' || text[i] > '9' || __builtin_mul_overflow(n, UINT64_C(10), &n) ||
		    __builtin_add_overflow(n, (uint64_t)(text[i] - '0'), &n))
			return false;
	*number = (int64_t)(minus ? 0 - n : n);
	return true;
}

int nod_dbc_take_count(struct nod_dbc_reader *r, const char *what, uint64_t most, uint64_t *number)
{
	const struct nod_dbc_token *t = &r->lexer.token;
	int64_t n = 0;

	if (t->kind != NOD_DBC_WORD || *t->text == '-' ||
	    !nod_dbc_whole_number(t->text, t->length, &n) || (uint64_t)n > most)
		return nod_dbc_expected(&r->lexer, what);
	*number = (uint64_t)n;
	return nod_dbc_next(r);
}

int nod_dbc_take_number(struct nod_dbc_reader *r, const char *what, double *number)
{
	char text[3 * NOD_NUMBER_TEXT];
	const struct nod_dbc_token *t = &r->lexer.token;

	if (t->kind != NOD_DBC_WORD || t->length >= sizeof(text))
		return nod_dbc_expected(&r->lexer, what);
	memcpy(text, t->text, t->length);
	text[t->length] = 0;
	if (!nod_number_parse(number, text))
		return nod_dbc_expected(&r->lexer, what);
	return nod_dbc_next(r);
}

bool nod_dbc_begins_statement(const struct nod_dbc_token *token)
{
	return token->first_of_line && nod_dbc_is_keyword(token);
}

int nod_dbc_take_end(struct nod_dbc_reader *r)
{
	return nod_dbc_begins_statement(&r->lexer.token) ? 0 : nod_dbc_take_sign(r, ';');
}

int nod_dbc_skip_statement(struct nod_dbc_reader *r)
{
	int status = 0;

	while (!status && r->lexer.token.kind != NOD_DBC_END &&
	       !nod_dbc_is_sign(&r->lexer.token, ';') && !nod_dbc_begins_statement(&r->lexer.token))
		status = nod_dbc_next(r);
	return !status && r->lexer.token.kind != NOD_DBC_END ? nod_dbc_take_end(r) : status;
}

/* ---- statements without a semicolon ---- */

static int skip_section(struct nod_dbc_reader *r)
{
	int status = 0;

	while (!status && r->lexer.token.kind != NOD_DBC_END &&
	       !nod_dbc_is_keyword(&r->lexer.token))
		status = nod_dbc_next(r);
	return status;
}

/* What follows a symbol of the section: one that no statement begins with, or a new line. */
static bool follows_symbol(const struct nod_dbc_token *next)
{
	static const char *const subjects[] = {"BU_", "BO_", "SG_", "EV_", "BS_"};

	if (next->first_of_line || next->kind == NOD_DBC_END)
		return true;
	for (size_t i = 0; i < sizeof(subjects) / sizeof(subjects[0]); i++)
		if (nod_dbc_is_word(next, subjects[i]))
			return i == 4; /* the section behind it, in the same line */
	return next->kind == NOD_DBC_WORD &&
	       (next->text[next->length - 1] == '_' || nod_dbc_is_word(next, "FILTER"));
}

/* The words of the section are keywords themselves; they stand alone in their lines, or all in
 * one. */
static int read_new_symbols(struct nod_dbc_reader *r)
{
	int status = skip_section(r);

	while (!status && r->lexer.token.kind == NOD_DBC_WORD) {
		struct nod_dbc_reader ahead = *r;
		status = nod_dbc_next(&ahead);
		if (status || !follows_symbol(&ahead.lexer.token))
			break;
		*r = ahead;
	}
	return status;
}

static int add_node(struct nod_dbc_reader *r, char *name)
{
	struct nod_dbc *dbc = r->dbc;

	if (!strcmp(name, "Vector__XXX") || nod_dbc_node_of(dbc, name) ||
	    r->pass != NOD_DBC_OBJECTS) {
		free(name);
		return 0;
	}
	struct nod_dbc_node *node = nod_append(&dbc->nodes, &dbc->node_count, sizeof(*node));
	if (!node) {
		free(name);
		return nod_dbc_no_memory(r);
	}
	node->name = name;
	return nod_name_table_add(&dbc->node_names, name, (int)dbc->node_count - 1)
		       ? nod_dbc_no_memory(r)
		       : 0;
}

static int read_nodes(struct nod_dbc_reader *r)
{
	int status = nod_dbc_take_sign(r, ':');

	while (!status && r->lexer.token.kind != NOD_DBC_END &&
	       !nod_dbc_is_keyword(&r->lexer.token)) {
		char *name;
		if (nod_dbc_is_sign(&r->lexer.token, ',') ||
		    nod_dbc_is_sign(&r->lexer.token, ';')) {
			status = nod_dbc_next(r);
			continue;
		}
		if (r->dbc->node_count >= NOD_DBC_NODES_MAX)
			return nod_dbc_error(&r->lexer, "more than %d nodes", NOD_DBC_NODES_MAX);
		status = nod_dbc_take_name(r, "the name of a node", &name);
		if (!status)
			status = add_node(r, name);
	}
	return status;
}

/* ---- what it holds ---- */

const char *nod_dbc_value(const struct nod_dbc *dbc, const char *attribute, const char *assigned)
{
	int index = nod_name_table_find(&dbc->attribute_names, attribute);
	const struct nod_dbc_attribute *a = index == NOD_NAME_UNKNOWN ? NULL
								      : &dbc->attributes[index];
	const char *text = assigned ? assigned : a ? a->fallback : NULL;
	int64_t number;

	if (text && a && a->enumeration && nod_dbc_whole_number(text, strlen(text), &number) &&
	    number >= 0 && (uint64_t)number < a->word_count)
		return a->words[number];
	return text;
}

static void free_texts(char **texts, size_t count)
{
	for (size_t i = 0; i < count; i++)
		free(texts[i]);
	free(texts);
}

static void free_message(struct nod_dbc_message *m)
{
	free(m->name), free(m->long_name), free(m->comment);
	free(m->cycle), free(m->sent), free(m->format);
	free_texts(m->senders, m->sender_count);
	for (size_t i = 0; i < m->signal_count; i++) {
		nod_signal_clear(&m->signals[i].is);
		free(m->signals[i].long_name);
		free(m->signals[i].selector);
	}
	free(m->signals);
}

void nod_dbc_free(struct nod_dbc *dbc)
{
	if (!dbc)
		return;
	for (size_t i = 0; i < dbc->message_count; i++)
		free_message(&dbc->messages[i]);
	for (size_t i = 0; i < dbc->node_count; i++) {
		struct nod_dbc_node *n = &dbc->nodes[i];
		free(n->name), free(n->long_name), free(n->comment);
		free(n->address), free(n->management);
	}
	for (size_t i = 0; i < dbc->attribute_count; i++) {
		free(dbc->attributes[i].name), free(dbc->attributes[i].fallback);
		free_texts(dbc->attributes[i].words, dbc->attributes[i].word_count);
	}
	free(dbc->messages), free(dbc->nodes), free(dbc->attributes), free(dbc->by_number);
	free(dbc->bitrate), free(dbc->data_bitrate), free(dbc->protocol);
	nod_name_table_clear(&dbc->node_names);
	nod_name_table_clear(&dbc->attribute_names);
	free(dbc);
}

/* ---- all of the file ---- */

static const struct {
	const char *word;
	int (*read)(struct nod_dbc_reader *r);
} statements[] = {
	{"VERSION", skip_section},
	{"NS_", read_new_symbols},
	{"BS_", skip_section},
	{"BU_", read_nodes},
	{"BO_", nod_dbc_read_message},
	{"SG_", nod_dbc_read_signal},
	{"BO_TX_BU_", nod_dbc_read_senders},
	{"CM_", nod_dbc_read_comment},
	{"BA_DEF_", nod_dbc_read_attribute},
	{"BA_DEF_DEF_", nod_dbc_read_default},
	{"BA_", nod_dbc_read_assignment},
	{"VAL_", nod_dbc_read_values},
	{"SIG_VALTYPE_", nod_dbc_read_value_type},
	{"SG_MUL_VAL_", nod_dbc_read_selector},
	{"VAL_TABLE_", nod_dbc_skip_statement},
	{"EV_", nod_dbc_skip_statement},
	{"ENVVAR_DATA_", nod_dbc_skip_statement},
	{"EV_DATA_", nod_dbc_skip_statement},
	{"SGTYPE_", nod_dbc_skip_statement},
	{"SGTYPE_VAL_", nod_dbc_skip_statement},
	{"SIG_TYPE_REF_", nod_dbc_skip_statement},
	{"SIG_GROUP_", nod_dbc_skip_statement},
	{"SIGTYPE_VALTYPE_", nod_dbc_skip_statement},
	{"BA_DEF_REL_", nod_dbc_skip_statement},
	{"BA_DEF_DEF_REL_", nod_dbc_skip_statement},
	{"BA_REL_", nod_dbc_skip_statement},
	{"BA_DEF_SGTYPE_", nod_dbc_skip_statement},
	{"BA_SGTYPE_", nod_dbc_skip_statement},
	{"CAT_DEF_", nod_dbc_skip_statement},
	{"CAT_", nod_dbc_skip_statement},
	{"FILTER", nod_dbc_skip_statement},
	{"NS_DESC_", nod_dbc_skip_statement},
};

#define STATEMENTS (sizeof(statements) / sizeof(statements[0]))

static size_t statement_of(const struct nod_dbc_token *token)
{
	size_t i = 0;

	while (i < STATEMENTS && !nod_dbc_is_word(token, statements[i].word))
		i++;
	return i;
}

bool nod_dbc_is_keyword(const struct nod_dbc_token *token)
{
	return statement_of(token) < STATEMENTS;
}

/* A section that no reader here knows is passed over; other words are a mistake. */
static int read_unknown(struct nod_dbc_reader *r)
{
	const struct nod_dbc_token *t = &r->lexer.token;

	if (nod_dbc_is_sign(t, ';'))
		return nod_dbc_next(r);
	if (t->kind != NOD_DBC_WORD || t->text[t->length - 1] != '_')
		return nod_dbc_expected(&r->lexer, "a statement of a DBC file (BU_, BO_, SG_, CM_, "
						   "BA_, VAL_, ...)");
	return nod_dbc_skip_statement(r);
}

static int read_pass(struct nod_dbc_reader *r, const char *text, size_t length, const char *name,
		     struct nod_error *err)
{
	int status = nod_dbc_lexer_begin(&r->lexer, text, length, name, err);

	while (!status && r->lexer.token.kind != NOD_DBC_END) {
		size_t i = statement_of(&r->lexer.token);
		if (i == STATEMENTS) {
			status = read_unknown(r);
			continue;
		}
		status = nod_dbc_next(r);
		if (!status)
			status = statements[i].read(r);
	}
	return status;
}

static int compare_numbers(const void *a, const void *b)
{
	const struct nod_dbc_number *x = a, *y = b;

	if (x->number != y->number)
		return x->number < y->number ? -1 : 1;
	return x->message < y->message ? -1 : x->message > y->message;
}

static int sort_messages(struct nod_dbc_reader *r)
{
	struct nod_dbc *dbc = r->dbc;

	dbc->by_number = calloc(dbc->message_count + 1, sizeof(*dbc->by_number));
	if (!dbc->by_number)
		return nod_dbc_no_memory(r);
	for (size_t i = 0; i < dbc->message_count; i++)
		dbc->by_number[i] = (struct nod_dbc_number){dbc->messages[i].number, i};
	qsort(dbc->by_number, dbc->message_count, sizeof(*dbc->by_number), compare_numbers);
	return 0;
}

struct nod_dbc *nod_dbc_parse(const char *text, size_t length, const char *name,
			      struct nod_error *err)
{
	struct nod_dbc_reader r = {.dbc = calloc(1, sizeof(struct nod_dbc))};
	int status = r.dbc ? 0 : nod_error_set(err, ENOMEM, "%s: out of memory", name);

	if (!status)
		status = read_pass(&r, text, length, name, err);
	if (!status)
		status = sort_messages(&r);
	r.pass = NOD_DBC_DETAILS;
	if (!status)
		status = read_pass(&r, text, length, name, err);
	if (!status)
		return r.dbc;
	nod_dbc_free(r.dbc);
	errno = -status;
	return NULL;
}
