/* SPDX-License-Identifier: MIT */
/* The words about an OSEK ring: who is ready to sleep and who is not, in one line. */
#include "statement.h"
#include "weighing.h"

/* What one node said since the lock. */
static bool has_requested(const struct nod_node *node)
{
	return node->requests[NOD_PHASE_SETTLING] + node->requests[NOD_PHASE_LATE] > 0;
}

static bool has_indicated(const struct nod_node *node)
{
	return node->ready[NOD_PHASE_SETTLING] + node->ready[NOD_PHASE_LATE] > 0;
}

/* Whether the answer names this sender. Before it names anybody, nobody is left out. */
static bool is_named(const struct nod_findings *f, int sender)
{
	if (f->culprit == NOD_NONE)
		return true;
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER && f->suspects[i].sender == sender)
			return f->suspects[i].probability >= 0.5 || (int)i == f->culprit;
	return false;
}

static const char *node_name(struct nod_analysis *a, const struct nod_ident_finding *ident)
{
	const struct nod_sender_finding *sender = &a->f->senders[ident->sender];
	char id[NOD_ID_TEXT];

	nod_id_print(id, ident->id);
	return sender->kind == NOD_SENDER_MODULE
		       ? nod_arena_printf(a->arena, "%s (%s)", sender->name, id)
		       : nod_arena_printf(a->arena, "%s", id);
}

static const char *append(struct nod_analysis *a, const char *list, const char *name)
{
	return nod_arena_printf(a->arena, "%s%s%s", list, *list ? ", " : "", name);
}

/* What follows from never having indicated. A car in use has no reason to sleep; and
 * where something else weighs more, that is said. */
static const char *consequence(struct nod_analysis *a, bool all_named)
{
	if (a->engine->in_use)
		return "";
	if (all_named)
		return ", which holds it awake";
	return nod_arena_printf(a->arena, ", but what is said above of %s weighs more",
				a->f->suspects[a->f->culprit].name);
}

const char *nod_ring_words(struct nod_analysis *a, const struct nod_network_finding *n)
{
	const struct nod_track *track = nod_engine_track(a->engine, (size_t)n->network);
	const char *never = "", *ready = "";
	bool all_named = true;

	if (!track || track->nm.scheme != NOD_NM_OSEK || a->f->in_use)
		return NULL;
	for (size_t i = 0; i < a->f->ident_count; i++) {
		const struct nod_ident_finding *finding = &a->f->idents[i];
		if (finding->network != n->network)
			continue;
		const struct nod_node *node = nod_idents_find(&track->idents, finding->id)->node;
		if (!node)
			continue;
		if (has_indicated(node)) {
			ready = append(a, ready, node_name(a, finding));
		} else if (has_requested(node)) {
			never = append(a, never, node_name(a, finding));
			all_named &= is_named(a->f, finding->sender);
		}
	}
	if (!*never)
		return NULL;
	return nod_arena_printf(a->arena,
				"OSEK ring on %s: %s never gave the sleep indication%s%s%s%s.",
				n->name, never, consequence(a, all_named), *ready ? "; " : "",
				ready, *ready ? " did (ready to sleep)" : "");
}
