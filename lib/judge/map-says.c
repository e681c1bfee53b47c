/* SPDX-License-Identifier: MIT */
/* Where map, recording and journal disagree about what there is. */
#include <stdio.h>
#include <string.h>

#include "journal.h"
#include "nearest-word.h"
#include "statement.h"

#define LIST_MAX 160 /* bytes of names in a sentence. Chosen: two lines */

/* Adds a name to a list, "can0, can2". */
static void list_name(char list[LIST_MAX], const char *name)
{
	size_t used = strlen(list);

	snprintf(list + used, LIST_MAX - used, "%s%.32s", used ? ", " : "", name);
}

/* Networks of the map that were not heard, and heard ones that the map does not have (these
 * were made for their interface and stand in no line). */
const char *nod_map_networks_words(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	char missing[LIST_MAX] = "", foreign[LIST_MAX] = "";

	for (size_t i = 0; f->vehicle_given && i < f->network_count; i++) {
		const struct nod_network *n = &f->vehicle->networks[i];
		if (!n->line && f->networks[i].span_count)
			list_name(foreign, n->name);
		for (size_t k = 0; n->line && !f->networks[i].span_count && k < n->interface_count;
		     k++)
			list_name(missing, n->interfaces[k]);
	}
	if (!*foreign)
		return NULL;
	if (!*missing)
		return nod_arena_printf(a->arena, "The map has no network on %s, which was heard.",
					foreign);
	return nod_arena_printf(a->arena,
				"The map expects networks on %s, but %s was heard: are its "
				"`interfaces` right?",
				missing, foreign);
}

/* The first mark about a fuse or module that the map does not have; NULL: none. */
static const char *unknown_subject(const struct nod_findings *f)
{
	int fuse, module;

	for (size_t i = 0; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		bool names = m->kind == NOD_MARK_ISOLATED || m->kind == NOD_MARK_REFITTED;
		if (names && !nod_vehicle_resolve(f->vehicle, m->subject, &fuse, &module))
			return m->subject;
	}
	return NULL;
}

const char *nod_map_marks_words(struct nod_analysis *a)
{
	const struct nod_vehicle *v = a->f->vehicle;
	const char *subject = a->f->vehicle_given ? unknown_subject(a->f) : NULL;
	struct nod_nearest nearest = {subject, NULL, 0};

	if (!subject)
		return NULL;
	for (size_t i = 0; i < v->fuse_count; i++)
		nod_nearest_offer(&nearest, v->fuses[i].name);
	for (size_t i = 0; i < v->module_count; i++)
		nod_nearest_offer(&nearest, v->modules[i].name);
	return nod_arena_printf(a->arena,
				"The journal speaks of %.60s, but the map has no fuse and no "
				"module of that name%s%.60s%s",
				subject, nearest.best ? "; is " : ".",
				nearest.best ? nearest.best : "", nearest.best ? " meant?" : "");
}
