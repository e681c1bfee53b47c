/* SPDX-License-Identifier: MIT */
/* Which silences were sleep, and in which nobody listened. A recorder that loses its power, an
 * adapter that drops out, a plug that is pulled leave silence as well. How the traffic before it
 * ended and how it went on tells them apart (network/silence.h); here the networks of the
 * recording are looked at together. What a recorder of ours says of its gaps wins. */
#include "holes.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Who writes down beside a recording what happens looks after it as well; who says afterwards when
 * the car was locked would have noticed at least that it lacks minutes. Where a log goes on
 * beyond its last frame, somebody says that it was listened to until then. Chosen. */
#define ATTENDED 1.0
#define SAID_TO_LISTEN 1.0
#define NOTICED_NS (600 * NOD_NS_PER_S)

/* Below, a network's own rhythm says that it ran on, whatever others did meanwhile. Chosen. */
#define CONTRADICTED 0.1

/* Something unreadable right there: a torn line is what a lost supply leaves. Chosen. */
#define TORN (-5.0)

/* Others were heard on while one network was silent: it was not the recorder. Chosen. */
#define OTHERS_HEARD 0.5

/* Networks are cut off together when each ends within its own fastest period of the other.
 * By chance, ends of a run-down lie within a second of each other. Chosen. */
#define TOGETHER_S 1.0
#define TOGETHER_MAX 4.0
#define TOGETHER_DELAY_S 0.005
#define APART 2.0

/* A network that fell silent a little earlier was on the way to sleep with the others. */
#define RUN_DOWN_NS (60 * NOD_NS_PER_S)

/* So much of what ran before is missing after a short pause: it was not a pause of the
 * recorder's. Chosen. */
#define SHORT_NS (60 * NOD_NS_PER_S)
#define MISSING_OF 5
#define MISSING 2.0

/* Adapters that drop out, new files, stalls last for seconds; a short silence is rather one of
 * them. Chosen. */
#define BRIEF_S 60.0
#define BRIEF_WEIGHT 0.7
#define BRIEF_MAX 1.5

/* What is said for sleep by how long it is, and by who was there. */
static double before_all(const struct nod_analysis *a, nod_time from, nod_time to)
{
	bool header = a->f->lock_source == NOD_LOCK_FROM_HEADER;
	bool noticed = a->f->lock_source == NOD_LOCK_FROM_OPTION && to.ns - from.ns >= NOTICED_NS;
	double s = (double)nod_time_since(to, from).ns / NOD_NS_PER_S;
	double brief = fmax(-BRIEF_MAX, fmin(0, BRIEF_WEIGHT * log(fmax(s, 1) / BRIEF_S)));

	return brief + (noticed || header || a->f->mark_count ? ATTENDED : 0);
}

/* ---- silences of the whole recording ---- */

/* A network that ends or begins this close belongs to it. */
#define BESIDE_NS NOD_NS_PER_S

struct wide {
	nod_time from, to;
	bool torn, returns;
	double fade, boot, kept;
	bool noted;
	bool ended_one; /* the network that was heard last has been counted */
	struct nod_silence_odds odds;
};

struct holes {
	struct nod_analysis *a;
	struct wide *wide;
	size_t count;
};

static int compare_spans(const void *x, const void *y)
{
	const struct nod_span_finding *a = *(const struct nod_span_finding *const *)x;
	const struct nod_span_finding *b = *(const struct nod_span_finding *const *)y;
	return (a->from.ns > b->from.ns) - (a->from.ns < b->from.ns);
}

static bool is_torn(const struct nod_engine *engine, nod_time from, nod_time to)
{
	size_t low = 0, high = engine->torn_count; /* they are in time order */

	while (low < high) { /* the first that is not before it */
		size_t middle = (low + high) / 2;
		if (engine->torn[middle].ns < from.ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low < engine->torn_count && engine->torn[low].ns < to.ns;
}

static void add_wide(struct holes *h, nod_time from, nod_time to, bool returns)
{
	if (nod_time_since(to, from).ns < BESIDE_NS)
		return;
	struct wide *w = &h->wide[h->count++];
	*w = (struct wide){.from = from, .to = to, .returns = returns};
	w->torn = is_torn(h->a->engine, from, to);
	w->fade = before_all(h->a, from, to) + (w->torn ? TORN : 0) +
		  (returns ? 0 : SAID_TO_LISTEN);
}

static void sweep(struct holes *h, const struct nod_span_finding **spans, size_t count)
{
	nod_time heard = count ? spans[0]->to : NOD_TIME_NONE;

	for (size_t i = 0; i < count; i++) {
		nod_time to = spans[i]->open ? h->a->f->end : spans[i]->to;
		if (spans[i]->from.ns > heard.ns)
			add_wide(h, heard, spans[i]->from, true);
		heard = to.ns > heard.ns ? to : heard;
	}
	if (count && h->a->f->end.ns > heard.ns)
		add_wide(h, heard, h->a->f->end, false);
}

/* The stretches in which no network was heard. */
static int find_wide(struct holes *h)
{
	const struct nod_findings *f = h->a->f;
	size_t room = 1, count = 0;

	for (size_t n = 0; n < f->network_count; n++)
		room += f->networks[n].span_count;
	const struct nod_span_finding **spans = malloc(room * sizeof(struct nod_span_finding *));
	h->wide = malloc(room * sizeof(*h->wide));
	if (!spans || !h->wide) {
		free(spans);
		return -ENOMEM;
	}
	for (size_t n = 0; n < f->network_count; n++)
		for (size_t i = 0; i < f->networks[n].span_count; i++)
			spans[count++] = &f->networks[n].spans[i];
	qsort(spans, count, sizeof(struct nod_span_finding *), compare_spans);
	sweep(h, spans, count);
	free(spans);
	return 0;
}

static const struct nod_silence_clues *clues_of(const struct nod_span_finding *s)
{
	return (const struct nod_silence_clues *)s->clues;
}

/* How it began after this silence, given what was there before. */
static double boot_of(const struct nod_network_finding *n, size_t i)
{
	const struct nod_silence_clues *before = clues_of(&n->spans[i]);
	const struct nod_silence_clues *after = clues_of(&n->spans[i + 1]);
	int64_t length = nod_time_since(n->spans[i + 1].from, n->spans[i].to).ns;
	bool missing = length < SHORT_NS && before->running >= MISSING_OF &&
		       after->early * MISSING_OF <= before->running;

	return (double)after->boot + (missing ? MISSING : 0);
}

static double kept_of(const struct nod_network_finding *n, size_t i)
{
	return (double)clues_of(&n->spans[i + 1])->kept;
}

static bool ends_beside(const struct wide *w, nod_time to)
{
	return to.ns <= w->from.ns && w->from.ns - to.ns <= BESIDE_NS;
}

static bool begins_beside(const struct wide *w, nod_time from)
{
	return w->returns && from.ns >= w->to.ns && from.ns - w->to.ns <= BESIDE_NS;
}

/* What this network's end says of the silence of all. */
static void join_end(struct wide *w, const struct nod_span_finding *s)
{
	const struct nod_silence_clues *c = clues_of(s);
	double beat = (double)c->beat_us / 1e6;
	double apart = (double)nod_time_since(w->from, s->to).ns / NOD_NS_PER_S;
	double near = 1.5 * beat + TOGETHER_DELAY_S;

	w->fade += (double)c->fade;
	if (apart == 0 && !w->ended_one)
		w->ended_one = true;
	else if (c->running && apart <= near)
		w->fade -= fmax(-TOGETHER_MAX, fmin(log(TOGETHER_S / near), TOGETHER_MAX));
	else if (c->running)
		w->fade += APART;
}

/* The silences of all that lie in the silence after span i. `from`: the first to look at. */
static size_t next_wide(const struct holes *h, const struct nod_network_finding *n, size_t i,
			size_t from)
{
	while (from < h->count && h->wide[from].from.ns < n->spans[i].to.ns)
		from++;
	return from;
}

static void join(struct holes *h, const struct nod_network_finding *n)
{
	for (size_t i = 0, k = 0; i < n->span_count; i++) {
		nod_time end = nod_span_silence_end(n, i, h->a->f->end);
		k = next_wide(h, n, i, k);
		for (size_t w = k; w < h->count && h->wide[w].to.ns <= end.ns; w++) {
			int64_t before = nod_time_since(h->wide[w].from, n->spans[i].to).ns;
			if (ends_beside(&h->wide[w], n->spans[i].to))
				join_end(&h->wide[w], &n->spans[i]);
			else if (before <= RUN_DOWN_NS && clues_of(&n->spans[i])->running)
				h->wide[w].fade += APART;
			if (i + 1 == n->span_count || !begins_beside(&h->wide[w], end))
				continue;
			h->wide[w].boot += boot_of(n, i);
			if (ends_beside(&h->wide[w], n->spans[i].to))
				h->wide[w].kept += kept_of(n, i);
		}
	}
}

/* ---- the silences of one network ---- */

struct silence {
	nod_time from, to;
	struct nod_silence_odds odds;
	double woke_itself; /* by its own clues alone */
	nod_time hole_from, hole_to;
};

/* By the silences of all within it, where there are some. */
static void look_inside(const struct holes *h, struct silence *s, size_t first)
{
	for (size_t k = first; k < h->count && h->wide[k].to.ns <= s->to.ns; k++) {
		const struct wide *w = &h->wide[k];
		bool ends = ends_beside(w, s->from);
		bool begins = w->returns ? begins_beside(w, s->to) : w->to.ns == s->to.ns;
		if (ends)
			s->odds.fell_asleep = w->odds.fell_asleep;
		if (begins && (ends || s->odds.woke >= CONTRADICTED))
			s->odds.woke = w->odds.woke;
		if (ends && begins)
			s->odds.whole = w->odds.whole;
		if (w->odds.whole >= NOD_SLEEP_CLAIMED)
			continue;
		s->hole_from = nod_time_is_set(s->hole_from) ? s->hole_from : w->from;
		s->hole_to = w->to;
		s->odds.whole = fmin(s->odds.whole, w->odds.whole);
	}
}

static struct silence look(const struct holes *h, const struct nod_network_finding *n, size_t i,
			   size_t first)
{
	const struct nod_silence_clues *c = clues_of(&n->spans[i]);
	bool returns = i + 1 < n->span_count;
	struct silence s = {n->spans[i].to, nod_span_silence_end(n, i, h->a->f->end),
			    {0, 0, 0},      0,
			    NOD_TIME_NONE,  NOD_TIME_NONE};

	s.odds = nod_silence_weigh(
		h->a, (double)c->fade + OTHERS_HEARD + before_all(h->a, s.from, s.to),
		returns ? boot_of(n, i) + OTHERS_HEARD : 0, returns ? kept_of(n, i) : 0);
	if (!returns)
		s.odds.whole = s.odds.fell_asleep;
	s.woke_itself = s.odds.woke;
	look_inside(h, &s, first);
	if (!nod_time_is_set(s.hole_from) && s.odds.whole < NOD_SLEEP_CLAIMED) {
		s.hole_from = s.from;
		s.hole_to = s.to;
	}
	return s;
}

static bool was_listened_to(const struct nod_network_finding *n, nod_time from, nod_time to)
{
	return nod_time_since(to, from).ns >= n->quiet_time.ns;
}

/* Puts down what was found of the silence after span i. */
static void settle(struct nod_network_finding *n, size_t i, const struct silence *s)
{
	struct nod_span_finding *span = &n->spans[i];
	struct nod_span_finding *next = i + 1 < n->span_count ? span + 1 : NULL;
	bool hole = nod_time_is_set(s->hole_from);

	span->asleep = s->odds.whole;
	if (!hole)
		return;
	bool first = was_listened_to(n, s->from, s->hole_from) ||
		     s->hole_from.ns - s->from.ns <= BESIDE_NS;
	bool last = was_listened_to(n, s->hole_to, s->to) && s->woke_itself >= NOD_SLEEP_CLAIMED;
	bool at_once = s->to.ns - s->hole_to.ns <= BESIDE_NS;
	span->slept_after &= (first && s->odds.fell_asleep >= NOD_SLEEP_CLAIMED) || last;
	span->silence_known = false;
	span->hole_from = s->hole_from;
	span->hole_to = s->hole_to;
	if (next)
		next->slept_before &= s->odds.woke >= NOD_SLEEP_CLAIMED && (last || at_once);
	else
		n->state = last ? NOD_STATE_ASLEEP : NOD_STATE_UNKNOWN;
	if (!next)
		n->since = last ? s->hole_to : s->from;
}

static struct wide *wide_at(const struct holes *h, nod_time from, size_t k)
{
	for (; k < h->count && h->wide[k].from.ns <= from.ns; k++)
		if (h->wide[k].from.ns == from.ns)
			return &h->wide[k];
	return NULL;
}

/* w: the silence of all that it is, NULL: of this network alone. */
static void note_hole(struct holes *h, const struct nod_network_finding *n, size_t i,
		      const struct silence *s, struct wide *w)
{
	struct nod_findings *f = h->a->f;
	struct nod_hole_finding hole = {w ? w->from : s->hole_from,
					w ? w->to : s->hole_to,
					w ? NOD_NONE : n->network,
					w && w->torn,
					1 - (w ? w->odds.whole : s->odds.whole),
					""};
	bool last = i + 1 == n->span_count;
	double fade = w ? w->fade : (double)clues_of(&n->spans[i])->fade;
	double boot = w ? w->boot : last ? 0 : boot_of(n, i);

	if (w && w->noted)
		return;
	if (w)
		w->noted = true;
	hole.text = nod_hole_text(h->a, &hole, w ? w->returns : !last, fade, boot);
	f->holes[f->hole_count++] = hole;
}

static void judge_network(struct holes *h, struct nod_network_finding *n)
{
	for (size_t i = 0, k = 0; i < n->span_count; i++) {
		n->spans[i].slept_after = i + 1 < n->span_count
						  ? n->spans[i + 1].slept_before
						  : n->state == NOD_STATE_ASLEEP ||
							    nod_time_is_set(n->slept_until);
		k = next_wide(h, n, i, k);
		if (n->spans[i].open || !n->spans[i].slept_after)
			continue;
		struct silence s = look(h, n, i, k);
		settle(n, i, &s);
		if (nod_time_is_set(s.hole_from))
			note_hole(h, n, i, &s, wide_at(h, s.hole_from, k));
	}
}

static int compare_holes(const void *x, const void *y)
{
	const struct nod_hole_finding *a = x, *b = y;
	if (a->from.ns != b->from.ns)
		return a->from.ns < b->from.ns ? -1 : 1;
	return (a->network > b->network) - (a->network < b->network);
}

int nod_analysis_find_holes(struct nod_analysis *a)
{
	struct holes h = {.a = a};
	size_t room = 1;

	for (size_t n = 0; n < a->f->network_count; n++)
		room += a->f->networks[n].span_count;
	a->f->holes = nod_arena_alloc(a->arena, room * sizeof(*a->f->holes));
	if (!a->f->holes || find_wide(&h)) {
		free(h.wide);
		return -ENOMEM;
	}
	for (size_t n = 0; n < a->f->network_count; n++)
		join(&h, &a->f->networks[n]);
	for (size_t k = 0; k < h.count; k++) {
		struct wide *w = &h.wide[k];
		w->odds = nod_silence_weigh(a, w->fade, w->boot, w->kept);
		if (!w->returns)
			w->odds.whole = w->odds.fell_asleep;
	}
	for (size_t n = 0; n < a->f->network_count; n++)
		judge_network(&h, &a->f->networks[n]);
	qsort(a->f->holes, a->f->hole_count, sizeof(*a->f->holes), compare_holes);
	free(h.wide);
	return 0;
}
