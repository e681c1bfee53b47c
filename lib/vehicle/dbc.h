/* SPDX-License-Identifier: MIT */
/* A DBC file: the form in which CAN databases are exchanged.
 *
 * Written against what its many readers take (the grammar and its quirks: the files and
 * the reader of cantools, MIT; the file format of canmatrix and of Linux' own users agree),
 * and generous: sections may be missing or empty, unknown ones are passed over, names
 * may come twice. Refused is what has no meaning: text that does not end, a number that
 * is none, a signal outside its message. Internal; nod_dbc_import() is for others. */
#ifndef NOD_DBC_H
#define NOD_DBC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "message.h"
#include "name-table.h"

/* The one message that holds signals without a message. */
#define NOD_DBC_INDEPENDENT UINT32_C(0xC0000000)

struct nod_dbc_signal {
	struct nod_signal is; /* name, place, numbers, texts; selector by name, below */
	char *long_name;
	unsigned column; /* of its name; the line: is.line */
	bool selects;    /* M */
	bool selected;   /* m3: by the message's M, when the raw value is `page` */
	uint64_t page;
	char *selector; /* extended: the name of its selector, is.selected the values */
};

struct nod_dbc_message {
	uint32_t number; /* as it stands: bit 31 marks 29-bit IDs */
	char *name, *long_name, *comment;
	unsigned length;
	char **senders;
	size_t sender_count;
	struct nod_dbc_signal *signals;
	size_t signal_count;
	char *cycle, *sent, *format; /* attributes as assigned, NULL: not */
	unsigned line;
};

struct nod_dbc_node {
	char *name, *long_name, *comment;
	char *address, *management; /* attributes as assigned, NULL: not */
};

/* What an attribute is unless assigned, and the words of an enumeration. */
struct nod_dbc_attribute {
	char *name, *fallback;
	char **words;
	size_t word_count;
	bool enumeration;
};

struct nod_dbc {
	struct nod_dbc_node *nodes;
	size_t node_count;
	struct nod_dbc_message *messages;
	size_t message_count;
	struct nod_dbc_attribute *attributes;
	size_t attribute_count;
	char *bitrate, *data_bitrate, *protocol; /* attributes of the network, NULL: not assigned */
	struct nod_name_table node_names, attribute_names;
	struct nod_dbc_number *by_number; /* messages sorted by number */
};

struct nod_dbc_number {
	uint32_t number;
	size_t message;
};

/* Reads UTF-8 text. NULL with errno and err set. */
struct nod_dbc *nod_dbc_parse(const char *text, size_t length, const char *name,
			      struct nod_error *err);
void nod_dbc_free(struct nod_dbc *dbc);

/* The value of an attribute: as assigned, else its default; an enumeration's word in place
 * of its number. NULL: neither. */
const char *nod_dbc_value(const struct nod_dbc *dbc, const char *attribute, const char *assigned);

#endif
