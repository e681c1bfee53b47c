/* SPDX-License-Identifier: MIT */
/* Like cars that were solved, counted by car, and who it was in them. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "recall-internal.h"

/* Without a VIN, what was found in like cars within so long of each other may be one car that was
 * watched several times: it counts once. Chosen: longer than a search for a drain takes. */
#define ONE_CAR_NS (INT64_C(30) * 86400 * NOD_NS_PER_S)

/* One that was solved, and which of the senders here it was. */
struct solved {
	const struct nod_car *car;
	int sender; /* index into the findings' senders, NOD_NONE: none of them */
};

/* The same car slept well after it, and a repair is noted in one of these, of nothing else than
 * what was found. */
static bool was_mended(const struct nod_recalling *r, const struct nod_car *c)
{
	bool mended = c->mended, slept = false, other = false;

	for (size_t i = 0; i < r->count; i++) {
		const struct nod_car *later = &r->cars[i];
		if (!nod_car_is_same(c, later) || later->start.ns < c->start.ns)
			continue;
		slept |= later->good && later->start.ns > c->end.ns;
		mended |= later->mended;
		other |= later->mended && *later->part && strcasecmp(later->part, c->found) != 0;
	}
	return mended && slept && !other;
}

static bool is_solved(const struct nod_recalling *r, size_t i)
{
	const struct nod_car *c = &r->cars[i];

	if (r->kin[i] == NOD_KIN_NONE || !*c->found || nod_recall_is_this_trouble(r, i))
		return false;
	return c->proved || was_mended(r, c);
}

/* The sender here that sends most of what the one found there sends; else of the same name. */
static int sender_here(const struct nod_recalling *r, const struct nod_car *c, unsigned *votes)
{
	const struct nod_findings *f = r->f;
	int best = NOD_NONE;

	memset(votes, 0, f->sender_count * sizeof(*votes));
	for (size_t k = 0; k < c->message_count; k++)
		for (size_t i = 0; c->messages[k].found && i < f->ident_count; i++)
			votes[f->idents[i].sender] += f->idents[i].id == c->messages[k].id;
	for (size_t s = 0; s < f->sender_count; s++)
		if (votes[s] && (best == NOD_NONE || votes[s] > votes[best]))
			best = (int)s;
	for (size_t s = 0; best == NOD_NONE && s < f->sender_count; s++)
		if (!strcasecmp(f->senders[s].name, c->found))
			best = (int)s;
	return best;
}

static bool is_counted(const struct solved *list, size_t count, const struct solved *one)
{
	for (size_t i = 0; i < count; i++) {
		const struct nod_car *a = list[i].car, *b = one->car;
		bool vins = *a->vin && *b->vin;
		int64_t apart = llabs(nod_time_since(a->start, b->start).ns);
		if (list[i].sender == one->sender &&
		    (vins ? nod_car_is_same(a, b) : apart < ONE_CAR_NS))
			return true;
	}
	return false;
}

static int most_cars_first(const void *x, const void *y)
{
	const struct nod_known_sender *a = x, *b = y;

	if (a->cars != b->cars)
		return a->cars > b->cars ? -1 : 1;
	return strcmp(a->name, b->name);
}

static int count_senders(struct nod_recalling *r, const struct solved *list, size_t count)
{
	const struct nod_findings *f = r->f;
	struct nod_known_sender *senders = nod_arena_alloc(r->arena, (f->sender_count + 1) *
									     sizeof(*senders));
	size_t kept = 0;

	if (!senders)
		return -ENOMEM;
	for (size_t s = 0; s < f->sender_count; s++) {
		unsigned cars = 0;
		for (size_t i = 0; i < count; i++)
			cars += list[i].sender == (int)s;
		if (cars)
			senders[kept++] = (struct nod_known_sender){
				nod_arena_printf(r->arena, "%s", f->senders[s].name), cars};
	}
	qsort(senders, kept, sizeof(*senders), most_cars_first);
	r->known->senders = senders;
	r->known->sender_count = kept;
	return 0;
}

int nod_recall_solved(struct nod_recalling *r)
{
	struct solved *list = nod_arena_alloc(r->arena, (r->count + 1) * sizeof(*list));
	unsigned *votes = nod_arena_alloc(r->arena, (r->f->sender_count + 1) * sizeof(*votes));
	size_t count = 0;

	if (!list || !votes)
		return -ENOMEM;
	for (size_t i = 0; i < r->count; i++) {
		if (!is_solved(r, i))
			continue;
		list[count] = (struct solved){&r->cars[i], sender_here(r, &r->cars[i], votes)};
		count += !is_counted(list, count, &list[count]);
	}
	r->known->solved = (unsigned)count;
	return count_senders(r, list, count);
}
