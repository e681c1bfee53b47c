/* SPDX-License-Identifier: MIT */
/* The messages of a vehicle file. */
#include <errno.h>
#include <stddef.h>
#include <string.h>

#include "signal-value.h"
#include "vehicle-reader.h"

/* Limits of what makes sense; chosen. */
#define PERIOD_LEAST NOD_NS_PER_MS
#define PERIOD_MOST (24 * 3600 * NOD_NS_PER_S)

static int read_id(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		   void *object)
{
	struct nod_message *message = object;
	struct nod_id_rule rule = {0};
	int status = nod_read_rule(r, value, &rule);

	(void)key;
	if (status)
		return status;
	if (!rule.mask && rule.first != rule.last)
		return nod_yaml_error(&r->yaml, value,
				      "expected the one ID of a message or a value/mask, found a "
				      "range");
	message->id = rule;
	return 0;
}

int nod_read_count(struct nod_reader *r, const yaml_node_t *value, const char *what, unsigned least,
		   unsigned most, unsigned *number)
{
	const char *text = nod_read_filled(r, value, what);
	size_t digits = text ? strspn(text, "0123456789") : 0;
	unsigned n = 0;

	if (!text)
		return -EINVAL;
	for (size_t i = 0; i < digits && n <= most; i++)
		n = n * 10 + (unsigned)(text[i] - '0');
	if (!digits || text[digits] || n < least || n > most)
		return nod_yaml_error(&r->yaml, value, "expected %s from %u to %u, found `%s`",
				      what, least, most, text);
	*number = n;
	return 0;
}

static int read_length(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		       void *object)
{
	struct nod_message *message = object;

	message->length_given = true;
	return nod_read_count(r, value, key->what, 0, NOD_MESSAGE_BYTES_MAX, &message->length);
}

/* What the signals refer to may stand behind them. */
static int read_signals(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			void *object)
{
	return nod_read_signals(r, value, key->what, object);
}

#define AT(member) offsetof(struct nod_message, member)
/* clang-format off */
static const struct nod_key message_keys[] = {
	{.name = "id", .read = read_id},
	{.name = "networks", .read = nod_read_network_names, .at = AT(networks),
	 .count = AT(network_count)},
	{.name = "length", .what = "the length in bytes", .read = read_length},
	{.name = "period", .what = "the period", .read = nod_read_duration, .at = AT(period),
	 .count = NOD_NO_FLAG, .least = PERIOD_LEAST, .most = PERIOD_MOST},
	{.name = "sent", .what = "how it is sent", .read = nod_read_text, .at = AT(sent)},
	{.name = "senders", .what = "a sender", .read = nod_read_texts, .at = AT(senders),
	 .count = AT(sender_count)},
	{.name = "comment", .what = "a comment", .read = nod_read_text, .at = AT(comment)},
	{.name = "signals", .what = "signals", .read = read_signals},
	{.name = NULL},
};
/* clang-format on */
#undef AT

/* The last byte of the payload that a signal needs. */
static unsigned end_of(const struct nod_signal *signal)
{
	return nod_signal_bit(signal, signal->big_endian ? 0 : signal->bits - 1) / 8;
}

static int check_ends(struct nod_reader *r, const struct nod_message *message)
{
	unsigned length = message->length_given ? message->length : NOD_MESSAGE_BYTES_MAX;

	for (size_t i = 0; i < message->signal_count; i++) {
		const struct nod_signal *s = &message->signals[i];
		if (end_of(s) >= length)
			return nod_error_at(r->yaml.err, EINVAL, r->yaml.name, s->line, 0,
					    "signal `%s` reaches into byte %u, expected it to end "
					    "within the %u bytes of `%s`",
					    s->name, end_of(s), length, message->name);
	}
	return 0;
}

int nod_read_message(void *reader, const char *name, const yaml_node_t *key,
		     const yaml_node_t *value)
{
	struct nod_reader *r = reader;
	struct nod_vehicle *v = r->vehicle;

	if (v->message_count >= NOD_VEHICLE_MESSAGES_MAX)
		return nod_yaml_error(&r->yaml, key, "more than %d messages",
				      NOD_VEHICLE_MESSAGES_MAX);
	struct nod_message *message = nod_append(&v->messages, &v->message_count, sizeof(*message));
	if (!message)
		return nod_yaml_out_of_memory(&r->yaml);
	message->line = nod_yaml_line(key);
	message->name = strdup(name);
	if (!message->name)
		return nod_yaml_out_of_memory(&r->yaml);
	int status = nod_read_object(r, value, "a message", message_keys, message);
	if (!status && !message->id.line)
		status = nod_yaml_error(&r->yaml, key,
					"message `%s` has no `id`, expected one such "
					"as `id: 2A0`",
					name);
	return status ? status : check_ends(r, message);
}
