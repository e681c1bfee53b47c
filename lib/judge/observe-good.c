/* SPDX-License-Identifier: MIT */
/* Evidence from a good recording of the same or a like car: what is different
 * here. A stuck input shows as a bit that stands otherwise and stays so. */
#include "signals.h"
#include "weighing.h"

#include <errno.h>
#include <string.h>

/* Fewer frames say nothing about a period or a steady bit. */
#define FRAMES_MIN 8

static const struct nod_ident_finding *same_message(const struct nod_findings *good,
						    const char *network, uint32_t id)
{
	for (size_t i = 0; i < good->ident_count; i++)
		if (good->idents[i].id == id &&
		    !strcmp(good->networks[good->idents[i].network].name, network))
			return &good->idents[i];
	return NULL;
}

static nod_duration period_of(const struct nod_ident_finding *i)
{
	return i->after.rhythm == NOD_RHYTHM_CYCLIC ? i->after.period : i->before.period;
}

static bool is_cyclic(const struct nod_ident_finding *i)
{
	return i->after.rhythm == NOD_RHYTHM_CYCLIC || i->before.rhythm == NOD_RHYTHM_CYCLIC;
}

static void compare_periods(struct nod_difference_finding *d, const struct nod_ident_finding *here,
			    const struct nod_ident_finding *good)
{
	if (!is_cyclic(here) || !is_cyclic(good))
		return;
	d->period_here = period_of(here);
	d->period_good = period_of(good);
	double ratio = (double)d->period_here.ns /
		       (double)(d->period_good.ns ? d->period_good.ns : 1);
	d->period = ratio <= 1 / NOD_PERIOD_RATIO; /* slower is no reason to stay awake */
}

/* Bits that carry meaning and stay, in both recordings. */
static uint64_t steady(const struct nod_ident_finding *i)
{
	uint64_t bytes = i->length >= 8 ? ~UINT64_C(0) : (UINT64_C(1) << (8 * i->length)) - 1;

	return bytes & ~i->live_mask;
}

static bool compare(const struct nod_findings *good, const struct nod_findings *f, size_t ident,
		    struct nod_difference_finding *d)
{
	const struct nod_ident_finding *here = &f->idents[ident];
	const struct nod_ident_finding *there = same_message(good, f->networks[here->network].name,
							     here->id);

	*d = (struct nod_difference_finding){.ident = (int)ident};
	if (here->frames < FRAMES_MIN)
		return false;
	if (!there) {
		d->appeared = true;
		return true;
	}
	if (there->frames >= FRAMES_MIN) {
		d->bits = (here->word ^ there->word) & steady(here) & steady(there);
		compare_periods(d, here, there);
	}
	return d->bits || d->period;
}

int nod_analysis_compare_with_good(struct nod_analysis *a)
{
	const struct nod_findings *good = a->engine->good;

	a->f->differences = nod_arena_alloc(a->arena,
					    (a->f->ident_count + 1) * sizeof(*a->f->differences));
	if (!a->f->differences)
		return -ENOMEM;
	for (size_t i = 0; good && i < a->f->ident_count; i++)
		if (compare(good, a->f, i, &a->f->differences[a->f->difference_count]))
			a->f->difference_count++;
	return 0;
}

const char *nod_difference_text(struct nod_analysis *a, const struct nod_difference_finding *d)
{
	const struct nod_ident_finding *i = &a->f->idents[d->ident];
	char id[NOD_ID_TEXT], name[NOD_SIGNAL_TEXT], here[NOD_SIGNAL_TEXT], good[NOD_SIGNAL_TEXT];

	nod_id_print(id, i->id);
	if (d->appeared)
		return nod_arena_printf(a->arena, "%s does not exist in the good recording.", id);
	if (d->bits) {
		unsigned bit = (unsigned)__builtin_ctzll(d->bits);
		unsigned more = (unsigned)__builtin_popcountll(d->bits &
							       ~nod_signals_same(a->f, i, d->bits));
		return nod_arena_printf(
			a->arena, "%s stays %s here and %s in the good recording%s.",
			nod_signals_print_bit(name, a->f, i, bit),
			nod_signals_print_value(here, a->f, i, bit, i->word),
			nod_signals_print_value(good, a->f, i, bit, i->word ^ d->bits),
			more ? nod_arena_printf(a->arena, " (and %u bits more)", more) : "");
	}
	return nod_arena_printf(a->arena, "%s comes every %s here, every %s in the good recording.",
				id, nod_analysis_length(a, d->period_here),
				nod_analysis_length(a, d->period_good));
}

/* Whether a sender's messages on the network slowed down against the good
 * recording: -1 it kept its pace, 1 it slowed down, 0 cannot be said. */
static int pace_of(const struct nod_weighing *w, int sender)
{
	const struct nod_findings *f = w->a->f, *good = w->a->engine->good;
	int kept = 0, slowed = 0;

	for (size_t i = 0; i < f->ident_count; i++) {
		const struct nod_ident_finding *here = &f->idents[i];
		if (here->sender != sender || here->network != w->n->network || !is_cyclic(here))
			continue;
		const struct nod_ident_finding *there = same_message(good, w->n->name, here->id);
		if (!there || !is_cyclic(there) || there->frames < FRAMES_MIN)
			continue;
		if ((double)period_of(here).ns >= NOD_PERIOD_RATIO * (double)period_of(there).ns)
			slowed++;
		else
			kept++;
	}
	return !kept && !slowed ? 0 : kept > slowed ? -1 : 1;
}

/* Where most senders slowed down for parking, who keeps its pace stands out. */
static void observe_pace(struct nod_weighing *w)
{
	unsigned kept = 0, slowed = 0;

	for (size_t i = 0; i < w->count; i++) {
		const struct nod_hypothesis *h = &w->hypotheses[i];
		int pace = h->kind == NOD_SUSPECT_SENDER ? pace_of(w, h->sender) : 0;
		kept += pace < 0;
		slowed += pace > 0;
	}
	for (size_t i = 0; slowed > kept && i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		double rarity = 1 - (double)(kept ? kept - 1 : 0) / slowed;
		if (h->kind == NOD_SUSPECT_SENDER && pace_of(w, h->sender) < 0)
			nod_hypothesis_add(
				w, h, NOD_EV_UNUSUAL_PERIOD, rarity * rarity,
				"It keeps the pace of the good recording, while %u of %u "
				"senders on %s are slower here.",
				slowed, slowed + kept, w->n->name);
	}
}

void nod_observe_good(struct nod_weighing *w)
{
	const struct nod_findings *f = w->a->f;
	unsigned different = 0, present = 0;

	if (!w->a->engine->good || !(w->held || w->tentative))
		return;
	observe_pace(w);
	const struct nod_difference_finding **of = nod_arena_alloc(
		w->a->arena, (f->sender_count + 1) * sizeof(*of));
	if (!of)
		return;
	for (size_t i = 0; i < f->difference_count; i++) {
		int sender = f->idents[f->differences[i].ident].sender;
		if (f->idents[f->differences[i].ident].network != w->n->network)
			continue;
		different += !of[sender];
		if (!of[sender] || f->differences[i].bits) /* a stuck bit says most */
			of[sender] = &f->differences[i];
	}
	for (size_t i = 0; i < f->sender_count; i++)
		present += w->tallies[i]->present;
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		if (of[h->sender]) {
			double rarity = present > 1 ? 1 - (double)(different - 1) / (present - 1)
						    : 1;
			nod_hypothesis_add(w, h, NOD_EV_GOOD_DIFFERS, rarity * rarity, "%s",
					   nod_difference_text(w->a, of[h->sender]));
		} else if (different) {
			nod_hypothesis_add(w, h, NOD_EV_GOOD_SAME, 1,
					   "It sends what it sends in the good recording.");
		}
	}
}
