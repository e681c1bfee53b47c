/* SPDX-License-Identifier: MIT */
/* What the parts of the DBC reader share. Internal to dbc*.c. */
#ifndef NOD_DBC_READER_H
#define NOD_DBC_READER_H

#include "dbc-lexer.h"
#include "dbc.h"

/* Sizes as in a vehicle file, into which it goes; larger files are refused. */
#define NOD_DBC_NODES_MAX 10000
#define NOD_DBC_MESSAGES_MAX 10000
#define NOD_DBC_LIST_MAX 1000
#define NOD_DBC_NAME_MAX 80
#define NOD_DBC_TEXT_MAX 240

/* The file is read twice: what describes messages refers to them by number, and may
 * stand before them. */
enum nod_dbc_pass { NOD_DBC_OBJECTS, NOD_DBC_DETAILS };

struct nod_dbc_reader {
	struct nod_dbc_lexer lexer;
	struct nod_dbc *dbc;
	enum nod_dbc_pass pass;
};

/* All return 0, or a negative errno after setting the message. The present token is
 * taken only when it fits. */
int nod_dbc_take_sign(struct nod_dbc_reader *r, char sign);
int nod_dbc_take_name(struct nod_dbc_reader *r, const char *what, char **name);
int nod_dbc_take_text(struct nod_dbc_reader *r, const char *what, char **text);
int nod_dbc_take_count(struct nod_dbc_reader *r, const char *what, uint64_t most, uint64_t *number);
int nod_dbc_take_number(struct nod_dbc_reader *r, const char *what, double *number);
int nod_dbc_next(struct nod_dbc_reader *r);

/* A semicolon; where the next statement begins a line, it is not missed. */
int nod_dbc_take_end(struct nod_dbc_reader *r);

/* Behind the next semicolon, or where the next statement begins a line. */
int nod_dbc_skip_statement(struct nod_dbc_reader *r);

int nod_dbc_no_memory(struct nod_dbc_reader *r);

/* A whole number that fills `length` bytes, with or without a sign. */
bool nod_dbc_whole_number(const char *text, size_t length, int64_t *number);

/* True when a statement begins with this word; ... and it stands first in its line. */
bool nod_dbc_is_keyword(const struct nod_dbc_token *token);
bool nod_dbc_begins_statement(const struct nod_dbc_token *token);

/* The present token is behind the keyword: */
int nod_dbc_read_message(struct nod_dbc_reader *r);
int nod_dbc_read_signal(struct nod_dbc_reader *r);
int nod_dbc_read_senders(struct nod_dbc_reader *r);
int nod_dbc_read_comment(struct nod_dbc_reader *r);
int nod_dbc_read_attribute(struct nod_dbc_reader *r);
int nod_dbc_read_default(struct nod_dbc_reader *r);
int nod_dbc_read_assignment(struct nod_dbc_reader *r);
int nod_dbc_read_values(struct nod_dbc_reader *r);
int nod_dbc_read_value_type(struct nod_dbc_reader *r);
int nod_dbc_read_selector(struct nod_dbc_reader *r);

/* NULL when there is none. */
struct nod_dbc_message *nod_dbc_message_of(struct nod_dbc *dbc, uint64_t number);
struct nod_dbc_signal *nod_dbc_signal_of(struct nod_dbc_message *message, const char *name);
struct nod_dbc_node *nod_dbc_node_of(struct nod_dbc *dbc, const char *name);

#endif
