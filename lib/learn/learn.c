/* SPDX-License-Identifier: MIT */
#include "learn-internal.h"

#include <errno.h>
#include <math.h>
#include <search.h>
#include <stdlib.h>
#include <string.h>

struct nod_learn *nod_learn_new(void)
{
	return calloc(1, sizeof(struct nod_learn));
}

static void keep(void *node)
{
	(void)node; /* owned by the arena */
}

void nod_learn_free(struct nod_learn *learn)
{
	if (!learn)
		return;
	tdestroy(learn->tree, keep);
	free(learn->ids);
	free(learn->subjects);
	free(learn->inputs);
	nod_arena_free(&learn->conclusions);
	nod_arena_free(&learn->arena);
	free(learn);
}

int nod_learn_grow(void **items, size_t count, size_t *room, size_t size)
{
	if (count < *room)
		return 0;
	size_t more = *room ? *room * 2 : 32;
	void *grown = realloc(*items, more * size);
	if (!grown)
		return -ENOMEM;
	*items = grown;
	*room = more;
	return 0;
}

/* ---- IDs ---- */

static int compare_ids(const void *a, const void *b)
{
	const struct nod_learn_id *x = a, *y = b;

	if (x->id != y->id)
		return x->id < y->id ? -1 : 1;
	return strcmp(x->network, y->network);
}

struct nod_learn_id *nod_learn_id(struct nod_learn *learn, const char *network, uint32_t id)
{
	struct nod_learn_id key = {.network = network, .id = id};
	struct nod_learn_id **known = tfind(&key, &learn->tree, compare_ids);

	if (known)
		return *known;
	struct nod_learn_id *made = nod_arena_alloc(&learn->arena, sizeof(*made));
	if (!made || nod_learn_grow((void **)&learn->ids, learn->id_count, &learn->id_room,
				    sizeof(struct nod_learn_id *)))
		return NULL;
	made->network = nod_arena_printf(&learn->arena, "%s", network);
	made->id = id;
	made->source_address = -1;
	if (learn->arena.failed || !tsearch(made, &learn->tree, compare_ids))
		return NULL;
	learn->ids[learn->id_count++] = made;
	return made;
}

int nod_learn_add(struct nod_learn *learn, const struct nod_findings *f,
		  const struct nod_heard *heard, const struct nod_interfaces *names)
{
	learn->sessions++;
	if (nod_learn_isolations_add(learn, f, heard, names))
		return -ENOMEM;
	return nod_learn_inputs_add(learn, f);
}

/* ---- what follows ---- */

static int network_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		if (!strcmp(vehicle->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}

int nod_learn_owner(const struct nod_vehicle *vehicle, const char *network, uint32_t id)
{
	int n = vehicle ? network_by_name(vehicle, network) : NOD_NONE;

	return n == NOD_NONE ? NOD_NONE : nod_vehicle_module_of_id(vehicle, n, id);
}

/* How much better "it hangs on it" explains what was seen. */
static double weight(const struct nod_learn_link *link)
{
	double follows = link->follower ? exp(link->follows) : 0;

	return exp(link->belongs) / (exp(link->accident) + follows);
}

/* The probability that it hangs on this subject: the prior and the weights,
 * against "on none" and against the other subjects of the same kind. What did
 * not come back most times, or was silent only when others stopped, too, is
 * never sure. */
static double confidence(const struct nod_learn *learn, const struct nod_learn_id *id,
			 const struct nod_learn_link *link)
{
	double mine = NOD_LEARN_PRIOR_ODDS * weight(link), all = 1;
	bool fuse = learn->subjects[link->subject].kind == NOD_LEARNED_FUSE;

	for (const struct nod_learn_link *l = id->links; l; l = l->next)
		if ((learn->subjects[l->subject].kind == NOD_LEARNED_FUSE) == fuse)
			all += NOD_LEARN_PRIOR_ODDS * weight(l);
	bool both_ways = link->clear && link->came_back * 2 > link->silent;
	return both_ways ? mine / all : fmin(mine / all, NOD_LEARN_ONE_WAY);
}

static bool hangs_on(const struct nod_vehicle *vehicle, int module, const char *subject)
{
	const struct nod_module *m = &vehicle->modules[module];
	int fuse, other;

	if (!nod_vehicle_resolve(vehicle, subject, &fuse, &other))
		return false;
	if (other == module)
		return true;
	for (size_t i = 0; fuse != NOD_NONE && i < m->fuse_count; i++)
		if (m->fuses[i] == fuse)
			return true;
	return false;
}

static const char *why(struct nod_learn *learn, const struct nod_learn_link *link)
{
	struct nod_arena *arena = &learn->conclusions;
	unsigned all = link->silent + link->went_on;
	char text[NOD_TIME_TEXT];
	const char *back = "";

	if (link->came_back == link->silent && link->silent > 1)
		back = nod_arena_printf(arena, ", back with every refit");
	else if (link->silent > 1)
		back = nod_arena_printf(arena, ", back with the refit %u times", link->came_back);
	else if (link->back)
		back = nod_arena_printf(arena, ", back %s s after the refit was marked",
					nod_duration_print_seconds(text, link->after_refit, 1));
	else
		back = ", not seen to come back";
	return nod_arena_printf(arena, "silent in %u of %u isolation%s, %.0f periods missed%s",
				link->silent, all, all == 1 ? "" : "s", floor(link->missed), back);
}

static const char *conflict(struct nod_learn *learn, const struct nod_learned_id *l,
			    const struct nod_learned_subject *s)
{
	char id[NOD_ID_TEXT];
	const char *which = s->kind == NOD_LEARNED_FUSE ? ", which does not feed it"
							: ", which it is not";

	if (!l->owner || l->fits)
		return NULL;
	return nod_arena_printf(&learn->conclusions,
				"%s is %s's in the map, but vanished with %s%s in the map",
				nod_id_print(id, l->id), l->owner, s->name, which);
}

static void conclude_id(struct nod_learn *learn, const struct nod_vehicle *vehicle,
			struct nod_learned_subject *s, const struct nod_learn_id *id,
			const struct nod_learn_link *link)
{
	double sure = confidence(learn, id, link);
	int owner = nod_learn_owner(vehicle, id->network, id->id);

	if (sure < NOD_LEARN_MENTIONED || !link->silent)
		return;
	struct nod_learned_id *l = &s->ids[s->id_count++];
	*l = (struct nod_learned_id){.network = id->network,
				     .id = id->id,
				     .source_address = id->source_address,
				     .confidence = sure,
				     .silent = link->silent,
				     .went_on = link->went_on,
				     .came_back = link->came_back,
				     .missed = link->missed};
	l->why = why(learn, link);
	l->owner = owner == NOD_NONE ? NULL : vehicle->modules[owner].name;
	l->fits = owner != NOD_NONE && hangs_on(vehicle, owner, s->name);
	l->conflict = conflict(learn, l, s);
}

static int compare_learned(const void *a, const void *b)
{
	const struct nod_learned_id *x = a, *y = b;
	bool sure_x = x->confidence >= NOD_LEARN_SURE, sure_y = y->confidence >= NOD_LEARN_SURE;

	if (sure_x != sure_y)
		return sure_x ? -1 : 1;
	int order = strcmp(x->network, y->network);
	return order ? order : (x->id > y->id) - (x->id < y->id);
}

static size_t links_of(const struct nod_learn *learn, int subject)
{
	size_t count = 0;

	for (size_t i = 0; i < learn->id_count; i++)
		for (struct nod_learn_link *l = learn->ids[i]->links; l; l = l->next)
			count += l->subject == subject;
	return count;
}

static int conclude_subject(struct nod_learn *learn, const struct nod_vehicle *vehicle, int subject)
{
	struct nod_learned_subject *s = &learn->lesson.subjects[learn->lesson.subject_count];
	const struct nod_learn_subject *from = &learn->subjects[subject];

	*s = (struct nod_learned_subject){.name = from->name,
					  .kind = from->kind,
					  .isolations = from->isolations,
					  .judged = from->judged};
	s->ids = nod_arena_alloc(&learn->conclusions,
				 (links_of(learn, subject) + 1) * sizeof(*s->ids));
	if (!s->ids)
		return -ENOMEM;
	for (size_t i = 0; i < learn->id_count; i++)
		for (struct nod_learn_link *l = learn->ids[i]->links; l; l = l->next)
			if (l->subject == subject)
				conclude_id(learn, vehicle, s, learn->ids[i], l);
	qsort(s->ids, s->id_count, sizeof(*s->ids), compare_learned);
	learn->lesson.subject_count++;
	return 0;
}

const struct nod_lesson *nod_learn_conclude(struct nod_learn *learn,
					    const struct nod_vehicle *vehicle)
{
	struct nod_lesson *l = &learn->lesson;

	nod_arena_free(&learn->conclusions);
	learn->conclusions = (struct nod_arena){0};
	*l = (struct nod_lesson){.sessions = learn->sessions, .vehicle = vehicle};
	l->subjects = nod_arena_alloc(&learn->conclusions,
				      (learn->subject_count + 1) * sizeof(*l->subjects));
	if (!l->subjects)
		return NULL;
	for (size_t i = 0; i < learn->subject_count; i++)
		if (conclude_subject(learn, vehicle, (int)i))
			return NULL;
	if (nod_learn_groups_conclude(learn, vehicle) || nod_learn_inputs_conclude(learn))
		return NULL;
	return learn->conclusions.failed ? NULL : l;
}
