/* SPDX-License-Identifier: MIT */
#include "recall-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "engine.h"
#include "likeness.h"

static bool is_at_the_same_time(const struct nod_car *a, const struct nod_car *b)
{
	return a->start.ns <= b->end.ns && b->start.ns <= a->end.ns;
}

static enum nod_kin kin_of(const struct nod_car *self, const struct nod_car *other)
{
	if (!strcmp(self->path, other->path))
		return NOD_KIN_NONE;
	if (nod_car_is_same(self, other))
		return is_at_the_same_time(self, other) ? NOD_KIN_NONE : NOD_KIN_SAME;
	double like = nod_car_likeness(self, other);
	bool title = *self->map && !strcmp(self->map, other->map);
	if (like < NOD_LIKE_MIN && !(title && (like < 0 || like >= NOD_LIKE_TITLE_MIN)))
		return NOD_KIN_NONE;
	bool other_car = *self->vin && *other->vin;
	return !other_car && is_at_the_same_time(self, other) ? NOD_KIN_NONE : NOD_KIN_LIKE;
}

/* True for a recording of this car that was over before the one here began. */
static bool is_before(const struct nod_recalling *r, size_t i)
{
	const struct nod_car *c = &r->cars[i];

	return r->kin[i] == NOD_KIN_SAME && c->start.ns >= NOD_DATED_FROM_NS &&
	       c->end.ns < r->self->start.ns;
}

static void find_good(struct nod_recalling *r)
{
	const struct nod_car *best = NULL;

	for (size_t i = 0; i < r->count; i++)
		if (is_before(r, i) && r->cars[i].good &&
		    (!best || r->cars[i].end.ns > best->end.ns))
			best = &r->cars[i];
	r->last_good = best ? best->end : NOD_TIME_NONE;
	if (best && !r->wish->no_good)
		r->known->good = best->path;
}

bool nod_recall_is_this_trouble(const struct nod_recalling *r, size_t i)
{
	return is_before(r, i) && r->cars[i].start.ns > r->last_good.ns;
}

static int latest_first(const void *x, const void *y)
{
	const struct nod_car *a = *(const struct nod_car *const *)x;
	const struct nod_car *b = *(const struct nod_car *const *)y;

	if (a->start.ns != b->start.ns)
		return a->start.ns > b->start.ns ? -1 : 1;
	return strcmp(a->path, b->path);
}

static int find_earlier(struct nod_recalling *r)
{
	const struct nod_car **list = nod_arena_alloc(r->arena, (r->count + 1) * sizeof(*list));
	const char **paths = nod_arena_alloc(r->arena, NOD_EARLIER_MAX * sizeof(*paths));
	size_t count = 0;

	if (!list || !paths)
		return -ENOMEM;
	for (size_t i = 0; i < r->count; i++)
		if (r->cars[i].tried && nod_recall_is_this_trouble(r, i))
			list[count++] = &r->cars[i];
	qsort(list, count, sizeof(*list), latest_first);
	for (size_t i = 0; i < count && i < NOD_EARLIER_MAX; i++)
		paths[r->known->earlier_count++] = list[i]->path;
	r->known->earlier = paths;
	return 0;
}

int nod_recall(struct nod_known *known, struct nod_arena *arena, const struct nod_car *self,
	       const struct nod_findings *f, const struct nod_car *cars, size_t count,
	       const struct nod_recall_wish *wish)
{
	struct nod_recalling r = {known, arena, self, f, cars, NULL, count, NOD_TIME_NONE, wish};

	*known = (struct nod_known){.recordings = (unsigned)count, .unread = wish->unread};
	r.kin = nod_arena_alloc(arena, (count + 1) * sizeof(*r.kin));
	if (!r.kin)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		r.kin[i] = kin_of(self, &cars[i]);
		known->like += r.kin[i] == NOD_KIN_LIKE;
	}
	find_good(&r);
	int status = wish->no_earlier ? 0 : find_earlier(&r);
	if (!status)
		status = nod_recall_solved(&r);
	return status ? status : nod_recall_words(&r);
}
