/* SPDX-License-Identifier: MIT */
#include "signals.h"

#include <stdio.h>
#include <string.h>

#include "signal-value.h"

/* Names and values are cut to these many bytes; a row of a table holds both. */
#define NAME_SHOWN 80
#define VALUE_SHOWN 50 /* also in the formats below */

const struct nod_message *nod_signals_message(const struct nod_findings *f,
					      const struct nod_ident_finding *ident)
{
	int message = nod_vehicle_message_of_id(f->vehicle, f->networks[ident->network].network,
						ident->id);

	return message == NOD_NONE ? NULL : &f->vehicle->messages[message];
}

static bool is_present(const struct nod_message *message, const struct nod_signal *signal,
		       uint64_t word)
{
	uint8_t data[8];

	for (unsigned i = 0; i < 8; i++)
		data[i] = (uint8_t)(word >> 8 * i);
	return nod_signal_present(message, signal, data, sizeof(data));
}

const struct nod_signal *nod_signals_of_bit(const struct nod_findings *f,
					    const struct nod_ident_finding *ident, unsigned bit,
					    uint64_t word)
{
	const struct nod_message *message = nod_signals_message(f, ident);
	const struct nod_signal *best = NULL;
	bool best_present = false;

	for (size_t i = 0; message && i < message->signal_count; i++) {
		const struct nod_signal *s = &message->signals[i];
		if (!(nod_signal_mask(s) >> bit & 1))
			continue;
		bool present = is_present(message, s, word);
		if (!best || (present && !best_present) ||
		    (present == best_present && s->bits < best->bits)) {
			best = s;
			best_present = present;
		}
	}
	return best;
}

static int shown(const char *text, int most)
{
	int length = (int)strnlen(text, (size_t)most);

	while (text[length] && length && ((unsigned char)text[length] & 0xC0) == 0x80)
		length--;
	return length;
}

char *nod_signals_print_bit(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			    const struct nod_ident_finding *ident, unsigned bit)
{
	const struct nod_signal *s = nod_signals_of_bit(f, ident, bit, ident->word);
	char id[NOD_ID_TEXT];

	nod_id_print(id, ident->id);
	if (s)
		snprintf(buf, NOD_SIGNAL_TEXT, "%.*s (%s)", shown(s->name, NAME_SHOWN), s->name,
			 id);
	else
		snprintf(buf, NOD_SIGNAL_TEXT, "%s byte %u bit %u", id, bit / 8, bit % 8);
	return buf;
}

char *nod_signals_print_value(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			      const struct nod_ident_finding *ident, unsigned bit, uint64_t word)
{
	const struct nod_signal *s = nod_signals_of_bit(f, ident, bit, word);
	uint64_t raw;

	if (s && nod_signal_raw_of_word(s, word, ident->length, &raw)) {
		nod_signal_print(buf, NOD_SIGNAL_TEXT, s, raw);
		buf[shown(buf, VALUE_SHOWN)] = 0;
	} else {
		snprintf(buf, NOD_SIGNAL_TEXT, "%u", (unsigned)(word >> bit & 1));
	}
	return buf;
}

char *nod_signals_print_move(char buf[NOD_SIGNAL_TEXT], const struct nod_findings *f,
			     const struct nod_ident_finding *ident, unsigned bit, uint64_t before,
			     uint64_t after)
{
	const struct nod_signal *s = nod_signals_of_bit(f, ident, bit, after);
	char id[NOD_ID_TEXT], from[NOD_SIGNAL_TEXT], to[NOD_SIGNAL_TEXT];

	nod_id_print(id, ident->id);
	nod_signals_print_value(from, f, ident, bit, before);
	nod_signals_print_value(to, f, ident, bit, after);
	if (s)
		snprintf(buf, NOD_SIGNAL_TEXT, "%.*s went %.50s → %.50s (%s)",
			 shown(s->name, NAME_SHOWN), s->name, from, to, id);
	else
		snprintf(buf, NOD_SIGNAL_TEXT, "%s byte %u bit %u went %.50s → %.50s", id, bit / 8,
			 bit % 8, from, to);
	return buf;
}

uint64_t nod_signals_same(const struct nod_findings *f, const struct nod_ident_finding *ident,
			  uint64_t mask)
{
	const struct nod_signal *s =
		mask ? nod_signals_of_bit(f, ident, (unsigned)__builtin_ctzll(mask), ident->word)
		     : NULL;

	return s ? mask & nod_signal_mask(s) : mask & (~mask + 1);
}

char *nod_signals_print_mask(char *buf, size_t size, const struct nod_findings *f,
			     const struct nod_ident_finding *ident, uint64_t mask)
{
	size_t used = 0;

	buf[0] = 0;
	while (mask) {
		unsigned bit = (unsigned)__builtin_ctzll(mask);
		const struct nod_signal *s = nod_signals_of_bit(f, ident, bit, ident->word);
		char text[NOD_SIGNAL_TEXT];
		if (s)
			snprintf(text, sizeof(text), "%.*s", shown(s->name, NAME_SHOWN), s->name);
		else
			snprintf(text, sizeof(text), "byte %u bit %u", bit / 8, bit % 8);
		if (used + strlen(text) + sizeof(", , ...") > size) {
			snprintf(buf + used, size - used, "%s...", used ? ", " : "");
			break;
		}
		used += (size_t)snprintf(buf + used, size - used, "%s%s", used ? ", " : "", text);
		mask &= ~nod_signals_same(f, ident, mask);
	}
	return buf;
}
