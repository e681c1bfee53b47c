/* SPDX-License-Identifier: MIT */
/* The signals of a message. */
#include <errno.h>
#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest-word.h"
#include "signal-value.h"
#include "vehicle-reader.h"

#define BIT_LAST (8 * NOD_MESSAGE_BYTES_MAX - 1)

static struct nod_message *message_of(const struct nod_reader *r)
{
	return &r->vehicle->messages[r->vehicle->message_count - 1];
}

/* "byte 4 bit 5", or bits counted through: "37". */
static int read_at(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		   void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	struct nod_signal *signal = object;
	unsigned byte, bit;
	int end = -1;

	if (!text)
		return -EINVAL;
	if (strspn(text, "0123456789") == strlen(text))
		return nod_read_count(r, value, key->what, 0, BIT_LAST, &signal->start);
	/* NOLINTNEXTLINE(cert-err34-c): so few digits fit */
	if (strlen(text) > 32 || sscanf(text, "byte %4u bit %1u%n", &byte, &bit, &end) != 2 ||
	    end < 0 || text[end] || bit > 7 || byte >= NOD_MESSAGE_BYTES_MAX)
		return nod_yaml_error(&r->yaml, value,
				      "expected %s such as `byte 4 bit 5`, found `%s`", key->what,
				      text);
	signal->start = byte * 8 + bit;
	return 0;
}

static int read_bits(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object)
{
	struct nod_signal *signal = object;

	return nod_read_count(r, value, key->what, 1, NOD_SIGNAL_BITS_MAX, &signal->bits);
}

static int read_order(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	static const char *const words[] = {"little", "big", NULL};
	struct nod_signal *signal = object;
	int word = nod_read_word(r, value, key->what, words);

	signal->big_endian = word == 1;
	return word < 0 ? word : 0;
}

static int read_type(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object)
{
	static const char *const words[] = {[NOD_SIGNAL_UNSIGNED] = "unsigned",
					    [NOD_SIGNAL_SIGNED] = "signed",
					    [NOD_SIGNAL_FLOAT] = "float",
					    NULL};
	struct nod_signal *signal = object;
	int word = nod_read_word(r, value, key->what, words);

	if (word >= 0)
		signal->type = (enum nod_signal_type)word;
	return word < 0 ? word : 0;
}

static int read_number(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	double *number = (double *)(void *)((char *)object + key->at);

	if (!text)
		return -EINVAL;
	if (!nod_number_parse(number, text))
		return nod_yaml_error(&r->yaml, value, "expected %s such as `0.01`, found `%s`",
				      key->what, text);
	return 0;
}

/* ---- values and their names ---- */

/* A whole number of 64 bits, with or without a sign, from `text` to its first other
 * character; NULL when there is none. */
static const char *whole_number(const char *text, uint64_t *number)
{
	char *end;

	if (text[strspn(text, "-")] < '0' || text[strspn(text, "-")] > '9' ||
	    (text[0] == '-' && text[1] == '-'))
		return NULL;
	errno = 0;
	*number = *text == '-' ? (uint64_t)strtoll(text, &end, 10) : strtoull(text, &end, 10);
	return errno ? NULL : end;
}

struct in_signal {
	struct nod_reader *reader;
	struct nod_signal *signal;
};

static int take_value(void *context, const char *name, const yaml_node_t *key,
		      const yaml_node_t *value)
{
	struct in_signal *in = context;
	struct nod_reader *r = in->reader;
	struct nod_signal *signal = in->signal;
	const char *text = nod_read_filled(r, value, "the name of a value");
	uint64_t raw;
	const char *end = whole_number(name, &raw);

	if (!text)
		return -EINVAL;
	if (!end || *end)
		return nod_yaml_error(&r->yaml, key,
				      "expected a whole number before the colon such "
				      "as `0: closed`, found `%s`",
				      name);
	for (size_t i = 0; i < signal->value_count; i++)
		if (signal->values[i].raw == (int64_t)raw)
			return nod_yaml_error(&r->yaml, key, "the value %s stands twice", name);
	if (signal->value_count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d values", NOD_VEHICLE_LIST_MAX);
	struct nod_signal_value *slot = nod_append(&signal->values, &signal->value_count,
						   sizeof(*slot));
	if (slot)
		*slot = (struct nod_signal_value){(int64_t)raw, strdup(text)};
	return slot && slot->text ? 0 : nod_yaml_out_of_memory(&r->yaml);
}

static int read_values(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	struct in_signal context = {r, object};

	return nod_yaml_each_pair(&r->yaml, value, key->what, take_value, &context);
}

/* ---- which frames it is in ---- */

/* "3" or "4-6". */
static int take_range(void *context, const yaml_node_t *item)
{
	struct in_signal *in = context;
	struct nod_reader *r = in->reader;
	const char *text = nod_read_filled(r, item, "a value or a range of values");
	struct nod_signal_range range;

	if (!text)
		return -EINVAL;
	const char *end = *text == '-' ? NULL : whole_number(text, &range.first);
	range.last = range.first;
	if (end && *end == '-' && end[1] != '-')
		end = whole_number(end + 1, &range.last);
	if (!end || *end || range.last < range.first)
		return nod_yaml_error(&r->yaml, item,
				      "expected a value or a range such as `4-6`, "
				      "found `%s`",
				      text);
	if (in->signal->selected_count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&r->yaml, item, "more than %d values", NOD_VEHICLE_LIST_MAX);
	struct nod_signal_range *slot = nod_append(&in->signal->selected,
						   &in->signal->selected_count, sizeof(*slot));
	if (!slot)
		return nod_yaml_out_of_memory(&r->yaml);
	*slot = range;
	return 0;
}

static int take_selector(void *context, const char *name, const yaml_node_t *key,
			 const yaml_node_t *value)
{
	struct in_signal *in = context;
	struct nod_reader *r = in->reader;
	const struct nod_message *message = message_of(r);
	struct nod_nearest nearest = {.word = name};

	if (in->signal->selector >= 0)
		return nod_yaml_error(&r->yaml, key,
				      "expected one signal in `when`, found a second");
	for (size_t i = 0; i < message->signal_count; i++) {
		nod_nearest_offer(&nearest, message->signals[i].name);
		if (!strcmp(message->signals[i].name, name))
			in->signal->selector = (int)i;
	}
	if (in->signal->selector < 0)
		return nod_yaml_error(&r->yaml, key, "there is no signal `%s` in `%s`%s%s%s", name,
				      message->name, nearest.best ? "; did you mean `" : "",
				      nearest.best ? nearest.best : "", nearest.best ? "`?" : "");
	return nod_yaml_each_item(&r->yaml, value, take_range, in);
}

static int read_when(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object)
{
	struct in_signal context = {r, object};

	return nod_yaml_each_pair(&r->yaml, value, key->what, take_selector, &context);
}

#define AT(member) offsetof(struct nod_signal, member)
static const struct nod_key signal_keys[] = {
	{.name = "at", .what = "the place of its first bit", .read = read_at},
	{.name = "bits", .what = "the number of bits", .read = read_bits},
	{.name = "byte order", .what = "a byte order", .read = read_order},
	{.name = "type", .what = "a type", .read = read_type},
	{.name = "factor", .what = "a factor", .read = read_number, .at = AT(factor)},
	{.name = "offset", .what = "an offset", .read = read_number, .at = AT(offset)},
	{.name = "unit", .what = "a unit", .read = nod_read_text, .at = AT(unit)},
	{.name = "values", .what = "values", .read = read_values},
	{.name = "when", .what = "the signal that selects it", .read = read_when},
	{.name = "comment", .what = "a comment", .read = nod_read_text, .at = AT(comment)},
	{.name = NULL},
};
#undef AT

/* ---- all of a message ---- */

static int add_signal(void *reader, const char *name, const yaml_node_t *key,
		      const yaml_node_t *value)
{
	struct nod_reader *r = reader;
	struct nod_message *message = message_of(r);

	(void)value;
	if (message->signal_count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d signals in a message",
				      NOD_VEHICLE_LIST_MAX);
	struct nod_signal *signal = nod_append(&message->signals, &message->signal_count,
					       sizeof(*signal));
	if (!signal)
		return nod_yaml_out_of_memory(&r->yaml);
	*signal = nod_signal_default();
	signal->start = BIT_LAST + 1;
	signal->line = nod_yaml_line(key);
	signal->name = strdup(name);
	return signal->name ? 0 : nod_yaml_out_of_memory(&r->yaml);
}

/* Pairs come in the order in which add_signal() took them. */
struct filling {
	struct nod_reader *reader;
	size_t next;
};

static int fill_signal(void *context, const char *name, const yaml_node_t *key,
		       const yaml_node_t *value)
{
	struct filling *filling = context;
	struct nod_reader *r = filling->reader;
	struct nod_signal *signal = &message_of(r)->signals[filling->next++];
	int status = nod_read_object(r, value, "a signal", signal_keys, signal);

	if (status)
		return status;
	if (signal->start > BIT_LAST)
		return nod_yaml_error(
			&r->yaml, key,
			"signal `%s` has no `at`, expected one such as `byte 4 bit 5`", name);
	if (signal->type == NOD_SIGNAL_FLOAT && signal->bits != 32 && signal->bits != 64)
		return nod_yaml_error(&r->yaml, key,
				      "signal `%s` has %u bits, expected 32 or 64 of a float", name,
				      signal->bits);
	return 0;
}

static int check_selectors(struct nod_reader *r, const struct nod_message *message)
{
	for (size_t i = 0; i < message->signal_count; i++) {
		size_t steps = 0;
		int at = (int)i;
		while (at >= 0 && steps++ <= message->signal_count)
			at = message->signals[at].selector;
		if (at >= 0)
			return nod_error_at(r->yaml.err, EINVAL, r->yaml.name,
					    message->signals[i].line, 0,
					    "signal `%s` depends on itself by its `when`",
					    message->signals[i].name);
	}
	return 0;
}

int nod_read_signals(struct nod_reader *r, const yaml_node_t *value, const char *what,
		     struct nod_message *message)
{
	struct filling filling = {r, 0};
	int status = nod_yaml_each_pair(&r->yaml, value, what, add_signal, r);

	if (!status)
		status = nod_yaml_each_pair(&r->yaml, value, what, fill_signal, &filling);
	return status ? status : check_selectors(r, message);
}
