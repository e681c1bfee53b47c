/* SPDX-License-Identifier: MIT */
/* Messages that appeared, vanished or changed between two sessions. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <strings.h>

#include "compare.h"
#include "lookup.h"
#include "signals.h"

/* Constant bits are compared only where a message came at least so often in
 * both. Chosen: enough to see a bit that changes now and then. */
#define BITS_FRAMES 20

const char *nod_ident_change_name(enum nod_ident_change_kind kind)
{
	static const char *const names[] = {"appeared",       "vanished",
					    "period changed", "talks past the deadline",
					    "no longer late", "payload differs"};
	return names[kind];
}

/* The same message in another session. */
static const struct nod_ident_finding *same(const struct nod_findings *f, const char *network,
					    uint32_t id)
{
	int index = nod_lookup_network(f, network);

	return index == NOD_NONE ? NULL : nod_lookup_ident(f, index, id);
}

static nod_duration period_of(const struct nod_ident_finding *i)
{
	const struct nod_period *p = i->before.rhythm == NOD_RHYTHM_UNKNOWN ? &i->after
									    : &i->before;

	return p->rhythm == NOD_RHYTHM_CYCLIC || p->rhythm == NOD_RHYTHM_MIXED ? p->period
									       : NOD_DURATION_NONE;
}

static nod_duration jitter_of(const struct nod_ident_finding *i)
{
	return (i->before.rhythm == NOD_RHYTHM_UNKNOWN ? &i->after : &i->before)->jitter;
}

static bool period_differs(const struct nod_ident_finding *b, const struct nod_ident_finding *a)
{
	nod_duration x = period_of(b), y = period_of(a);

	if (x.ns <= 0 || y.ns <= 0)
		return false;
	double change = fabs((double)y.ns - (double)x.ns);
	double jitter = fmax((double)jitter_of(b).ns, (double)jitter_of(a).ns);
	return change > NOD_PERIOD_CHANGE * (double)x.ns && change > 3 * jitter;
}

/* Which of the first 64 payload bits were ever 1, ever 0. */
static void bits_of(struct nod_compare_side side, const struct nod_ident_finding *ident,
		    uint64_t *ones, uint64_t *zeros)
{
	*ones = *zeros = 0;
	for (size_t i = 0; i < nod_timeline_row_count(side.timeline); i++) {
		const struct nod_timeline_row *row = nod_timeline_row(side.timeline, i);
		if (row->id == ident->id &&
		    nod_timeline_row_network(side.timeline, side.f, row) == ident->network) {
			*ones |= row->ones;
			*zeros |= row->zeros;
		}
	}
}

struct listing {
	struct nod_comparison *c;
	struct nod_arena *arena;
	struct nod_compare_side before, after;
};

/* " byte 2 bits 4 5", " byte 2" when it is all of them. */
static const char *byte_text(struct nod_arena *arena, const char *text, unsigned byte,
			     unsigned bits)
{
	text = nod_arena_printf(arena, "%s byte %u", text, byte);
	if (bits == 0xFF)
		return text;
	text = nod_arena_printf(arena, "%s bit%s", text, bits & (bits - 1) ? "s" : "");
	for (unsigned bit = 0; bit < 8; bit++)
		if (bits >> bit & 1)
			text = nod_arena_printf(arena, "%s %u", text, bit);
	return text;
}

/* " TailgateSwitch", each signal once; takes its bits out of the mask. */
static const char *signals_text(const struct listing *l, const char *text,
				const struct nod_ident_finding *ident, uint64_t *mask)
{
	for (uint64_t left = *mask; left;) {
		unsigned bit = (unsigned)__builtin_ctzll(left);
		const struct nod_signal *s = nod_signals_of_bit(l->c->after, ident, bit,
								ident->word);
		uint64_t same = nod_signals_same(l->c->after, ident, left);
		if (s) {
			text = nod_arena_printf(l->arena, "%s %s", text, s->name);
			*mask &= ~same;
		}
		left &= ~same;
	}
	return text;
}

/* "flipped: TailgateSwitch byte 0 bits 0 1; moved before: byte 1". */
static const char *bits_text(const struct listing *l, const struct nod_ident_change *i,
			     const struct nod_ident_finding *ident)
{
	struct nod_arena *arena = l->arena;
	static const char *const what[] = {"flipped:", "moved before:", "moves now:"};
	uint64_t masks[] = {i->flipped, i->moving_before, i->moving_after};
	const char *text = "";

	for (size_t m = 0; m < 3; m++) {
		if (masks[m])
			text = nod_arena_printf(arena, "%s%s%s", text, *text ? "; " : "", what[m]);
		text = signals_text(l, text, ident, &masks[m]);
		for (unsigned byte = 0; byte < 8; byte++) {
			unsigned bits = (unsigned)(masks[m] >> (8 * byte)) & 0xFF;
			if (bits)
				text = byte_text(arena, text, byte, bits);
		}
	}
	return text;
}

static void list(struct listing *l, enum nod_ident_change_kind kind,
		 const struct nod_ident_finding *b, const struct nod_ident_finding *a)
{
	const struct nod_findings *f = b ? l->c->before : l->c->after;
	const struct nod_ident_finding *i = b ? b : a;

	l->c->idents[l->c->ident_count++] = (struct nod_ident_change){
		.kind = kind,
		.bits = "",
		.network = f->networks[i->network].name,
		.id = i->id,
		.sender = f->senders[i->sender].name,
		.period_before = b ? period_of(b) : NOD_DURATION_NONE,
		.period_after = a ? period_of(a) : NOD_DURATION_NONE,
	};
}

static void compare_bits(struct listing *l, const struct nod_ident_finding *b,
			 const struct nod_ident_finding *a)
{
	uint64_t ones_b, zeros_b, ones_a, zeros_a;

	if (!l->before.timeline || !l->after.timeline || b->frames < BITS_FRAMES ||
	    a->frames < BITS_FRAMES)
		return;
	bits_of(l->before, b, &ones_b, &zeros_b);
	bits_of(l->after, a, &ones_a, &zeros_a);
	uint64_t flipped = (ones_b & ~zeros_b & zeros_a & ~ones_a) |
			   (zeros_b & ~ones_b & ones_a & ~zeros_a);
	/* Only what the engine found to mean something, no counters and checksums; and
	 * only what moved since the lock, as the other is taken from then on. */
	uint64_t moving_b = b->changing_mask & ones_b & zeros_b & (ones_a ^ zeros_a);
	uint64_t moving_a = a->changing_mask & ones_a & zeros_a & (ones_b ^ zeros_b);
	if (!flipped && !moving_b && !moving_a)
		return;
	list(l, NOD_IDENT_BITS, b, a);
	struct nod_ident_change *change = &l->c->idents[l->c->ident_count - 1];
	change->flipped = flipped;
	change->moving_before = moving_b;
	change->moving_after = moving_a;
	change->bits = bits_text(l, change, a);
}

static void compare_both(struct listing *l, const struct nod_ident_finding *b,
			 const struct nod_ident_finding *a)
{
	if (period_differs(b, a))
		list(l, NOD_IDENT_PERIOD, b, a);
	/* Where the whole network was or is asleep by then, it says nothing of this one. */
	bool late_before = l->c->before->networks[b->network].awake_late.ns > 0;
	bool late_after = l->c->after->networks[a->network].awake_late.ns > 0;
	if (late_before && late_after && b->frames_late && !a->frames_late)
		list(l, NOD_IDENT_LATE_ENDED, b, a);
	if (late_before && late_after && !b->frames_late && a->frames_late)
		list(l, NOD_IDENT_LATE_BEGUN, b, a);
	compare_bits(l, b, a);
}

static int by_kind(const void *a, const void *b)
{
	const struct nod_ident_change *x = a, *y = b;
	int network = strcasecmp(x->network, y->network);

	if (x->kind != y->kind)
		return x->kind < y->kind ? -1 : 1;
	return network ? network : (x->id > y->id) - (x->id < y->id);
}

int nod_compare_idents(struct nod_comparison *c, struct nod_arena *arena,
		       struct nod_compare_side before, struct nod_compare_side after)
{
	struct listing l = {c, arena, before, after};
	size_t most = 3 * before.f->ident_count + after.f->ident_count + 1;

	c->idents = nod_arena_alloc(arena, most * sizeof(*c->idents));
	if (!c->idents)
		return -ENOMEM;
	for (size_t i = 0; i < before.f->ident_count; i++) {
		const struct nod_ident_finding *b = &before.f->idents[i];
		const struct nod_ident_finding *a = same(
			after.f, before.f->networks[b->network].name, b->id);
		c->idents_common += a != NULL;
		if (a)
			compare_both(&l, b, a);
		else
			list(&l, NOD_IDENT_VANISHED, b, NULL);
	}
	for (size_t i = 0; i < after.f->ident_count; i++) {
		const struct nod_ident_finding *a = &after.f->idents[i];
		if (!same(before.f, after.f->networks[a->network].name, a->id))
			list(&l, NOD_IDENT_APPEARED, NULL, a);
	}
	qsort(c->idents, c->ident_count, sizeof(*c->idents), by_kind);
	return 0;
}
