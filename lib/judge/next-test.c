/* SPDX-License-Identifier: MIT */
/* What to isolate next: the fuse or plug whose answer tells most for the
 * waiting it costs, among those that may be touched at all. */
#include "analysis.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chance.h"
#include "intervals.h"
#include "next-test.h"

/* What an isolation costs beside the wait: getting at it. Common practice, no
 * source: a fuse is pulled in a minute or two, a module takes trim off. */
#define FUSE_MINUTES 2.0
#define UNPLUG_MINUTES 10.0
#define MEMORY_MINUTES 5.0 /* something is lost and has to be set up again */

/* A network whose holder is gone sleeps within minutes, not within the time
 * a whole car takes; nobody waits longer than this for it, or than this share of
 * the time it is allowed, where that is more: an isolation is judged only when
 * it lasted a quarter of it (isolations.c). Chosen. */
#define WAIT_MINUTES 10.0
#define WAIT_SHARE 0.3

/* Nobody waits longer than this for a waker to stay away. Chosen. */
#define WAIT_WAKER_MAX 60.0

/* The chance that one of several fuses alone takes a module off: one may be for
 * its motors, or both for its supply. Common practice, no source. */
#define OFF_ONE_OF_SEVERAL 0.5

/* A test that told nothing may tell something when it is done again, but less
 * likely each time. Chosen. */
#define AGAIN_SHARE 0.5

/* Hitting the cause starts the proof and may end the search: worth so many bits beside what is
 * learned. Fitted with the benchmark `policy` on its cars 0 to 299; with more, those that cost
 * most are pulled too early where waiting, a meter or another tap would tell. */
#define HIT_VALUE 0.5

/* Below this nothing is worth a wait. */
#define HIT_MIN 0.02

/* Somebody is named so surely that a test of others is worth nobody's time, though it may tell
 * more for its minutes by the numbers; and a test is of others when they are mostly it. Chosen. */
#define SURE 0.9
#define MOSTLY 0.5

#define PROPOSALS_MAX 5

double nod_test_information(double p)
{
	return p <= 0 || p >= 1 ? 0 : -p * log2(p) - (1 - p) * log2(1 - p);
}

static bool is_forbidden(char *const *cautions, size_t count)
{
	return nod_cautions_contain(cautions, count, "airbag") ||
	       nod_cautions_contain(cautions, count, "high-voltage");
}

bool nod_test_is_forbidden(const struct nod_module *module)
{
	return is_forbidden(module->cautions, module->caution_count);
}

static bool hangs_on(const struct nod_module *module, int fuse)
{
	for (size_t i = 0; i < module->fuse_count; i++)
		if (module->fuses[i] == fuse)
			return true;
	return false;
}

static bool fuse_is_forbidden(const struct nod_vehicle *v, int fuse)
{
	if (is_forbidden(v->fuses[fuse].cautions, v->fuses[fuse].caution_count))
		return true;
	for (size_t i = 0; i < v->module_count; i++)
		if (hangs_on(&v->modules[i], fuse) && nod_test_is_forbidden(&v->modules[i]))
			return true;
	return false;
}

static bool is_about(const struct nod_isolation_finding *t, int fuse, int module)
{
	return (fuse != NOD_NONE && t->fuse == fuse) || (module != NOD_NONE && t->module == module);
}

/* Isolations of it that were judged: what is left to see by another? */
static bool was_tried(const struct nod_findings *f, int fuse, int module)
{
	for (size_t i = 0; i < f->isolation_count; i++) {
		const struct nod_isolation_finding *t = &f->isolations[i];
		bool told = t->result == NOD_ISOLATION_PROVED ||
			    t->result == NOD_ISOLATION_UNCHANGED ||
			    (t->result == NOD_ISOLATION_SLEPT && t->by_chance <= NOD_PROOF_CHANCE);
		if (told && is_about(t, fuse, module))
			return true;
	}
	return false;
}

/* True while it is out: what it tells takes waiting, not pulling it again. */
static bool is_out(const struct nod_findings *f, int fuse, int module)
{
	for (size_t i = 0; i < f->isolation_count; i++)
		if (!nod_time_is_set(f->isolations[i].refitted) &&
		    is_about(&f->isolations[i], fuse, module))
			return true;
	return false;
}

/* True when isolating it left its modules on: it will do so again. */
static bool left_it_on(const struct nod_findings *f, int fuse, int module)
{
	for (size_t i = 0; i < f->isolation_count; i++)
		if (f->isolations[i].result == NOD_ISOLATION_NOT_OFF &&
		    is_about(&f->isolations[i], fuse, module))
			return true;
	return false;
}

/* What isolations of it that told nothing leave of its worth. */
static double again(const struct nod_findings *f, int fuse, int module)
{
	double share = 1;

	for (size_t i = 0; i < f->isolation_count; i++)
		if (f->isolations[i].result == NOD_ISOLATION_UNDECIDED &&
		    is_about(&f->isolations[i], fuse, module))
			share *= AGAIN_SHARE;
	return share;
}

static const struct nod_module *module_of(const struct nod_findings *f, const struct nod_suspect *s)
{
	if (s->sender == NOD_NONE || f->senders[s->sender].kind != NOD_SENDER_MODULE)
		return NULL;
	return &f->vehicle->modules[f->senders[s->sender].module];
}

/* How long nothing may wake the car until it is proved that its waker is gone, minutes. */
static double waker_minutes(const struct nod_findings *f, int network)
{
	const struct nod_network_finding *n = &f->networks[network];
	struct nod_intervals in = nod_intervals_of_wakes(f, network, f->end);
	nod_time slept = nod_time_is_set(n->first_slept_at) ? n->first_slept_at : f->lock;
	unsigned wakes = nod_time_is_set(in.first) ? (unsigned)in.count + 1 : 1;

	return (double)nod_intervals_silence(&in, wakes, nod_time_since(f->end, slept)).ns / 60e9;
}

/* How long to wait for an answer about this suspect (NULL: about nobody known). */
static double wait_minutes(const struct nod_findings *f, const struct nod_suspect *s)
{
	if (!s || s->network == NOD_NONE)
		return WAIT_MINUTES;
	double allowed = (double)f->vehicle->networks[s->network].sleeps_within.ns / 60e9;
	double wait = fmax(fmin(allowed, WAIT_MINUTES), WAIT_SHARE * allowed);
	if (s->role != NOD_ROLE_WAKER)
		return wait;
	return fmax(wait, fmin(waker_minutes(f, s->network), WAIT_WAKER_MAX));
}

static const char *fuse_text(struct nod_analysis *a, const struct nod_fuse *fuse)
{
	char rating[32] = "";

	if (fuse->rating_ma)
		snprintf(rating, sizeof(rating), "%g A", (double)fuse->rating_ma / 1000);
	if (!*rating && !fuse->box)
		return nod_arena_printf(a->arena, "fuse %s", fuse->name);
	return nod_arena_printf(a->arena, "fuse %s (%s%s%s%s)", fuse->name, rating,
				*rating && fuse->box ? ", " : "", fuse->box ? fuse->box : "",
				fuse->box ? " box" : "");
}

static void append(struct nod_analysis *a, const char **text, const char *more)
{
	*text = **text ? nod_arena_printf(a->arena, "%s; %s", *text, more) : more;
}

static const char *fuse_caution(struct nod_analysis *a, const struct nod_fuse *fuse)
{
	const char *text = "";

	for (size_t i = 0; i < fuse->feed_count; i++)
		append(a, &text, nod_arena_printf(a->arena, "it also feeds %s", fuse->feeds[i]));
	for (size_t i = 0; i < fuse->caution_count; i++)
		append(a, &text, fuse->cautions[i]);
	return text;
}

static bool is_worth_it(const struct nod_findings *f, double blamed)
{
	bool sure = f->culprit != NOD_NONE && f->suspects[f->culprit].probability >= SURE;

	return blamed >= (sure ? MOSTLY : HIT_MIN);
}

/* `blamed`: how likely the cause is among those it concerns; p->hit: that the
 * cause is taken off. What it leaves on, it tells nothing about. */
static void rate(struct nod_test_proposal *p, double blamed, double share, bool memory)
{
	blamed = fmin(blamed, 1);
	p->hit = fmin(p->hit, 1) * share;
	p->information = nod_test_information(blamed) * p->hit / blamed;
	p->minutes += memory ? MEMORY_MINUTES : 0;
}

static void propose_fuse(struct nod_analysis *a, int fuse)
{
	struct nod_findings *f = a->f;
	struct nod_test_proposal *p = &f->proposals[f->proposal_count];
	const struct nod_fuse *config = &f->vehicle->fuses[fuse];
	const struct nod_suspect *first = NULL;
	double blamed = 0;

	*p = (struct nod_test_proposal){.fuse = fuse, .module = NOD_NONE};
	for (size_t i = 0; i < f->suspect_count; i++) {
		const struct nod_module *module = module_of(f, &f->suspects[i]);
		if (!module || !hangs_on(module, fuse))
			continue;
		double share = module->fuse_count > 1 ? OFF_ONE_OF_SEVERAL : 1;
		p->hit += f->suspects[i].probability * share;
		blamed += f->suspects[i].probability;
		first = first ? first : &f->suspects[i];
	}
	if (!is_worth_it(f, blamed) || fuse_is_forbidden(f->vehicle, fuse) ||
	    was_tried(f, fuse, NOD_NONE) || is_out(f, fuse, NOD_NONE) ||
	    left_it_on(f, fuse, NOD_NONE))
		return;
	p->what = fuse_text(a, config);
	p->caution = fuse_caution(a, config);
	p->minutes = FUSE_MINUTES + wait_minutes(f, first);
	rate(p, blamed, again(f, fuse, NOD_NONE),
	     nod_cautions_contain(config->cautions, config->caution_count, "memory"));
	f->proposal_count++;
}

/* Its only fuse was pulled, and told of it as much as its plug would: nothing else hangs
 * on it. */
static bool fuse_spoke_for(const struct nod_findings *f, const struct nod_module *module)
{
	size_t on_it = 0;

	for (size_t i = 0; module->fuse_count == 1 && i < f->vehicle->module_count; i++)
		on_it += hangs_on(&f->vehicle->modules[i], module->fuses[0]);
	return on_it == 1 && was_tried(f, module->fuses[0], NOD_NONE);
}

static void propose_unplugging(struct nod_analysis *a, const struct nod_suspect *s)
{
	struct nod_findings *f = a->f;
	struct nod_test_proposal *p = &f->proposals[f->proposal_count];
	const struct nod_module *module = module_of(f, s);
	int index = module ? f->senders[s->sender].module : NOD_NONE;

	if (!module || !is_worth_it(f, s->probability) || nod_test_is_forbidden(module) ||
	    was_tried(f, NOD_NONE, index) || is_out(f, NOD_NONE, index) ||
	    left_it_on(f, NOD_NONE, index) || (fuse_spoke_for(f, module) && s->probability < 0.5))
		return;
	*p = (struct nod_test_proposal){.fuse = NOD_NONE, .module = index, .hit = s->probability};
	p->what = nod_arena_printf(a->arena, "the plug of %s%s%s%s", s->name,
				   module->place ? " (" : "", module->place ? module->place : "",
				   module->place ? ")" : "");
	p->caution = "";
	for (size_t i = 0; i < module->caution_count; i++)
		append(a, &p->caution, module->cautions[i]);
	p->minutes = UNPLUG_MINUTES + wait_minutes(f, s);
	rate(p, s->probability, again(f, NOD_NONE, index),
	     nod_cautions_contain(module->cautions, module->caution_count, "memory"));
	f->proposal_count++;
}

double nod_test_value(double information, double hit, double minutes)
{
	return (information + HIT_VALUE * hit) / minutes;
}

static double value(const struct nod_test_proposal *p)
{
	return nod_test_value(p->information, p->hit, p->minutes);
}

static int compare(const void *x, const void *y)
{
	const struct nod_test_proposal *a = x, *b = y;
	double p = value(a), q = value(b);
	if (p != q)
		return p > q ? -1 : 1;
	if (a->fuse != b->fuse)
		return a->fuse < b->fuse ? -1 : 1;
	return (a->module > b->module) - (a->module < b->module);
}

/* A refit starts the settle clock anew, and for a while nothing is wrong so far:
 * who is searching goes on all the same. */
static bool is_in_trouble(const struct nod_findings *f)
{
	return f->suspect_count &&
	       (f->suspects[0].kind != NOD_SUSPECT_NOTHING || f->isolation_count);
}

int nod_analysis_rank_tests(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;
	size_t room = f->vehicle->fuse_count + f->suspect_count + 1;
	bool trouble = is_in_trouble(f);

	f->proposals = nod_arena_alloc(a->arena, room * sizeof(*f->proposals));
	if (!f->proposals)
		return -ENOMEM;
	for (size_t i = 0; trouble && i < f->vehicle->fuse_count; i++)
		propose_fuse(a, (int)i);
	for (size_t i = 0; trouble && i < f->suspect_count; i++)
		propose_unplugging(a, &f->suspects[i]);
	qsort(f->proposals, f->proposal_count, sizeof(*f->proposals), compare);
	if (f->proposal_count > PROPOSALS_MAX)
		f->proposal_count = PROPOSALS_MAX;
	return 0;
}
