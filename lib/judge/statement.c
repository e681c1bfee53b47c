/* SPDX-License-Identifier: MIT */
/* The answer: the sentence, the facts that carry it, what limits it, and what to do next. */
#include "statement.h"

#include <errno.h>

static void add_caution(struct nod_analysis *a, const char *text)
{
	a->f->cautions[a->f->caution_count++] = text;
}

static void state_cautions(struct nod_analysis *a)
{
	bool trouble = a->f->verdict == NOD_VERDICT_KEPT_AWAKE ||
		       a->f->verdict == NOD_VERDICT_WOKEN || a->f->verdict == NOD_VERDICT_DRAWS;
	if (!trouble)
		return;
	add_caution(a, "Do not pull or probe airbag or high-voltage circuits. The vehicle maker's "
		       "procedure comes first.");
	add_caution(a, "Pulling or refitting a fuse wakes the car: the way to sleep starts anew.");
}

static int make_room(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;

	f->facts = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*f->facts));
	f->facts_about = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*f->facts_about));
	f->doubts = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*f->doubts));
	f->doubts_about = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*f->doubts_about));
	f->cautions = nod_arena_alloc(a->arena, NOD_STATEMENT_LINES * sizeof(*f->cautions));
	return f->facts && f->facts_about && f->doubts && f->doubts_about && f->cautions ? 0
											 : -ENOMEM;
}

int nod_analysis_state(struct nod_analysis *a)
{
	if (make_room(a))
		return -ENOMEM;
	a->told = NOD_NONE;
	a->f->sentence = nod_statement_sentence(a);
	nod_statement_facts(a);
	nod_statement_doubts(a);
	state_cautions(a);
	a->f->next = nod_analysis_next_step(a);
	return 0;
}
