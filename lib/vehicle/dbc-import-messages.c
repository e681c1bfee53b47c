/* SPDX-License-Identifier: MIT */
/* Messages and signals of a DBC file, as a vehicle file has them. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "dbc-importer.h"
#include "j1939.h"
#include "signal-value.h"
#include "vehicle-reader.h"

/* The parts of a 29-bit ID that say what a J1939 message is: the PGN with and without the
 * byte that is a destination below PDU format 240 (SAE J1939-21), and the source address. */
#define PGN_BROADCAST 0x03FFFF00u
#define PGN_ADDRESSED 0x03FF0000u
#define SOURCE 0x000000FFu
#define FIRST_BROADCAST_FORMAT 240

/* A day: what a vehicle file takes. */
#define PERIOD_MOST_MS (24 * 3600 * 1000.0)

static bool is_message(const void *among, const char *name)
{
	const struct nod_vehicle *v = among;

	for (size_t i = 0; i < v->message_count; i++)
		if (v->messages[i].name && !strcasecmp(v->messages[i].name, name))
			return true;
	return false;
}

static bool is_signal(const void *among, const char *name)
{
	const struct nod_message *m = among;

	for (size_t i = 0; i < m->signal_count; i++)
		if (m->signals[i].name && !strcasecmp(m->signals[i].name, name))
			return true;
	return false;
}

bool nod_dbc_is_j1939(const struct nod_dbc_importer *im, const struct nod_dbc_message *m)
{
	const char *format = nod_dbc_value(im->dbc, "VFrameFormat", m->format);

	return m->number & NOD_ID_EXTENDED && format &&
	       (!strcasecmp(format, "J1939PG") || !strcmp(format, "3"));
}

/* A standard ID that is too large for one is taken as a 29-bit ID. */
static bool is_too_large(const struct nod_dbc_message *m)
{
	return !(m->number & NOD_ID_EXTENDED) && m->number > NOD_ID_STANDARD_MASK;
}

static uint32_t id_of(const struct nod_dbc_message *m)
{
	uint32_t id = m->number & NOD_ID_EXTENDED_MASK;

	return m->number & NOD_ID_EXTENDED || is_too_large(m) ? id | NOD_ID_EXTENDED : id;
}

static uint32_t pgn_mask(uint32_t id)
{
	return (id >> 16 & 0xFF) < FIRST_BROADCAST_FORMAT ? PGN_ADDRESSED : PGN_BROADCAST;
}

/* A J1939 message is the same whatever its priority and destination; and whoever sends it,
 * unless the file tells two of them apart by their sender. */
static struct nod_id_rule rule_of(const struct nod_dbc_importer *im,
				  const struct nod_dbc_message *m)
{
	uint32_t id = id_of(m), mask = pgn_mask(id);
	struct nod_id_rule rule = {.first = id, .last = id};

	if (!nod_dbc_is_j1939(im, m))
		return rule;
	for (size_t i = 0; i < im->dbc->message_count; i++) {
		const struct nod_dbc_message *other = &im->dbc->messages[i];
		if (other != m && nod_dbc_is_j1939(im, other) && !((other->number ^ id) & mask)) {
			mask |= SOURCE;
			break;
		}
	}
	rule.mask = mask;
	rule.first = NOD_ID_EXTENDED | (id & mask);
	return rule;
}

static bool rule_taken(const struct nod_vehicle *v, const struct nod_id_rule *rule)
{
	for (size_t i = 0; i + 1 < v->message_count; i++)
		if (v->messages[i].id.first == rule->first && v->messages[i].id.mask == rule->mask)
			return true;
	return false;
}

/* Whether the one sender of a message has its ID for its own. Of J1939 it is told by its
 * address; an ID with the null address stands for any. */
static int claim(struct nod_dbc_importer *im, const struct nod_dbc_message *from,
		 const char *sender, bool *claimed)
{
	uint32_t id = id_of(from);
	int module = nod_dbc_module_of(im, sender);

	if (module == NOD_NONE)
		return -ENOMEM;
	struct nod_module *m = &im->vehicle->modules[module];
	if (nod_dbc_is_j1939(im, from)) {
		*claimed = m->source_address_count > 0;
		if (*claimed || (id & SOURCE) == NOD_J1939_NULL_ADDRESS)
			return 0;
	}
	struct nod_id_rule *slot = nod_append(&m->ids, &m->id_count, sizeof(*slot));
	if (slot)
		*slot = (struct nod_id_rule){.first = id, .last = id};
	*claimed = true;
	return slot ? 0 : -ENOMEM;
}

static int add_senders(struct nod_dbc_importer *im, struct nod_message *m,
		       struct nod_dbc_message *from)
{
	bool claimed = false;
	int status = from->sender_count == 1 ? claim(im, from, from->senders[0], &claimed) : 0;

	for (size_t i = 0; !status && !claimed && i < from->sender_count; i++) {
		int module = nod_dbc_module_of(im, from->senders[i]);
		char *name = module == NOD_NONE ? NULL : strdup(im->vehicle->modules[module].name);
		char **slot = name ? nod_append(&m->senders, &m->sender_count, sizeof(char *))
				   : NULL;
		if (slot)
			*slot = name;
		else
			free(name);
		status = slot ? 0 : -ENOMEM;
	}
	return status;
}

static nod_duration period_of(const struct nod_dbc_importer *im, const struct nod_dbc_message *m)
{
	const char *cycle = nod_dbc_value(im->dbc, "GenMsgCycleTime", m->cycle);
	double ms;

	if (!cycle || !nod_number_parse(&ms, cycle) || ms < 1 || ms > PERIOD_MOST_MS)
		return (nod_duration){0};
	return (nod_duration){(int64_t)(ms * 1000) * NOD_NS_PER_US};
}

/* The words of tools for "not said" are none. */
static int take_sent(const struct nod_dbc_importer *im, const struct nod_dbc_message *m, char **to)
{
	static const char *const none[] = {"NoMsgSendType", "NotUsed", "vector_leerstring", ""};
	const char *sent = nod_dbc_value(im->dbc, "GenMsgSendType", m->sent);

	for (size_t i = 0; sent && i < sizeof(none) / sizeof(none[0]); i++)
		if (!strcasecmp(none[i], sent))
			return 0;
	if (!sent || strspn(sent, "0123456789") == strlen(sent))
		return 0;
	*to = strdup(sent);
	return *to ? 0 : -ENOMEM;
}

static int describe(struct nod_dbc_importer *im, struct nod_message *m,
		    struct nod_dbc_message *from)
{
	char id[NOD_ID_TEXT];

	m->name = nod_dbc_free_name(from->long_name ? from->long_name : from->name,
				    nod_id_print(id, id_of(from)), is_message, im->vehicle);
	m->length = from->length;
	m->length_given = true;
	m->period = period_of(im, from);
	m->comment = nod_dbc_take(&from->comment);
	if (take_sent(im, from, &m->sent))
		return -ENOMEM;
	if (im->network == NOD_NONE)
		return m->name ? 0 : -ENOMEM;
	int *slot = nod_append(&m->networks, &m->network_count, sizeof(int));
	if (slot)
		*slot = im->network;
	return slot && m->name ? 0 : -ENOMEM;
}

/* ---- signals ---- */

/* A table of a signed signal may give its numbers as bits: 255 of 8 bits is -1. */
static void settle_values(struct nod_signal *s)
{
	for (size_t i = 0; s->type == NOD_SIGNAL_SIGNED && i < s->value_count; i++) {
		int64_t raw = s->values[i].raw;
		int64_t other = raw > 0 && (s->bits == 64 || raw >> s->bits == 0)
					? nod_signal_integer(s, (uint64_t)raw)
					: raw;
		bool taken = false;
		for (size_t k = 0; k < s->value_count; k++)
			taken |= k != i && s->values[k].raw == other;
		s->values[i].raw = taken ? raw : other;
	}
}

static int selector_of(const struct nod_dbc_message *m, const struct nod_dbc_signal *s)
{
	for (size_t i = 0; i < m->signal_count; i++)
		if (&m->signals[i] != s && m->signals[i].is.bits <= NOD_SIGNAL_BITS_MAX &&
		    (s->selector ? !strcmp(m->signals[i].is.name, s->selector)
				 : m->signals[i].selects && !m->signals[i].selected))
			return (int)i;
	return NOD_NONE;
}

/* The index among the signals that are kept. */
static int kept_index(const struct nod_dbc_message *m, int index)
{
	int kept = 0;

	for (int i = 0; i < index; i++)
		kept += m->signals[i].is.bits <= NOD_SIGNAL_BITS_MAX;
	return index == NOD_NONE ? NOD_NONE : kept;
}

static int select_by(const struct nod_dbc_importer *im, const struct nod_dbc_message *m,
		     struct nod_dbc_signal *s, struct nod_signal *to)
{
	to->selector = kept_index(m, s->selected || s->selector ? selector_of(m, s) : NOD_NONE);
	if (to->selector == NOD_NONE) {
		if (s->selected || s->selector)
			nod_dbc_note(
				im,
				"%s of %s is multiplexed, but nothing selects it: taken as always "
				"there",
				to->name, m->name);
		free(to->selected);
		to->selected = NULL;
		to->selected_count = 0;
	} else if (!s->selector || !to->selected_count) {
		struct nod_signal_range *slot = nod_append(&to->selected, &to->selected_count,
							   sizeof(*slot));
		if (!slot)
			return -ENOMEM;
		*slot = (struct nod_signal_range){s->page, s->page};
	}
	return 0;
}

/* Takes what the DBC's signal owns. */
static int add_signal(struct nod_dbc_importer *im, struct nod_message *m,
		      struct nod_dbc_message *from, struct nod_dbc_signal *s)
{
	struct nod_signal *to = nod_append(&m->signals, &m->signal_count, sizeof(*to));
	char *name;

	if (!to)
		return -ENOMEM;
	name = nod_dbc_free_name(s->long_name ? s->long_name : s->is.name, "2", is_signal, m);
	*to = s->is;
	s->is.values = NULL;
	s->is.value_count = 0;
	s->is.selected = NULL;
	s->is.selected_count = 0;
	to->name = name;
	to->unit = nod_dbc_take(&s->is.unit);
	to->comment = nod_dbc_take(&s->is.comment);
	to->line = 0;
	settle_values(to);
	if (!name)
		return -ENOMEM;
	return select_by(im, from, s, to);
}

static int add_signals(struct nod_dbc_importer *im, struct nod_message *m,
		       struct nod_dbc_message *from)
{
	int status = 0;

	for (size_t i = 0; !status && i < from->signal_count; i++) {
		struct nod_dbc_signal *s = &from->signals[i];
		if (s->is.bits <= NOD_SIGNAL_BITS_MAX)
			status = add_signal(im, m, from, s);
		else
			nod_dbc_note(im,
				     "%s:%u:%u: %s of %s has %u bits: left out, above %u nothing "
				     "is decoded",
				     im->name, s->is.line, s->column, s->is.name, from->name,
				     s->is.bits, NOD_SIGNAL_BITS_MAX);
	}
	return status;
}

int nod_dbc_add_messages(struct nod_dbc_importer *im)
{
	struct nod_vehicle *v = im->vehicle;
	int status = 0;

	for (size_t i = 0; !status && i < im->dbc->message_count; i++) {
		struct nod_dbc_message *from = &im->dbc->messages[i];
		if (from->number == NOD_DBC_INDEPENDENT)
			continue;
		struct nod_message *m = nod_append(&v->messages, &v->message_count, sizeof(*m));
		if (!m)
			return -ENOMEM;
		m->id = rule_of(im, from);
		if (rule_taken(v, &m->id)) {
			nod_dbc_note(im, "%s:%u: %s has the ID of a message before it: left out",
				     im->name, from->line, from->name);
			v->message_count--;
			continue;
		}
		if (is_too_large(from))
			nod_dbc_note(im,
				     "%s:%u: %s has a standard ID above 7FF: taken as a 29-bit one",
				     im->name, from->line, from->name);
		status = describe(im, m, from);
		if (!status)
			status = add_senders(im, m, from);
		if (!status)
			status = add_signals(im, m, from);
	}
	return status;
}
