/* SPDX-License-Identifier: MIT */
/* What was learned about inputs, as remarks and as signals for a vehicle file. */
#include "learn-internal.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "yaml-text.h"

static void write_input(FILE *out, const struct nod_learned_input *in)
{
	char id[NOD_ID_TEXT], name[200], signal[200];

	nod_learn_clean(name, sizeof(name), in->input);
	nod_learn_clean(signal, sizeof(signal), in->signal ? in->signal : "");
	nod_learn_remark(out, "#",
			 "input %s: %s%s%s byte %u bit %u%s (%s; with %u mark%s, changed %u "
			 "times in all)",
			 name, signal, *signal ? " (" : "", nod_id_print(id, in->id), in->bit / 8,
			 in->bit % 8, *signal ? ")" : "", in->network, in->moved,
			 in->moved == 1 ? "" : "s", in->toggles);
}

/* The likeliest bit of its input, which no signal of the map has yet. */
static bool is_proposed(const struct nod_lesson *l, size_t i)
{
	return !l->inputs[i].signal &&
	       (!i || strcasecmp(l->inputs[i].input, l->inputs[i - 1].input));
}

static bool same_message(const struct nod_learned_input *a, const struct nod_learned_input *b)
{
	return a->id == b->id && !strcmp(a->network, b->network);
}

static const struct nod_message *message_of(const struct nod_lesson *l,
					    const struct nod_learned_input *in)
{
	int network = NOD_NONE, message;

	if (!l->vehicle)
		return NULL;
	for (size_t i = 0; i < l->vehicle->network_count; i++)
		if (!strcasecmp(l->vehicle->networks[i].name, in->network))
			network = (int)i;
	message = nod_vehicle_message_of_id(l->vehicle, network, in->id);
	return message == NOD_NONE ? NULL : &l->vehicle->messages[message];
}

/* All signals of the message of input `first`. */
static void write_signals(FILE *out, const struct nod_lesson *l, size_t first, const char *lead)
{
	char name[NOD_ID_TEXT + 80];

	for (size_t i = first; i < l->input_count; i++) {
		const struct nod_learned_input *in = &l->inputs[i];
		if (!is_proposed(l, i) || !same_message(in, &l->inputs[first]))
			continue;
		fputs(lead, out);
		nod_yaml_write(out, nod_learn_clean(name, sizeof(name) - NOD_ID_TEXT, in->input));
		fprintf(out, ": { at: byte %u bit %u }\n", in->bit / 8, in->bit % 8);
	}
}

static bool is_first_of_message(const struct nod_lesson *l, size_t i)
{
	for (size_t k = 0; k < i; k++)
		if (is_proposed(l, k) && same_message(&l->inputs[k], &l->inputs[i]))
			return false;
	return is_proposed(l, i);
}

static void propose(FILE *out, const struct nod_lesson *l)
{
	bool headed = false;
	char id[NOD_ID_TEXT], name[200];

	for (size_t i = 0; i < l->input_count; i++) {
		const struct nod_message *message = message_of(l, &l->inputs[i]);
		if (!is_first_of_message(l, i))
			continue;
		if (message) {
			nod_learn_remark(out, "#", "Signals to add to message %s:",
					 nod_learn_clean(name, sizeof(name), message->name));
			write_signals(out, l, i, "#       ");
			continue;
		}
		fputs(headed ? "" : "messages:\n", out);
		headed = true;
		nod_id_print(id, l->inputs[i].id);
		fprintf(out, "  message %s:\n    id: %s\n    networks: [", id, id);
		nod_yaml_write(out, nod_learn_clean(name, sizeof(name), l->inputs[i].network));
		fputs("]\n    signals:\n", out);
		write_signals(out, l, i, "      ");
	}
}

void nod_learn_write_inputs(FILE *out, const struct nod_lesson *l)
{
	if (l->input_count)
		fputs("# Inputs that were touched, and bits that moved then (bytes and bits from 0):\n",
		      out);
	for (size_t i = 0; i < l->input_count; i++)
		write_input(out, &l->inputs[i]);
	propose(out, l);
}
