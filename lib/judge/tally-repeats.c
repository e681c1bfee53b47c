/* SPDX-License-Identifier: MIT */
/* Where bits of several senders move together, the one that moves first has the input; the others
 * repeat what it said: a lamp in the instrument cluster, a state that a gateway translates. */
#include "weighing.h"

/* A sender repeats within this long, at its next turn at the latest. Chosen. */
#define REPEATS_MS 300
#define REPEATS_PERIODS 1.2

/* Who repeats moves as often, but for moves that fall between two of its frames. Chosen. */
#define MOVES_APART 2
#define MOVES_APART_SHARE 0.2

/* What moves oftener than that on average is noise, which always has just moved. Chosen. */
#define SELDOM_S 2

/* Where the data of more messages move, some follow each other by chance (bit-times.h says how
 * seldom each pair does), and nothing is told. Chosen: far above a parked car; with so many it takes
 * a tenth of a second. */
#define MOVING_MOST 1024

static bool is_seldom(const struct nod_bit_times *times, unsigned bit)
{
	return nod_bit_times_mean(times, bit) >= SELDOM_S;
}

static bool about_as_often(unsigned a, unsigned b)
{
	unsigned apart = a > b ? a - b : b - a;

	return apart <= MOVES_APART + MOVES_APART_SHARE * a;
}

static const struct nod_bit_times *times_of(const struct nod_ident *ident)
{
	return ident->after ? ident->after->times : NULL;
}

static int64_t turn_ms(const struct nod_ident *ident)
{
	nod_duration period = nod_sampler_fastest(&ident->after->intervals);

	return REPEATS_MS +
	       (period.ns > 0 ? (int64_t)(REPEATS_PERIODS * (double)period.ns) / NOD_NS_PER_MS : 0);
}

/* The bit of `first` that this one repeats, -1: none. */
static int repeated_bit(const struct nod_ident *first, const struct nod_ident *second, unsigned bit)
{
	const struct nod_bit_times *a = times_of(first), *b = times_of(second);
	int64_t within = turn_ms(second), back = turn_ms(first);

	for (unsigned i = 0; is_seldom(b, bit) && i < 64; i++)
		if (is_seldom(a, i) && about_as_often(a->moves[i], b->moves[bit]) &&
		    nod_bit_times_follow(a, i, b, bit, within) &&
		    !nod_bit_times_follow(b, bit, a, i, back))
			return (int)i;
	return -1;
}

/* The message of a sender's data, NULL: none that is kept track of. */
static const struct nod_ident *message_of(const struct nod_weighing *w,
					  const struct nod_track *track, const struct nod_tally *t)
{
	for (uint32_t k = 0; k < track->idents.count; k++)
		if (w->a->ident_of[track->network][k] == t->changing_ident)
			return times_of(&track->idents.items[k]) ? &track->idents.items[k] : NULL;
	return NULL;
}

/* Who has the input is the better known for it. */
static void note_input(struct nod_weighing *w, int index, unsigned bit, unsigned changes)
{
	struct nod_tally *t = w->tallies[w->a->f->idents[index].sender];
	enum nod_data_kind kind = t->changing_ident == index && t->data.bit == bit ? t->data.kind
										   : NOD_DATA_STILL;

	t->data = (struct nod_data){kind > NOD_DATA_SWITCH ? kind : NOD_DATA_SWITCH, bit, changes};
	t->changing_ident = index;
	t->repeats = NOD_NONE;
}

/* on: a network, NULL: it was not heard. */
static void find_first(struct nod_weighing *w, struct nod_track *on, const struct nod_ident *second,
		       struct nod_tally *t)
{
	for (uint32_t k = 0; on && k < on->idents.count && t->repeats == NOD_NONE; k++) {
		const struct nod_ident *first = &on->idents.items[k];
		int index = w->a->ident_of[on->network][k];
		if (!times_of(first) || first->id == second->id ||
		    w->tallies[w->a->f->idents[index].sender] == t)
			continue;
		int bit = repeated_bit(first, second, t->data.bit);
		if (bit < 0)
			continue;
		t->repeats = index;
		if (w->a->f->idents[index].network == w->n->network)
			note_input(w, index, (unsigned)bit, times_of(first)->moves[bit]);
	}
}

static bool may_be_told(const struct nod_weighing *w)
{
	unsigned moving = 0;

	for (size_t n = 0; n < w->a->f->network_count; n++) {
		const struct nod_track *on = nod_engine_track(w->a->engine,
							      (size_t)w->a->f->networks[n].network);
		for (uint32_t k = 0; on && k < on->idents.count; k++)
			moving += times_of(&on->idents.items[k]) != NULL;
	}
	return moving <= MOVING_MOST;
}

void nod_weighing_find_repeats(struct nod_weighing *w)
{
	struct nod_track *here = nod_engine_track(w->a->engine, (size_t)w->n->network);

	if (!may_be_told(w))
		return;
	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		struct nod_tally *t = w->tallies[i];
		if (t->changing_ident == NOD_NONE || t->data.kind < NOD_DATA_LOWEST)
			continue;
		const struct nod_ident *second = message_of(w, here, t);
		for (size_t n = 0; second && n < w->a->f->network_count; n++)
			find_first(w,
				   nod_engine_track(w->a->engine,
						    (size_t)w->a->f->networks[n].network),
				   second, t);
	}
}
