/* SPDX-License-Identifier: MIT */
/* The words of the answer: the sentence, the facts that carry it, what limits
 * it, and what to do next. */
#include "statement.h"

#include <errno.h>
#include <string.h>

void nod_statement_add(const char **lines, size_t *count, const char *text)
{
	for (size_t i = 0; i < *count; i++)
		if (strstr(lines[i], text))
			return;
	if (*count < NOD_STATEMENT_LINES)
		lines[(*count)++] = text;
}

static void state_cautions(struct nod_analysis *a)
{
	bool trouble = a->f->verdict == NOD_VERDICT_KEPT_AWAKE ||
		       a->f->verdict == NOD_VERDICT_WOKEN || a->f->verdict == NOD_VERDICT_DRAWS;
	if (!trouble)
		return;
	nod_statement_add(
		a->f->cautions, &a->f->caution_count,
		"Do not pull or probe airbag or high-voltage circuits. The vehicle maker's procedure "
		"comes first.");
	nod_statement_add(
		a->f->cautions, &a->f->caution_count,
		"Pulling or refitting a fuse wakes the car: the way to sleep starts anew.");
}

int nod_analysis_state(struct nod_analysis *a)
{
	a->f->facts = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*a->f->facts));
	a->f->doubts = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*a->f->doubts));
	a->f->cautions = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*a->f->cautions));
	if (!a->f->facts || !a->f->doubts || !a->f->cautions)
		return -ENOMEM;
	a->f->sentence = nod_statement_sentence(a);
	nod_statement_facts(a);
	nod_statement_doubts(a);
	state_cautions(a);
	a->f->next = nod_analysis_next_step(a);
	return 0;
}
