/* SPDX-License-Identifier: MIT */
/* What each isolation says of each ID: see the head of learn.h. */
#include "learn-isolations-internal.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <strings.h>

#include "chance.h"
#include "lookup.h"

/* A single isolation never weighs more than this (or less than its inverse):
 * marks are entered by people, who confuse fuses. Chosen: 1 in 10,000. */
#define WEIGHT_MAX 1e4

enum outcome { SAYS_NOTHING, SILENT, WENT_ON };

static double periods_awake(const struct nod_learn_view *v, int64_t from, int64_t to)
{
	return (double)nod_network_awake(v->n, from, to) / v->interval;
}

/* The stretch in which, or the last before which, it was isolated; -1. */
static int64_t stretch_before(const struct nod_learn_view *v)
{
	int64_t found = -1;

	for (uint32_t i = 0; i < v->heard->count; i++)
		if (v->heard->stretches[i].from.ns <= v->from + v->margin)
			found = i;
	return found;
}

/* By what was heard well within the isolation. */
static enum nod_presence core_presence(const struct nod_learn_view *v, uint32_t first)
{
	int64_t from = v->from + v->margin, to = v->to - v->margin, heard = 0;

	for (uint32_t i = first; i < v->heard->count; i++) {
		const struct nod_stretch *s = &v->heard->stretches[i];
		int64_t a = s->from.ns > from ? s->from.ns : from,
			b = nod_learn_least(s->to.ns, to);
		heard += b > a ? b - a : 0;
	}
	return nod_presence_of(periods_awake(v, from, to), (double)heard / v->interval,
			       NOD_MISSED_MIN);
}

/* Was it silent while it was isolated, and how long did that matter? */
static enum outcome look(struct nod_learn_view *v)
{
	int64_t i = stretch_before(v);

	if (i < 0)
		return SAYS_NOTHING; /* not heard before: it cannot fall silent */
	const struct nod_stretch *s = &v->heard->stretches[i];
	bool later = (uint32_t)i + 1 < v->heard->count;
	v->stop = s->to.ns;
	v->resume = later ? s[1].from.ns : v->end;
	if (v->stop > v->from + v->margin || (later && v->resume < v->to - v->margin))
		return core_presence(v, (uint32_t)i) == NOD_PRESENCE_ON ? WENT_ON : SAYS_NOTHING;
	v->missed = periods_awake(v, v->stop, nod_learn_least(v->resume, v->to));
	if (v->missed < NOD_MISSED_MIN)
		return SAYS_NOTHING;
	v->refitted = nod_time_is_set(v->isolation->refitted);
	v->back = v->refitted && later && v->resume <= v->to + NOD_LEARN_BOOT_NS;
	return SILENT;
}

/* ---- how likely it is otherwise ---- */

/* Its stops by itself: those that the network did not share, but for this one. */
static double other_stops(const struct nod_learn_view *v)
{
	double stops = 0;

	for (uint32_t i = 0; i < v->heard->count; i++) {
		int64_t to = v->heard->stretches[i].to.ns;
		int64_t next = i + 1 < v->heard->count ? v->heard->stretches[i + 1].from.ns
						       : v->end;
		stops += to != v->stop && periods_awake(v, to, next) >= NOD_MISSED_MIN;
	}
	return stops;
}

static double at_that_moment(const struct nod_learn_view *v, double window_ns)
{
	return 1 - nod_chance_none(other_stops(v) + 0.5, v->awake_ns, window_ns);
}

/* It was silent since the network slept; the network woke without it. */
static double absent_from_wake(const struct nod_learn_view *v)
{
	double wakes = 0, without = 0;

	for (size_t i = 0; i < v->n->span_count; i++) {
		const struct nod_span_finding *span = &v->n->spans[i];
		bool spoke = false;
		if (!span->slept_before || (span->from.ns > v->stop && span->from.ns < v->resume))
			continue;
		for (uint32_t k = 0; k < v->heard->count && !spoke; k++)
			spoke = v->heard->stretches[k].from.ns <= span->to.ns &&
				v->heard->stretches[k].to.ns >= span->from.ns;
		wakes++;
		without += !spoke;
	}
	return (without + 0.5) / (wakes + 1);
}

bool nod_learn_slept_between(const struct nod_learn_view *v, int64_t from, int64_t to)
{
	return to - from - nod_network_awake(v->n, from, to) > v->n->quiet_time.ns;
}

/* It followed: the isolation let the network sleep, and this one was among the
 * first to stop, anywhere on the way; or it is a management message, which
 * stops as the protocol has it when another member is gone. */
static double followed(const struct nod_learn_view *v)
{
	double p = v->management ? NOD_LEARN_MANAGED : 0;

	if (nod_learn_slept_between(v, v->stop, nod_learn_least(v->resume, v->to)))
		p = fmax(p, NOD_LEARN_DUE_PERIODS / v->missed);
	return fmin(1, p);
}

/* The probability of this silence if it does not hang on the subject; 1 when
 * it fell silent before, while the network was awake. */
static double otherwise(const struct nod_learn_view *v)
{
	double window = (double)(2 * v->margin), stopped, began = 1;
	bool before = v->stop < v->from - v->margin;

	if (before && periods_awake(v, v->stop, v->from - v->margin) >= NOD_MISSED_MIN)
		return 1;
	stopped = before ? absent_from_wake(v) : at_that_moment(v, window);
	if (v->back && !v->management && !nod_learn_slept_between(v, v->stop, v->resume))
		began = at_that_moment(v, (double)(v->margin + NOD_LEARN_BOOT_NS));
	return fmin(1,
		    nod_missed_by_chance(v->missed, v->heard->long_intervals, v->heard->intervals) +
			    stopped * began);
}

static double clamp_log(double p)
{
	return log(fmin(1, fmax(1 / WEIGHT_MAX, p)));
}

/* The log-probability of this silence if it hangs on the subject. */
static double log_belongs(const struct nod_learn_view *v, double at_the_moment)
{
	double belongs = NOD_LEARN_SILENT * at_the_moment;
	int64_t back_by = v->to + NOD_LEARN_BOOT_NS;

	if (v->refitted && !v->back && periods_awake(v, back_by, v->resume) >= NOD_MISSED_MIN)
		belongs *= NOD_LEARN_STAYED_AWAY;
	return clamp_log(belongs);
}

/* ... if it follows what does: the first time by followed(); again, a protocol
 * does what it did before, and an order of stopping is mostly the same. Where there was
 * nothing to follow it is as likely as an accident. */
static double log_follows(const struct nod_learn_view *v, bool again)
{
	double p = followed(v);

	if (p <= 0)
		return clamp_log(otherwise(v));
	if (!again)
		return clamp_log(p);
	return v->management ? 0 : NOD_LEARN_ORDER_CHANCE * clamp_log(p);
}

/* ---- keeping it ---- */

static struct nod_learn_link *link_to(struct nod_learn *learn, struct nod_learn_id *id, int subject)
{
	struct nod_learn_link *link = id->links;

	while (link && link->subject != subject)
		link = link->next;
	if (link)
		return link;
	link = nod_arena_alloc(&learn->arena, sizeof(*link));
	if (!link)
		return NULL;
	link->subject = subject;
	link->next = id->links;
	id->links = link;
	return link;
}

static int note_silence(struct nod_learn *learn, const struct nod_learn_view *v, int subject,
			double moment)
{
	struct nod_learn_link *link = link_to(learn, v->id, subject);

	if (!link)
		return -ENOMEM;
	link->silent++;
	link->came_back += v->back;
	link->missed += v->missed;
	link->belongs += log_belongs(v, moment);
	link->accident += clamp_log(otherwise(v));
	link->follows += log_follows(v, link->follower);
	link->follower |= followed(v) > 0;
	link->clear += followed(v) <= 0;
	link->after_refit.ns = v->resume - v->to;
	link->back = v->back;
	return 0;
}

static int note_going_on(struct nod_learn *learn, const struct nod_learn_view *v, int subject)
{
	struct nod_learn_link *link = link_to(learn, v->id, subject);

	if (!link)
		return -ENOMEM;
	link->went_on++;
	link->belongs += log(NOD_LEARN_WENT_ON);
	return 0;
}

/* ---- subjects ---- */

static int subject_of(struct nod_learn *learn, const struct nod_findings *f,
		      const struct nod_isolation_finding *t)
{
	enum nod_learned_kind kind = t->fuse != NOD_NONE     ? NOD_LEARNED_FUSE
				     : t->module != NOD_NONE ? NOD_LEARNED_MODULE
							     : NOD_LEARNED_OTHER;
	const char *name = kind == NOD_LEARNED_FUSE     ? f->vehicle->fuses[t->fuse].name
			   : kind == NOD_LEARNED_MODULE ? f->vehicle->modules[t->module].name
							: t->subject;

	for (size_t i = 0; i < learn->subject_count; i++)
		if (!strcasecmp(learn->subjects[i].name, name))
			return (int)i;
	if (nod_learn_grow((void **)&learn->subjects, learn->subject_count, &learn->subject_room,
			   sizeof(*learn->subjects)))
		return -ENOMEM;
	name = nod_arena_printf(&learn->arena, "%s", name);
	learn->subjects[learn->subject_count] = (struct nod_learn_subject){name, kind, 0, 0};
	return learn->arena.failed ? -ENOMEM : (int)learn->subject_count++;
}

/* ---- one recording ---- */

static int network_of(const struct nod_findings *f, const struct nod_interfaces *names,
		      const struct nod_heard_id *id)
{
	int n = nod_vehicle_network_of_interface(f->vehicle, names->names[id->interface]);

	return n >= 0 && (size_t)n < f->network_count ? n : NOD_NONE;
}

static struct nod_learn_id *record_of(struct nod_learn *learn, const struct nod_findings *f,
				      int network, const struct nod_ident_finding *ident)
{
	struct nod_learn_id *id = nod_learn_id(learn, f->networks[network].name, ident->id);
	const struct nod_sender_finding *s = &f->senders[ident->sender];

	if (!id)
		return NULL;
	id->tester |= s->kind == NOD_SENDER_TESTER;
	if (s->kind == NOD_SENDER_SOURCE_ADDRESS)
		id->source_address = (int)s->number;
	return id;
}

/* Fills what is known of a heard ID apart from isolations. 1, 0 when nothing can be
 * learned of it, -ENOMEM. */
static int view_of(struct nod_learn *learn, const struct nod_findings *f, int network,
		   const struct nod_heard_id *heard, struct nod_learn_view *v)
{
	const struct nod_ident_finding *ident = nod_lookup_ident(f, network, heard->id);
	struct nod_learn_id *id = ident ? record_of(learn, f, network, ident) : NULL;
	nod_duration interval = nod_heard_interval(heard);

	if (!ident) /* beyond the engine's limit of IDs */
		return 0;
	if (!id)
		return -ENOMEM;
	if (id->tester || interval.ns <= 0)
		return 0;
	*v = (struct nod_learn_view){.f = f,
				     .n = &f->networks[network],
				     .heard = heard,
				     .id = id,
				     .end = f->end.ns,
				     .interval = (double)interval.ns};
	v->management = ident->management;
	v->awake_ns = (double)nod_network_awake(v->n, f->start.ns, f->end.ns);
	id->interval_ns = interval.ns > id->interval_ns ? interval.ns : id->interval_ns;
	id->awake_ns += (int64_t)v->awake_ns;
	return nod_learn_edges_add(learn, id, f, v->n, heard) ? -ENOMEM : 1;
}

static void set_isolation(struct nod_learn_view *v, const struct nod_isolation_finding *isolation)
{
	v->isolation = isolation;
	v->from = isolation->isolated.ns;
	v->to = nod_time_is_set(isolation->refitted) ? isolation->refitted.ns : v->end;
	v->margin = nod_learn_least(NOD_HAND_NS, (v->to - v->from) / 4);
}

/* What is used while one recording is added. */
struct work {
	struct nod_learn_view *views; /* of the IDs of which something can be learned */
	size_t count;
	struct nod_learn_view *silent; /* of one isolation */
	struct nod_learn_moment *moments;
};

static int judge_isolation(struct nod_learn *learn, struct work *w,
			   const struct nod_isolation_finding *isolation, int subject)
{
	size_t silent = 0, told = 0;

	for (size_t i = 0; i < w->count; i++) {
		struct nod_learn_view v = w->views[i];
		set_isolation(&v, isolation);
		enum outcome outcome = look(&v);
		told += outcome != SAYS_NOTHING;
		if (outcome == WENT_ON && note_going_on(learn, &v, subject))
			return -ENOMEM;
		v.accident = at_that_moment(&v, (double)(2 * v.margin));
		if (outcome == SILENT && otherwise(&v) < 1)
			w->silent[silent++] = v;
	}
	nod_learn_weigh_moments(w->silent, silent, w->moments);
	for (size_t i = 0; i < silent; i++)
		if (note_silence(learn, &w->silent[i], subject,
				 nod_learn_at_its_moment(&w->silent[i], w->moments, silent)))
			return -ENOMEM;
	learn->subjects[subject].judged += told > 0;
	return 0;
}

static int judge_isolations(struct nod_learn *learn, const struct nod_findings *f, struct work *w)
{
	for (size_t t = 0; t < f->isolation_count; t++) {
		int subject = subject_of(learn, f, &f->isolations[t]);
		if (subject < 0)
			return -ENOMEM;
		learn->subjects[subject].isolations++;
		if (judge_isolation(learn, w, &f->isolations[t], subject))
			return -ENOMEM;
	}
	return 0;
}

static int view_all(struct nod_learn *learn, const struct nod_findings *f,
		    const struct nod_heard *heard, const struct nod_interfaces *names,
		    struct work *w)
{
	for (size_t i = 0; i < nod_heard_count(heard); i++) {
		const struct nod_heard_id *id = nod_heard_id(heard, i);
		int network = network_of(f, names, id);
		if (network == NOD_NONE)
			continue;
		int status = view_of(learn, f, network, id, &w->views[w->count]);
		if (status < 0)
			return status;
		w->count += (size_t)status;
	}
	return 0;
}

int nod_learn_isolations_add(struct nod_learn *learn, const struct nod_findings *f,
			     const struct nod_heard *heard, const struct nod_interfaces *names)
{
	size_t room = nod_heard_count(heard) + 1;
	struct work w = {calloc(room, sizeof(*w.views)), 0, calloc(room, sizeof(*w.silent)),
			 calloc(room, sizeof(*w.moments))};
	int status = w.views && w.silent && w.moments ? 0 : -ENOMEM;

	if (!status)
		status = view_all(learn, f, heard, names, &w);
	if (!status)
		status = judge_isolations(learn, f, &w);
	free(w.views);
	free(w.silent);
	free(w.moments);
	return status;
}
