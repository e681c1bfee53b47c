/* SPDX-License-Identifier: MIT */
/* What each sender did that tells of an input or a reason of its own, where no network
 * management says it: data, pace, lulls of the network that it ended. */
#include "signals.h"
#include "weighing.h"

/* Changes sent out of turn that are a habit. Chosen: two may be chance. */
#define PROMPT_MIN 3

/* Frames before the lock that tell a pace, and how many periods the network must have been
 * late for a message's absence to mean that it stopped. Chosen. */
#define PACE_FRAMES_MIN 5
#define PACE_LATE_MIN 20

/* Slower than this against its fastest, a message has slowed down. Chosen: a little
 * below NOD_PERIOD_RATIO, as it is one recording, with one load. */
#define PACE_RATIO 1.4

/* Of the frames that its pace would bring, so few mean that it stopped. Chosen. */
#define STOPPED_SHARE 0.05

/* A signal of so few bits, or one whose values have names, is a state; a wider one without is a
 * measured value. Chosen. */
#define STATE_BITS_MOST 2

/* Where the vehicle file says what the bit is, that is the better word on it. */
static enum nod_data_kind by_signal(const struct nod_weighing *w, const struct nod_ident_finding *f,
				    const struct nod_data *data, const struct nod_bit_times *times)
{
	const struct nod_signal *s = nod_signals_of_bit(w->a->f, f, data->bit, f->word);

	if (!s || data->kind == NOD_DATA_STILL || nod_data_is_even(times, data->bit))
		return data->kind;
	return s->bits <= STATE_BITS_MOST || s->value_count ? NOD_DATA_SWITCH : NOD_DATA_VALUE;
}

/* A bit that moved each time its sender began to speak, and whose every other move is its way
 * back: a button, a handle. A contact that bounces by itself moves oftener, and most faults move
 * none. Chosen. */
#define MOVES_MAX 2

static void tally_woke_moved(struct nod_tally *t, const struct nod_ident *ident)
{
	const struct nod_after *after = ident->after;

	if (after->waking > t->woke_moved &&
	    nod_data_has_switch(&ident->payload, after->planes, after->waking_bits,
				MOVES_MAX * after->waking + 1))
		t->woke_moved = after->waking;
}

/* The message whose data says most about an input of its sender. */
static void tally_data(const struct nod_weighing *w, struct nod_tally *t,
		       const struct nod_ident *ident, const struct nod_ident_finding *f, int index)
{
	t->changes_late += f->changes_late;
	if (!ident->after || !f->changing_late_mask || f->management)
		return;
	tally_woke_moved(t, ident);
	struct nod_data data = nod_data_of(&ident->payload, ident->after->planes,
					   ident->after->times);
	data.kind = by_signal(w, f, &data, ident->after->times);
	if (data.kind >= NOD_DATA_LOWEST && ident->after->prompt >= PROMPT_MIN &&
	    ident->after->prompt_bits >> data.bit & 1)
		data.kind = NOD_DATA_TOLD;
	if (t->changing_ident != NOD_NONE &&
	    (data.kind < t->data.kind ||
	     (data.kind == t->data.kind && data.changes <= t->data.changes)))
		return;
	t->data = data;
	t->changing_ident = index;
}

/* Its interval while the car was in use, as the frames before the lock tell it. */
static int64_t pace_in_use(const struct nod_weighing *w, const struct nod_ident *ident)
{
	uint64_t frames = ident->frames[NOD_PHASE_USE];
	int64_t length = nod_time_since(w->a->f->lock, ident->first).ns;

	if (frames < PACE_FRAMES_MIN || length <= 0)
		return INT64_MAX;
	return length / (int64_t)frames;
}

/* Whether a cyclic message goes on after the deadline as fast as it ever was. */
static void tally_pace(const struct nod_weighing *w, struct nod_tally *t,
		       const struct nod_ident *ident, const struct nod_ident_finding *f)
{
	nod_duration fastest = nod_sampler_fastest(&ident->settled);
	int64_t in_use = pace_in_use(w, ident);

	if (fastest.ns == NOD_DURATION_NONE.ns || f->management)
		return;
	int64_t before = in_use < fastest.ns ? in_use : fastest.ns;
	if (w->n->awake_late.ns < PACE_LATE_MIN * before)
		return;
	bool cyclic = f->after.rhythm == NOD_RHYTHM_CYCLIC || f->after.rhythm == NOD_RHYTHM_MIXED;
	if ((double)f->frames_late * (double)before < STOPPED_SHARE * (double)w->n->awake_late.ns ||
	    (cyclic && (double)f->after.period.ns > PACE_RATIO * (double)before))
		t->slowed++;
	else if (cyclic)
		t->kept++;
}

static void tally_fastest(struct nod_tally *t, const struct nod_ident *ident)
{
	nod_duration late = ident->after ? nod_sampler_fastest(&ident->after->intervals)
					 : NOD_DURATION_NONE;

	if (late.ns > 0 && (!t->fastest_late || late.ns < t->fastest_late))
		t->fastest_late = late.ns;
}

void nod_tally_inputs(struct nod_weighing *w, struct nod_tally *t, const struct nod_ident *ident,
		      int index)
{
	const struct nod_ident_finding *f = &w->a->f->idents[index];

	tally_data(w, t, ident, f, index);
	tally_pace(w, t, ident, f);
	tally_fastest(t, ident);
	t->resumed += ident->resumed;
	t->lulled_ns = nod_ns_add(t->lulled_ns, ident->lulled_ns);
	w->resumed += ident->resumed;
	w->lulled_ns = nod_ns_add(w->lulled_ns, ident->lulled_ns);
}
