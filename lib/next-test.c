/* What to isolate next: the fuse or plug whose answer tells most for the
 * waiting it costs, among those that may be touched at all. */
#include "analysis.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What a trial costs beside the wait: getting at it. Common practice, no
 * source: a fuse is pulled in a minute or two, a module takes trim off. */
#define FUSE_MINUTES 2.0
#define UNPLUG_MINUTES 10.0
#define MEMORY_MINUTES 5.0 /* something is lost and has to be set up again */

/* A network whose holder is gone sleeps within minutes, not within the time
 * a whole car takes; nobody waits longer than this for it. Chosen. */
#define WAIT_MINUTES_MAX 10.0

/* Hitting the cause is worth nearly as much as a bit: it starts the proof. */
#define HIT_VALUE 0.9

/* Below this nothing is worth a wait. */
#define HIT_MIN 0.02

#define PROPOSALS_MAX 5

static double entropy(double p)
{
	return p <= 0 || p >= 1 ? 0 : -p * log2(p) - (1 - p) * log2(1 - p);
}

static bool is_forbidden(char *const *cautions, size_t count)
{
	return nod_cautions_contain(cautions, count, "airbag") ||
	       nod_cautions_contain(cautions, count, "high-voltage");
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
		if (hangs_on(&v->modules[i], fuse) &&
		    is_forbidden(v->modules[i].cautions, v->modules[i].caution_count))
			return true;
	return false;
}

static bool was_tried(const struct nod_findings *f, int fuse, int module)
{
	for (size_t i = 0; i < f->trial_count; i++) {
		const struct nod_trial_finding *t = &f->trials[i];
		bool told = t->result == NOD_TRIAL_PROVED || t->result == NOD_TRIAL_UNCHANGED ||
			    t->result == NOD_TRIAL_SLEPT;
		if (told && ((fuse != NOD_NONE && t->fuse == fuse) ||
			     (module != NOD_NONE && t->module == module)))
			return true;
	}
	return false;
}

static const struct nod_module *module_of(const struct nod_findings *f, const struct nod_suspect *s)
{
	if (s->sender == NOD_NONE || f->senders[s->sender].kind != NOD_SENDER_MODULE)
		return NULL;
	return &f->vehicle->modules[f->senders[s->sender].module];
}

static double wait_minutes(const struct nod_findings *f, int network)
{
	double minutes = network == NOD_NONE
				 ? WAIT_MINUTES_MAX
				 : (double)f->vehicle->networks[network].sleeps_within.ns / 60e9;
	return fmin(minutes, WAIT_MINUTES_MAX);
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

static void rate(struct nod_test_proposal *p, bool memory)
{
	p->information = entropy(fmin(p->hit, 1));
	p->minutes += memory ? MEMORY_MINUTES : 0;
}

static void propose_fuse(struct nod_analysis *a, int fuse)
{
	struct nod_findings *f = a->f;
	struct nod_test_proposal *p = &f->proposals[f->proposal_count];
	const struct nod_fuse *config = &f->vehicle->fuses[fuse];
	int network = NOD_NONE;

	*p = (struct nod_test_proposal){.fuse = fuse, .module = NOD_NONE};
	for (size_t i = 0; i < f->suspect_count; i++) {
		const struct nod_module *module = module_of(f, &f->suspects[i]);
		if (!module || !hangs_on(module, fuse))
			continue;
		p->hit += f->suspects[i].probability;
		network = network == NOD_NONE ? f->suspects[i].network : network;
	}
	if (p->hit < HIT_MIN || fuse_is_forbidden(f->vehicle, fuse) || was_tried(f, fuse, NOD_NONE))
		return;
	p->hit = fmin(p->hit, 1);
	p->what = fuse_text(a, config);
	p->caution = fuse_caution(a, config);
	p->minutes = FUSE_MINUTES + wait_minutes(f, network);
	rate(p, nod_cautions_contain(config->cautions, config->caution_count, "memory"));
	f->proposal_count++;
}

static void propose_unplugging(struct nod_analysis *a, const struct nod_suspect *s)
{
	struct nod_findings *f = a->f;
	struct nod_test_proposal *p = &f->proposals[f->proposal_count];
	const struct nod_module *module = module_of(f, s);

	if (!module || s->probability < HIT_MIN ||
	    is_forbidden(module->cautions, module->caution_count) ||
	    was_tried(f, NOD_NONE, f->senders[s->sender].module))
		return;
	for (size_t i = 0; i < module->fuse_count; i++)
		if (was_tried(f, module->fuses[i], NOD_NONE) && module->fuse_count == 1 &&
		    s->probability < 0.5)
			return; /* its only fuse was pulled already */
	*p = (struct nod_test_proposal){.fuse = NOD_NONE,
					.module = f->senders[s->sender].module,
					.hit = s->probability};
	p->what = nod_arena_printf(a->arena, "the plug of %s%s%s%s", s->name,
				   module->place ? " (" : "", module->place ? module->place : "",
				   module->place ? ")" : "");
	p->caution = "";
	for (size_t i = 0; i < module->caution_count; i++)
		append(a, &p->caution, module->cautions[i]);
	p->minutes = UNPLUG_MINUTES + wait_minutes(f, s->network);
	rate(p, nod_cautions_contain(module->cautions, module->caution_count, "memory"));
	f->proposal_count++;
}

static double value(const struct nod_test_proposal *p)
{
	return (p->information + HIT_VALUE * p->hit) / p->minutes;
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

int nod_analysis_rank_tests(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;
	size_t room = f->vehicle->fuse_count + f->suspect_count + 1;
	bool trouble = f->suspect_count && f->suspects[0].kind != NOD_SUSPECT_NOTHING;

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
