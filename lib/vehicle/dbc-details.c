/* SPDX-License-Identifier: MIT */
/* What a DBC file says about its nodes, messages and signals: texts, attributes, values,
 * what selects. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "dbc-reader.h"
#include "signal-value.h"
#include "vehicle-reader.h"

/* What a statement is about. */
struct subject {
	struct nod_dbc_node *node;
	struct nod_dbc_message *message;
	struct nod_dbc_signal *signal;
	bool network; /* none of these: the whole file */
};

/* "BU_ Name", "BO_ 1", "SG_ 1 Name", "EV_ Name" or nothing. Subjects that do not exist are
 * NULL. */
static int read_subject(struct nod_dbc_reader *r, struct subject *subject)
{
	const struct nod_dbc_token scope = r->lexer.token;
	bool bu = nod_dbc_is_word(&scope, "BU_"), bo = nod_dbc_is_word(&scope, "BO_"),
	     sg = nod_dbc_is_word(&scope, "SG_"), ev = nod_dbc_is_word(&scope, "EV_");
	bool known = r->pass == NOD_DBC_DETAILS;
	uint64_t number;
	char *name = NULL;
	int status = 0;

	*subject = (struct subject){.network = !bu && !bo && !sg && !ev};
	if (!subject->network)
		status = nod_dbc_next(r);
	if (!status && (bo || sg)) {
		status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);
		if (!status && known)
			subject->message = nod_dbc_message_of(r->dbc, number);
	}
	if (!status && (bu || sg || ev))
		status = nod_dbc_take_name(r, "a name", &name);
	if (!status && bu && known)
		subject->node = nod_dbc_node_of(r->dbc, name);
	if (!status && sg && subject->message)
		subject->signal = nod_dbc_signal_of(subject->message, name);
	if (sg)
		subject->message = NULL;
	free(name);
	return status;
}

/* Takes the text over; the first one stays, an empty one is none. */
static void put(char **slot, char *text)
{
	if (slot && !*slot && text && *text)
		*slot = text;
	else
		free(text);
}

int nod_dbc_read_comment(struct nod_dbc_reader *r)
{
	struct subject s;
	char *text = NULL;
	int status = read_subject(r, &s);

	if (!status)
		status = nod_dbc_take_text(r, "a comment in quotes", &text);
	if (status)
		return status;
	put(s.node      ? &s.node->comment
	    : s.message ? &s.message->comment
	    : s.signal  ? &s.signal->is.comment
			: NULL,
	    text);
	return nod_dbc_take_end(r);
}

/* ---- attributes ---- */

static struct nod_dbc_attribute *attribute_of(struct nod_dbc *dbc, const char *name)
{
	int index = nod_name_table_find(&dbc->attribute_names, name);

	return index == NOD_NAME_UNKNOWN ? NULL : &dbc->attributes[index];
}

static int read_words(struct nod_dbc_reader *r, struct nod_dbc_attribute *attribute)
{
	int status = 0;

	while (!status && r->lexer.token.kind == NOD_DBC_STRING) {
		char **slot = attribute->word_count < NOD_DBC_LIST_MAX
				      ? nod_append(&attribute->words, &attribute->word_count,
						   sizeof(char *))
				      : NULL;
		if (!slot)
			return attribute->word_count < NOD_DBC_LIST_MAX
				       ? nod_dbc_no_memory(r)
				       : nod_dbc_error(&r->lexer, "more than %d words",
						       NOD_DBC_LIST_MAX);
		status = nod_dbc_take_text(r, "a word in quotes", slot);
		if (!status && nod_dbc_is_sign(&r->lexer.token, ','))
			status = nod_dbc_next(r);
	}
	return status;
}

static int define(struct nod_dbc_reader *r, char *name, bool enumeration)
{
	struct nod_dbc *dbc = r->dbc;

	if (r->pass != NOD_DBC_OBJECTS || attribute_of(dbc, name)) {
		free(name);
		return nod_dbc_skip_statement(r);
	}
	struct nod_dbc_attribute *attribute = nod_append(&dbc->attributes, &dbc->attribute_count,
							 sizeof(*attribute));
	if (!attribute) {
		free(name);
		return nod_dbc_no_memory(r);
	}
	attribute->name = name;
	attribute->enumeration = enumeration;
	if (nod_name_table_add(&dbc->attribute_names, name, (int)dbc->attribute_count - 1))
		return nod_dbc_no_memory(r);
	int status = enumeration ? read_words(r, attribute) : 0;
	return status ? status : nod_dbc_skip_statement(r);
}

/* BA_DEF_ BO_ "Name" ENUM "a","b"; what stands behind INT and others is passed over. */
int nod_dbc_read_attribute(struct nod_dbc_reader *r)
{
	char *name = NULL;
	int status = r->lexer.token.kind == NOD_DBC_WORD ? nod_dbc_next(r) : 0;

	if (!status)
		status = nod_dbc_take_text(r, "the name of an attribute in quotes", &name);
	if (status)
		return status;
	bool enumeration = nod_dbc_is_word(&r->lexer.token, "ENUM");
	if (r->lexer.token.kind == NOD_DBC_WORD)
		status = nod_dbc_next(r);
	if (status) {
		free(name);
		return status;
	}
	return define(r, name, enumeration);
}

/* A value: text in quotes or a number. Nothing at all is an empty text. */
static int read_value(struct nod_dbc_reader *r, char **text)
{
	if (nod_dbc_is_sign(&r->lexer.token, ';')) {
		*text = strdup("");
		return *text ? 0 : nod_dbc_no_memory(r);
	}
	return r->lexer.token.kind == NOD_DBC_STRING ? nod_dbc_take_text(r, "a value", text)
						     : nod_dbc_take_name(r, "a value", text);
}

int nod_dbc_read_default(struct nod_dbc_reader *r)
{
	char *name = NULL, *text = NULL;
	int status = nod_dbc_take_text(r, "the name of an attribute in quotes", &name);

	if (!status)
		status = read_value(r, &text);
	if (!status) {
		struct nod_dbc_attribute *attribute = r->pass == NOD_DBC_DETAILS
							      ? attribute_of(r->dbc, name)
							      : NULL;
		put(attribute ? &attribute->fallback : NULL, text);
	}
	free(name);
	return status ? status : nod_dbc_take_end(r);
}

/* Where the value of an attribute that is of use goes, NULL for any other. */
static char **place_of(struct nod_dbc *dbc, const struct subject *s, const char *name)
{
	const struct {
		const char *name;
		const void *object;
		size_t at;
	} wanted[] = {
		{"GenMsgCycleTime", s->message, offsetof(struct nod_dbc_message, cycle)},
		{"GenMsgSendType", s->message, offsetof(struct nod_dbc_message, sent)},
		{"VFrameFormat", s->message, offsetof(struct nod_dbc_message, format)},
		{"SystemMessageLongSymbol", s->message,
		 offsetof(struct nod_dbc_message, long_name)},
		{"SystemSignalLongSymbol", s->signal, offsetof(struct nod_dbc_signal, long_name)},
		{"SystemNodeLongSymbol", s->node, offsetof(struct nod_dbc_node, long_name)},
		{"NmStationAddress", s->node, offsetof(struct nod_dbc_node, address)},
		{"NmNode", s->node, offsetof(struct nod_dbc_node, management)},
		{"Baudrate", s->network ? dbc : NULL, offsetof(struct nod_dbc, bitrate)},
		{"BaudrateCANFD", s->network ? dbc : NULL, offsetof(struct nod_dbc, data_bitrate)},
		{"ProtocolType", s->network ? dbc : NULL, offsetof(struct nod_dbc, protocol)},
	};

	for (size_t i = 0; i < sizeof(wanted) / sizeof(wanted[0]); i++)
		if (wanted[i].object && !strcmp(wanted[i].name, name))
			return (char **)((uintptr_t)wanted[i].object + wanted[i].at);
	return NULL;
}

int nod_dbc_read_assignment(struct nod_dbc_reader *r)
{
	char *name = NULL, *text = NULL;
	struct subject s = {0};
	int status = nod_dbc_take_text(r, "the name of an attribute in quotes", &name);

	if (!status)
		status = read_subject(r, &s);
	if (!status)
		status = read_value(r, &text);
	if (!status && r->pass == NOD_DBC_DETAILS)
		put(place_of(r->dbc, &s, name), text);
	else
		free(text);
	free(name);
	return status ? status : nod_dbc_take_end(r);
}

/* ---- values ---- */

/* The same value a second time, or one that is no whole number, is passed over. */
static int add_value(struct nod_dbc_reader *r, struct nod_signal *s, const char *number, char *text)
{
	int64_t raw;
	bool use = s && *text && nod_dbc_whole_number(number, strlen(number), &raw) &&
		   s->value_count < NOD_DBC_LIST_MAX;

	for (size_t i = 0; use && i < s->value_count; i++)
		use = s->values[i].raw != raw;
	if (!use) {
		free(text);
		return 0;
	}
	struct nod_signal_value *slot = nod_append(&s->values, &s->value_count, sizeof(*slot));
	if (!slot) {
		free(text);
		return nod_dbc_no_memory(r);
	}
	*slot = (struct nod_signal_value){raw, text};
	return 0;
}

static int read_pairs(struct nod_dbc_reader *r, struct nod_signal *s)
{
	int status = 0;

	while (!status && !nod_dbc_is_sign(&r->lexer.token, ';') &&
	       !nod_dbc_begins_statement(&r->lexer.token)) {
		char *number = NULL, *text = NULL;
		status = nod_dbc_take_name(r, "a value or `;`", &number);
		if (!status)
			status = nod_dbc_take_text(r, "the name of a value in quotes", &text);
		if (!status)
			status = add_value(r, s, number, text);
		free(number);
	}
	return status ? status : nod_dbc_take_end(r);
}

/* VAL_ 1 Signal 0 "closed" 1 "open" ; of environment variables: no number first. */
int nod_dbc_read_values(struct nod_dbc_reader *r)
{
	struct nod_dbc_message *message = NULL;
	struct nod_dbc_signal *signal = NULL;
	const struct nod_dbc_token *t = &r->lexer.token;
	uint64_t number;
	char *name = NULL;

	if (t->kind != NOD_DBC_WORD || *t->text < '0' || *t->text > '9')
		return nod_dbc_skip_statement(r);
	int status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);
	if (!status)
		status = nod_dbc_take_name(r, "the name of a signal", &name);
	if (status)
		return status;
	if (r->pass == NOD_DBC_DETAILS)
		message = nod_dbc_message_of(r->dbc, number);
	if (message)
		signal = nod_dbc_signal_of(message, name);
	free(name);
	return read_pairs(r, signal ? &signal->is : NULL);
}

/* SIG_VALTYPE_ 1 Signal : 1; (1: float, 2: double, 0: as it says) */
int nod_dbc_read_value_type(struct nod_dbc_reader *r)
{
	struct nod_dbc_message *message = NULL;
	struct nod_dbc_signal *signal = NULL;
	uint64_t number, type;
	char *name = NULL;
	int status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);

	if (!status)
		status = nod_dbc_take_name(r, "the name of a signal", &name);
	if (!status && nod_dbc_is_sign(&r->lexer.token, ':'))
		status = nod_dbc_next(r);
	if (!status)
		status = nod_dbc_take_count(r, "a type from 0 to 3", 3, &type);
	if (!status && r->pass == NOD_DBC_DETAILS)
		message = nod_dbc_message_of(r->dbc, number);
	if (message)
		signal = nod_dbc_signal_of(message, name);
	if (signal &&
	    ((type == 1 && signal->is.bits == 32) || (type == 2 && signal->is.bits == 64)))
		signal->is.type = NOD_SIGNAL_FLOAT;
	free(name);
	return status ? status : nod_dbc_take_end(r);
}

/* ---- what selects ---- */

/* "0-3" without its blanks: in one word, or in up to three. */
static int join_range(struct nod_dbc_reader *r, char *text, size_t size)
{
	const struct nod_dbc_token *t = &r->lexer.token;
	struct nod_dbc_reader ahead = *r;
	size_t used = 0;
	int status = 0;

	*text = 0;
	for (t = &ahead.lexer.token;
	     !status && t->kind == NOD_DBC_WORD && used + t->length < size;) {
		const char *dash = strchr(text, '-');
		if (dash ? dash[1] : used && *t->text != '-')
			break;
		memcpy(text + used, t->text, t->length);
		text[used += t->length] = 0;
		*r = ahead;
		status = nod_dbc_next(&ahead);
	}
	return status;
}

static int take_range(struct nod_dbc_reader *r, struct nod_signal *s)
{
	char text[64];
	const struct nod_dbc_lexer place = r->lexer;
	int64_t first, last;
	int status = join_range(r, text, sizeof(text));
	const char *dash = strchr(text, '-');

	if (status)
		return status;
	if (!dash || !nod_dbc_whole_number(text, (size_t)(dash - text), &first) ||
	    !nod_dbc_whole_number(dash + 1, strlen(dash + 1), &last) ||
	    (uint64_t)first > (uint64_t)last)
		return nod_dbc_expected(&place, "a range such as 0-3");
	if (s && s->selected_count < NOD_DBC_LIST_MAX) {
		struct nod_signal_range *slot = nod_append(&s->selected, &s->selected_count,
							   sizeof(*slot));
		if (!slot)
			return nod_dbc_no_memory(r);
		*slot = (struct nod_signal_range){(uint64_t)first, (uint64_t)last};
	}
	return nod_dbc_next(r);
}

static int take_ranges(struct nod_dbc_reader *r, struct nod_signal *s)
{
	int status = take_range(r, s);

	while (!status && !nod_dbc_is_sign(&r->lexer.token, ';') &&
	       !nod_dbc_begins_statement(&r->lexer.token)) {
		if (nod_dbc_is_sign(&r->lexer.token, ','))
			status = nod_dbc_next(r);
		if (!status)
			status = take_range(r, s);
	}
	return status ? status : nod_dbc_take_end(r);
}

/* SG_MUL_VAL_ 1 Signal Selector 0-3, 5-5; */
int nod_dbc_read_selector(struct nod_dbc_reader *r)
{
	struct nod_dbc_message *message = NULL;
	struct nod_dbc_signal *signal = NULL;
	uint64_t number;
	char *name = NULL, *selector = NULL;
	int status = nod_dbc_take_count(r, "the number of a message", UINT32_MAX, &number);

	if (!status)
		status = nod_dbc_take_name(r, "the name of a signal", &name);
	if (!status)
		status = nod_dbc_take_name(r, "the name of the signal that selects it", &selector);
	if (!status && r->pass == NOD_DBC_DETAILS)
		message = nod_dbc_message_of(r->dbc, number);
	if (message)
		signal = nod_dbc_signal_of(message, name);
	free(name);
	if (signal && signal->selector)
		signal = NULL; /* said already */
	put(signal ? &signal->selector : NULL, selector);
	return status ? status : take_ranges(r, signal ? &signal->is : NULL);
}
