/* SPDX-License-Identifier: MIT */
/* Inputs that were touched, and the bits that moved with them. */
#include "learn-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "signal-value.h"
#include "signals.h"

/* Bits shown for one input. Chosen: more would be a list, not an answer. */
#define SHOWN 3

static struct nod_learned_input *input_of(struct nod_learn *learn, const struct nod_findings *f,
					  const struct nod_touch_finding *t)
{
	const struct nod_ident_finding *ident = &f->idents[t->ident];
	const char *network = f->networks[ident->network].name;

	for (size_t i = 0; i < learn->input_count; i++) {
		struct nod_learned_input *k = &learn->inputs[i];
		if (k->id == ident->id && k->bit == t->bit && !strcasecmp(k->input, t->subject) &&
		    !strcmp(k->network, network))
			return k;
	}
	if (nod_learn_grow((void **)&learn->inputs, learn->input_count, &learn->input_room,
			   sizeof(*learn->inputs)))
		return NULL;
	struct nod_learned_input *input = &learn->inputs[learn->input_count++];
	const struct nod_signal *signal = nod_signals_of_bit(f, ident, t->bit, ident->word);
	*input = (struct nod_learned_input){
		.signal = signal ? nod_arena_printf(&learn->arena, "%s", signal->name) : NULL,
		.is_switch = signal && nod_signal_is_switch(signal),
		.input = nod_arena_printf(&learn->arena, "%s", t->subject),
		.network = nod_arena_printf(&learn->arena, "%s", network),
		.id = ident->id,
		.bit = t->bit};
	return learn->arena.failed ? NULL : input;
}

int nod_learn_inputs_add(struct nod_learn *learn, const struct nod_findings *f)
{
	for (size_t i = 0; i < f->touch_count; i++) {
		struct nod_learned_input *input = input_of(learn, f, &f->touches[i]);
		if (!input)
			return -ENOMEM;
		input->moved++;
		if (f->touches[i].toggles > input->toggles)
			input->toggles = f->touches[i].toggles;
	}
	return 0;
}

static int compare(const void *a, const void *b)
{
	const struct nod_learned_input *x = a, *y = b;
	int order = strcasecmp(x->input, y->input);

	if (!order)
		order = (x->moved < y->moved) - (x->moved > y->moved);
	if (!order)
		order = y->is_switch - x->is_switch; /* the map knows better than the count */
	if (!order)
		order = (x->toggles > y->toggles) - (x->toggles < y->toggles);
	if (!order)
		order = strcmp(x->network, y->network);
	if (!order)
		order = (x->id > y->id) - (x->id < y->id);
	return order ? order : (x->bit > y->bit) - (x->bit < y->bit);
}

int nod_learn_inputs_conclude(struct nod_learn *learn)
{
	struct nod_lesson *l = &learn->lesson;
	unsigned shown = 0;

	l->inputs = nod_arena_alloc(&learn->conclusions,
				    (learn->input_count + 1) * sizeof(*l->inputs));
	if (!l->inputs)
		return -ENOMEM;
	if (learn->input_count)
		qsort(learn->inputs, learn->input_count, sizeof(*learn->inputs), compare);
	for (size_t i = 0; i < learn->input_count; i++) {
		bool same = i && !strcasecmp(learn->inputs[i].input, learn->inputs[i - 1].input);
		shown = same ? shown + 1 : 0;
		if (shown < SHOWN)
			l->inputs[l->input_count++] = learn->inputs[i];
	}
	return 0;
}
