/* SPDX-License-Identifier: MIT */
/* Nodes, messages and signals of a DBC file. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "dbc-reader.h"
#include "signal-value.h"
#include "vehicle-reader.h"

struct nod_dbc_message *nod_dbc_message_of(struct nod_dbc *dbc, uint64_t number)
{
	size_t low = 0, high = dbc->message_count;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		if (dbc->by_number[middle].number < number)
			low = middle + 1;
		else
			high = middle;
	}
	if (low == dbc->message_count || dbc->by_number[low].number != number)
		return NULL;
	return &dbc->messages[dbc->by_number[low].message];
}

struct nod_dbc_signal *nod_dbc_signal_of(struct nod_dbc_message *message, const char *name)
{
	for (size_t i = 0; i < message->signal_count; i++)
		if (!strcmp(message->signals[i].is.name, name))
			return &message->signals[i];
	return NULL;
}

struct nod_dbc_node *nod_dbc_node_of(struct nod_dbc *dbc, const char *name)
{
	int index = nod_name_table_find(&dbc->node_names, name);

	return index == NOD_NAME_UNKNOWN ? NULL : &dbc->nodes[index];
}

/* ---- senders ---- */

/* Takes the name over. */
static int add_sender(struct nod_dbc_reader *r, struct nod_dbc_message *message, char *name)
{
	bool known = !message || !strcmp(name, "Vector__XXX");

	for (size_t i = 0; !known && i < message->sender_count; i++)
		known = !strcmp(message->senders[i], name);
	if (known || message->sender_count >= NOD_DBC_LIST_MAX) {
		free(name);
		return 0;
	}
	char **slot = nod_append(&message->senders, &message->sender_count, sizeof(char *));
	if (!slot) {
		free(name);
		return nod_dbc_no_memory(r);
	}
	*slot = name;
	return 0;
}

/* BO_TX_BU_ 1 : FOO,BAR; */
int nod_dbc_read_senders(struct nod_dbc_reader *r)
{
	struct nod_dbc_message *message = NULL;
	uint64_t number;
	int status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);

	if (!status)
		status = nod_dbc_take_sign(r, ':');
	if (!status && r->pass == NOD_DBC_DETAILS)
		message = nod_dbc_message_of(r->dbc, number);
	while (!status && r->lexer.token.kind == NOD_DBC_WORD) {
		char *name;
		status = nod_dbc_take_name(r, "a sender", &name);
		if (!status)
			status = add_sender(r, message, name);
		if (!status && nod_dbc_is_sign(&r->lexer.token, ','))
			status = nod_dbc_next(r);
	}
	return status ? status : nod_dbc_take_end(r);
}

/* ---- messages ---- */

static int take_name_before_colon(struct nod_dbc_reader *r, const char *what, char **name)
{
	int status = nod_dbc_take_name(r, what, name);

	if (!status)
		status = nod_dbc_take_sign(r, ':');
	return status;
}

/* BO_ 1 Name: 8 Sender; the sender may be missing. */
static int read_message(struct nod_dbc_reader *r, struct nod_dbc_message *message)
{
	uint64_t number, length;
	char *sender = NULL;

	message->line = r->lexer.token.line;
	const struct nod_dbc_lexer place = r->lexer;
	int status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);
	if (!status && (number & 0x7FFFFFFF) > NOD_ID_EXTENDED_MASK &&
	    number != NOD_DBC_INDEPENDENT)
		status = nod_dbc_expected(&place, "a number with an ID of up to 29 bits");
	if (!status)
		status = take_name_before_colon(r, "the name of a message", &message->name);
	if (!status)
		status = nod_dbc_take_count(r, "a length of 0 to 1785 bytes", NOD_MESSAGE_BYTES_MAX,
					    &length);
	if (status)
		return status;
	message->number = (uint32_t)number;
	message->length = (unsigned)length;
	if (r->lexer.token.kind != NOD_DBC_WORD || nod_dbc_is_keyword(&r->lexer.token))
		return 0;
	status = nod_dbc_take_name(r, "a sender", &sender);
	return status ? status : add_sender(r, message, sender);
}

static void free_read(struct nod_dbc_message *message)
{
	free(message->name);
	for (size_t i = 0; i < message->sender_count; i++)
		free(message->senders[i]);
	free(message->senders);
}

int nod_dbc_read_message(struct nod_dbc_reader *r)
{
	struct nod_dbc *dbc = r->dbc;
	struct nod_dbc_message message = {0}, *slot = NULL;
	int status = read_message(r, &message);

	if (!status && r->pass == NOD_DBC_OBJECTS) {
		if (dbc->message_count >= NOD_DBC_MESSAGES_MAX)
			status = nod_dbc_error(&r->lexer, "more than %d messages",
					       NOD_DBC_MESSAGES_MAX);
		else
			slot = nod_append(&dbc->messages, &dbc->message_count, sizeof(*slot));
		if (!status && !slot)
			status = nod_dbc_no_memory(r);
	}
	if (slot)
		*slot = message;
	else
		free_read(&message);
	return status;
}

/* ---- signals ---- */

/* M, m3, m3M; nothing. */
static int read_indicator(struct nod_dbc_reader *r, struct nod_dbc_signal *s)
{
	const struct nod_dbc_token *t = &r->lexer.token;
	size_t length = t->length;
	int64_t page;

	if (t->kind != NOD_DBC_WORD)
		return 0;
	if (t->text[length - 1] == 'M') {
		s->selects = true;
		length--;
	}
	if (length) {
		if (*t->text != 'm' || !nod_dbc_whole_number(t->text + 1, length - 1, &page) ||
		    page < 0)
			return nod_dbc_expected(&r->lexer, "`:`, or M, m0 or m0M before it");
		s->selected = true;
		s->page = (uint64_t)page;
	}
	return nod_dbc_next(r);
}

/* "1-", or in two words "1 -". */
static int read_order(struct nod_dbc_reader *r, struct nod_signal *s)
{
	const struct nod_dbc_token *t = &r->lexer.token;
	const char *what = "the byte order and the sign: 0 or 1, then + or -";

	if (t->kind != NOD_DBC_WORD || t->length > 2 || (*t->text != '0' && *t->text != '1'))
		return nod_dbc_expected(&r->lexer, what);
	s->big_endian = *t->text == '0';
	char sign = t->length == 2 ? t->text[1] : 0;
	if (!sign) {
		int status = nod_dbc_next(r);
		if (status)
			return status;
		sign = t->kind == NOD_DBC_WORD && t->length == 1 ? *t->text : 0;
	}
	if (sign != '+' && sign != '-')
		return nod_dbc_expected(&r->lexer, what);
	s->type = sign == '-' ? NOD_SIGNAL_SIGNED : NOD_SIGNAL_UNSIGNED;
	return nod_dbc_next(r);
}

/* 0|8@1- */
static int read_place(struct nod_dbc_reader *r, struct nod_signal *s)
{
	uint64_t start, bits;
	int status = nod_dbc_take_count(r, "the start bit", 8 * NOD_MESSAGE_BYTES_MAX - 1, &start);

	if (!status)
		status = nod_dbc_take_sign(r, '|');
	if (!status)
		status = nod_dbc_take_count(r, "the number of bits", 8 * NOD_MESSAGE_BYTES_MAX,
					    &bits);
	if (!status)
		status = nod_dbc_take_sign(r, '@');
	if (status)
		return status;
	s->start = (unsigned)start;
	s->bits = (unsigned)bits;
	return read_order(r, s);
}

/* (0.01,250) [0|100] "degC" */
static int read_numbers(struct nod_dbc_reader *r, struct nod_signal *s)
{
	int status = nod_dbc_take_sign(r, '(');

	if (!status)
		status = nod_dbc_take_number(r, "a factor", &s->factor);
	if (!status)
		status = nod_dbc_take_sign(r, ',');
	if (!status)
		status = nod_dbc_take_number(r, "an offset", &s->offset);
	if (!status)
		status = nod_dbc_take_sign(r, ')');
	if (!status && nod_dbc_is_sign(&r->lexer.token, '[')) {
		while (!status && r->lexer.token.kind != NOD_DBC_END &&
		       r->lexer.token.kind != NOD_DBC_STRING &&
		       !nod_dbc_is_sign(&r->lexer.token, ']'))
			status = nod_dbc_next(r);
		if (!status)
			status = nod_dbc_take_sign(r, ']');
	}
	return status ? status : nod_dbc_take_text(r, "a unit in quotes", &s->unit);
}

/* In the line of the signal; further ones only behind a comma. */
static int skip_receivers(struct nod_dbc_reader *r)
{
	const struct nod_dbc_token *t = &r->lexer.token;
	bool more = false;
	int status = 0;

	while (!status &&
	       (nod_dbc_is_sign(t, ',') || (t->kind == NOD_DBC_WORD && !nod_dbc_is_keyword(t) &&
					    (more || !t->first_of_line)))) {
		more = nod_dbc_is_sign(t, ',');
		status = nod_dbc_next(r);
	}
	return status;
}

static int read_signal(struct nod_dbc_reader *r, struct nod_dbc_signal *s)
{
	s->is = nod_signal_default();
	s->is.line = r->lexer.token.line;
	s->column = r->lexer.token.column;
	int status = nod_dbc_take_name(r, "the name of a signal", &s->is.name);

	if (!status)
		status = read_indicator(r, s);
	if (!status)
		status = nod_dbc_take_sign(r, ':');
	if (!status)
		status = read_place(r, &s->is);
	if (!status)
		status = read_numbers(r, &s->is);
	return status ? status : skip_receivers(r);
}

static unsigned end_of(const struct nod_signal *s)
{
	return nod_signal_bit(s, s->big_endian ? 0 : s->bits - 1) / 8;
}

/* Whether it is to be kept: not in the message of signals without a message. */
static int check_signal(struct nod_dbc_reader *r, const struct nod_signal *s,
			const struct nod_dbc_token *at, bool *keep)
{
	const struct nod_dbc *dbc = r->dbc;
	const struct nod_dbc_message *m = &dbc->messages[dbc->message_count - 1];
	struct nod_dbc_lexer place = r->lexer;

	place.token = *at;
	*keep = m->number != NOD_DBC_INDEPENDENT;
	if (!*keep)
		return 0;
	if (!s->bits)
		return nod_dbc_error(&place, "signal `%s` has 0 bits, expected 1 or more", s->name);
	if (end_of(s) >= m->length)
		return nod_dbc_error(&place,
				     "signal `%s` reaches into byte %u of `%s`, expected it "
				     "to end within the %u byte%s on line %u",
				     s->name, end_of(s), m->name, m->length,
				     m->length == 1 ? "" : "s", m->line);
	if (m->signal_count >= NOD_DBC_LIST_MAX)
		return nod_dbc_error(&place, "more than %d signals in a message", NOD_DBC_LIST_MAX);
	return 0;
}

int nod_dbc_read_signal(struct nod_dbc_reader *r)
{
	struct nod_dbc *dbc = r->dbc;
	struct nod_dbc_signal signal = {0}, *slot = NULL;
	struct nod_dbc_token at = r->lexer.token;
	bool keep = false;

	if (!dbc->message_count)
		return nod_dbc_error(&r->lexer, "a signal stands before any message, expected BO_ "
						"first");
	int status = read_signal(r, &signal);
	if (!status && r->pass == NOD_DBC_OBJECTS)
		status = check_signal(r, &signal.is, &at, &keep);
	if (!status && keep) {
		struct nod_dbc_message *m = &dbc->messages[dbc->message_count - 1];
		slot = nod_append(&m->signals, &m->signal_count, sizeof(*slot));
		status = slot ? 0 : nod_dbc_no_memory(r);
	}
	if (slot)
		*slot = signal;
	else
		nod_signal_clear(&signal.is);
	return status;
}
