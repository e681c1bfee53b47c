/* SPDX-License-Identifier: MIT */
#include "message-write.h"

#include <inttypes.h>

#include "id-rule.h"
#include "signal-value.h"
#include "yaml-text.h"

static void write_text(FILE *out, const char *key, const char *text)
{
	if (!text)
		return;
	fputs(key, out);
	nod_yaml_write(out, text);
}

static void write_values(FILE *out, const struct nod_signal *signal)
{
	for (size_t i = 0; i < signal->value_count; i++) {
		const struct nod_signal_value *value = &signal->values[i];
		fputs(i ? ", " : ", values: { ", out);
		if (signal->type == NOD_SIGNAL_UNSIGNED)
			fprintf(out, "%" PRIu64 ": ", (uint64_t)value->raw);
		else
			fprintf(out, "%" PRId64 ": ", value->raw);
		nod_yaml_write(out, value->text);
	}
	fputs(signal->value_count ? " }" : "", out);
}

static void write_when(FILE *out, const struct nod_message *message,
		       const struct nod_signal *signal)
{
	if (signal->selector < 0)
		return;
	fputs(", when: { ", out);
	nod_yaml_write(out, message->signals[signal->selector].name);
	fputs(": [", out);
	for (size_t i = 0; i < signal->selected_count; i++) {
		const struct nod_signal_range *range = &signal->selected[i];
		fprintf(out, "%s%" PRIu64, i ? ", " : "", range->first);
		if (range->last != range->first)
			fprintf(out, "-%" PRIu64, range->last);
	}
	fputs("] }", out);
}

static void write_numbers(FILE *out, const struct nod_signal *signal)
{
	char number[NOD_NUMBER_TEXT];

	if (signal->factor != 1)
		fprintf(out, ", factor: %s", nod_number_print(number, signal->factor));
	if (signal->offset != 0)
		fprintf(out, ", offset: %s", nod_number_print(number, signal->offset));
}

void nod_signal_write(const struct nod_message *message, const struct nod_signal *signal,
		      int indent, FILE *out)
{
	static const char *const types[] = {[NOD_SIGNAL_UNSIGNED] = "",
					    [NOD_SIGNAL_SIGNED] = ", type: signed",
					    [NOD_SIGNAL_FLOAT] = ", type: float"};

	fprintf(out, "%*s", indent, "");
	nod_yaml_write(out, signal->name);
	fprintf(out, ": { at: byte %u bit %u", signal->start / 8, signal->start % 8);
	if (signal->bits != 1)
		fprintf(out, ", bits: %u", signal->bits);
	fprintf(out, "%s%s", signal->big_endian ? ", byte order: big" : "", types[signal->type]);
	write_numbers(out, signal);
	write_text(out, ", unit: ", signal->unit);
	write_values(out, signal);
	write_when(out, message, signal);
	write_text(out, ", comment: ", signal->comment);
	fputs(" }\n", out);
}

static void write_line(FILE *out, const char *key, const char *text)
{
	write_text(out, key, text);
	if (text)
		fputc('\n', out);
}

static void write_networks(FILE *out, const struct nod_message *m, const struct nod_vehicle *v)
{
	for (size_t i = 0; i < m->network_count; i++)
		write_text(out, i ? ", " : "    networks: [", v->networks[m->networks[i]].name);
	fputs(m->network_count ? "]\n" : "", out);
}

static void write_senders(FILE *out, const struct nod_message *m)
{
	for (size_t i = 0; i < m->sender_count; i++)
		write_text(out, i ? ", " : "    senders: [", m->senders[i]);
	fputs(m->sender_count ? "]\n" : "", out);
}

void nod_message_write(const struct nod_message *m, const struct nod_vehicle *v, FILE *out)
{
	char id[NOD_ID_RULE_TEXT], time[NOD_TIME_TEXT];

	fputs("  ", out);
	nod_yaml_write(out, m->name);
	fprintf(out, ":\n    id: %s\n", nod_id_rule_print(id, &m->id));
	write_networks(out, m, v);
	if (m->length_given)
		fprintf(out, "    length: %u\n", m->length);
	if (m->period.ns)
		fprintf(out, "    period: %s\n", nod_duration_print_exact(time, m->period));
	write_line(out, "    sent: ", m->sent);
	write_senders(out, m);
	write_line(out, "    comment: ", m->comment);
	if (m->signal_count)
		fputs("    signals:\n", out);
	for (size_t i = 0; i < m->signal_count; i++)
		nod_signal_write(m, &m->signals[i], 6, out);
}
