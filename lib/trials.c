/* What the isolations in the journal show: each is an experiment with a
 * before, a during and, when it was refitted, an after. */
#include "analysis.h"

#include <errno.h>
#include <strings.h>

/* Sleep this long, undisturbed, proves an isolation without a refit: common
 * practice, no source: more than twice what a car takes from unlocked-and-
 * locked to sleep on most networks; wakers come every few minutes. Chosen. */
#define LONG_SLEEP_NS (600 * NOD_NS_PER_S)

/* Nothing is concluded from an isolation shorter than this, and than this
 * share of the network's time to sleep: pulling a fuse is itself a
 * disturbance that the network has to settle from. Chosen. */
#define PATIENCE_MIN_NS (60 * NOD_NS_PER_S)
#define PATIENCE_SHARE 0.25

/* The refit wakes the car for everybody; the network must stay awake for
 * this much longer than it took to sleep with the part isolated. Chosen. */
#define REFIT_FACTOR 3
#define REFIT_MIN_NS (60 * NOD_NS_PER_S)

/* Of the frames that would have come, fewer than this means it is off, more
 * than that it is not. The mark may be some seconds early or late. Chosen. */
#define OFF_SHARE 0.2
#define ON_SHARE 0.5
#define EXPECTED_MIN 5

struct trial {
	struct nod_analysis *a;
	struct nod_trial_finding *out;
	const struct nod_snapshot *before, *after; /* after NULL: until the end */
	nod_time from, to; /* isolated; refitted or end */
	nod_time quiet_until; /* next disturbance, or `to` */
	const struct nod_network_finding *network;
	size_t span; /* the one that was on when it was isolated */
};

static const struct nod_snapshot *snapshot_of(const struct nod_engine *engine, size_t mark)
{
	for (size_t i = 0; i < engine->snapshot_count; i++)
		if (engine->snapshots[i].mark == (int)mark)
			return &engine->snapshots[i];
	return NULL;
}

static bool involves(const struct nod_vehicle *vehicle, const struct nod_trial_finding *t,
		     const struct nod_sender_finding *sender)
{
	if (sender->kind != NOD_SENDER_MODULE)
		return false;
	if (t->module == sender->module)
		return true;
	const struct nod_module *module = &vehicle->modules[sender->module];
	for (size_t i = 0; t->fuse != NOD_NONE && i < module->fuse_count; i++)
		if (module->fuses[i] == t->fuse)
			return true;
	return false;
}

bool nod_trial_involves(const struct nod_analysis *a, const struct nod_trial_finding *t, int sender)
{
	return sender != NOD_NONE && involves(a->f->vehicle, t, &a->f->senders[sender]);
}

/* The span during which `time` fell, or -1. */
static int span_at(const struct nod_network_finding *n, nod_time time)
{
	for (size_t i = 0; i < n->span_count; i++)
		if (n->spans[i].from.ns <= time.ns &&
		    (n->spans[i].open ||
		     n->spans[i].to.ns + n->quiet_time.ns >= time.ns))
			return (int)i;
	return -1;
}

static bool slept_after(const struct nod_network_finding *n, size_t i)
{
	return i + 1 < n->span_count ? n->spans[i + 1].slept_before
				     : n->state == NOD_STATE_ASLEEP;
}

/* Chooses the network the trial speaks of: one that was awake when it was
 * isolated, best one on which the isolated module talks. */
static bool choose_network(struct trial *t)
{
	const struct nod_findings *f = t->a->f;

	for (int pass = 0; pass < 2; pass++)
		for (size_t n = 0; n < f->network_count; n++) {
			bool sits = false;
			int span = span_at(&f->networks[n], t->from);
			for (size_t i = 0; !pass && i < f->ident_count; i++)
				sits |= f->idents[i].network == (int)n &&
					nod_trial_involves(t->a, t->out, f->idents[i].sender);
			if (span >= 0 && (sits || pass)) {
				t->network = &f->networks[n];
				t->span = (size_t)span;
				t->out->network = (int)n;
				return true;
			}
		}
	return false;
}

/* How long the network was awake while the part was isolated. */
static int64_t awake_during(const struct trial *t)
{
	int64_t total = 0;

	for (size_t i = t->span; i < t->network->span_count; i++) {
		const struct nod_span_finding *span = &t->network->spans[i];
		int64_t from = span->from.ns > t->from.ns ? span->from.ns : t->from.ns;
		int64_t to = span->to.ns < t->to.ns ? span->to.ns : t->to.ns;
		total += to > from ? to - from : 0;
	}
	return total;
}

/* Frames of each message of the network between the isolation and its end:
 * by index into the findings' idents. Arena memory, NULL when it ran out. */
static uint64_t *frames_during(const struct trial *t)
{
	size_t net = (size_t)t->network->network;
	const int *map = t->a->ident_of[net];
	const struct nod_findings *f = t->a->f;
	uint64_t *during = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(*during));

	if (!during)
		return NULL;
	for (size_t i = 0; i < f->ident_count; i++)
		during[i] = f->idents[i].frames;
	for (uint32_t k = 0; t->after && net < t->after->tracks && k < t->after->counts[net]; k++)
		during[map[k]] = t->after->idents[net][k].frames;
	for (uint32_t k = 0; net < t->before->tracks && k < t->before->counts[net]; k++)
		during[map[k]] -= t->before->idents[net][k].frames;
	return during;
}

/* Lists the messages that stopped; *still_on: the isolated module's went on. */
static int judge_messages(struct trial *t, bool *still_on)
{
	struct nod_findings *f = t->a->f;
	double awake_ns = (double)awake_during(t);
	uint64_t *during = frames_during(t);

	*still_on = false;
	t->out->vanished = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(int));
	if (!t->out->vanished || !during)
		return -ENOMEM;
	for (size_t i = 0; i < f->ident_count; i++) {
		const struct nod_ident_finding *ident = &f->idents[i];
		if (ident->network != t->network->network || ident->first.ns >= t->from.ns ||
		    ident->before.rhythm == NOD_RHYTHM_UNKNOWN || ident->before.period.ns <= 0)
			continue;
		double expected = awake_ns / (double)ident->before.period.ns;
		double heard = (double)during[i];
		if (expected < EXPECTED_MIN)
			continue;
		if (heard <= OFF_SHARE * expected)
			t->out->vanished[t->out->vanished_count++] = (int)i;
		else if (heard >= ON_SHARE * expected &&
			 nod_trial_involves(t->a, t->out, ident->sender))
			*still_on = true;
	}
	return 0;
}

/* The span after which it slept while isolated, or -1. */
static int find_sleep(const struct trial *t)
{
	for (size_t i = t->span; i < t->network->span_count; i++) {
		if (t->network->spans[i].from.ns > t->to.ns)
			break;
		if (slept_after(t->network, i) && t->network->spans[i].to.ns < t->to.ns)
			return (int)i;
	}
	return -1;
}

/* The refit woke it, and it stayed awake much longer than it took to sleep. */
static bool refit_held(const struct trial *t, nod_duration slept)
{
	int i = span_at(t->network, nod_time_after(t->to, nod_seconds(20)));

	if (!t->after || i < 0)
		return false;
	int64_t awake = t->network->spans[i].to.ns - t->to.ns;
	return awake >= REFIT_MIN_NS && awake >= REFIT_FACTOR * slept.ns;
}

static void judge_slept(struct trial *t, size_t span)
{
	struct nod_trial_finding *out = t->out;
	nod_time end = t->network->spans[span].to;
	nod_time woke = span + 1 < t->network->span_count ? t->network->spans[span + 1].from
							  : t->a->f->end;
	nod_time until = woke.ns < t->to.ns ? woke : t->to;
	nod_duration silent = nod_time_since(until, end);
	const char *name = t->network->name;

	out->slept_after = nod_time_since(end, t->from);
	out->result = NOD_TRIAL_SLEPT;
	const char *after = nod_analysis_length(t->a, out->slept_after);
	const char *quiet = nod_analysis_length(t->a, silent);
	if (refit_held(t, out->slept_after)) {
		out->result = NOD_TRIAL_PROVED;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: %s slept %s later; refitted at %s: it woke and stayed "
			"awake. Proved both ways.",
			out->subject, nod_analysis_when(t->a, t->from), name, after,
			nod_analysis_when(t->a, t->to));
	} else if (silent.ns >= LONG_SLEEP_NS) {
		out->result = NOD_TRIAL_PROVED;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: %s slept %s later and stayed asleep for %s. Proved by a "
			"long clean sleep, not yet by refitting.",
			out->subject, nod_analysis_when(t->a, t->from), name, after, quiet);
	} else {
		out->text = nod_arena_printf(
			t->a->arena, "%s isolated at %s: %s slept %s later, and was silent for %s.",
			out->subject, nod_analysis_when(t->a, t->from), name, after, quiet);
	}
}

static void judge_awake(struct trial *t)
{
	struct nod_trial_finding *out = t->out;
	nod_duration waited = nod_time_since(t->quiet_until, t->from);
	double sleeps_within =
		(double)t->a->engine->vehicle->networks[t->network->network].sleeps_within.ns;
	bool patient = waited.ns >= PATIENCE_MIN_NS &&
		       (double)waited.ns >= PATIENCE_SHARE * sleeps_within;

	out->result = patient ? NOD_TRIAL_UNCHANGED : NOD_TRIAL_UNDECIDED;
	out->slept_after = waited;
	out->text = nod_arena_printf(
		t->a->arena,
		patient ? "%s isolated at %s: %s stayed awake for the %s that followed."
			: "%s isolated at %s: %s was watched for only %s; too short to tell.",
		out->subject, nod_analysis_when(t->a, t->from), t->network->name,
		nod_analysis_length(t->a, waited));
}

static int judge(struct trial *t)
{
	struct nod_trial_finding *out = t->out;
	bool still_on;

	if (!choose_network(t)) {
		out->network = NOD_NONE;
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: no network was awake then.",
					     out->subject, nod_analysis_when(t->a, t->from));
		return 0;
	}
	if (judge_messages(t, &still_on))
		return -ENOMEM;
	int span = find_sleep(t);
	if (still_on) {
		out->result = NOD_TRIAL_NOT_OFF;
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: but its frames went on. It was not "
					     "isolated, or the map is wrong.",
					     out->subject, nod_analysis_when(t->a, t->from));
	} else if (span >= 0) {
		judge_slept(t, (size_t)span);
	} else {
		judge_awake(t);
	}
	return 0;
}

static bool same_thing(const struct nod_trial_finding *out, const struct nod_vehicle *vehicle,
		       const char *subject)
{
	int fuse = NOD_NONE, module = NOD_NONE;

	if (!strcasecmp(out->subject, subject) || !*subject)
		return true;
	return nod_vehicle_resolve(vehicle, subject, &fuse, &module) && fuse == out->fuse &&
	       module == out->module;
}

/* Finds when it was refitted and when the next disturbance came. */
static void find_end(struct trial *t, size_t mark)
{
	const struct nod_findings *f = t->a->f;

	t->to = t->quiet_until = f->end;
	t->out->refitted = NOD_TIME_NONE;
	for (size_t i = mark + 1; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		bool refit = m->kind == NOD_MARK_REFITTED &&
			     same_thing(t->out, f->vehicle, m->subject);
		bool disturbs = nod_mark_disturbs((enum nod_mark_kind)m->kind) ||
				m->kind == NOD_MARK_LOCKED;
		if (disturbs && m->time.ns < t->quiet_until.ns)
			t->quiet_until = m->time;
		if (refit) {
			t->to = t->out->refitted = m->time;
			t->after = snapshot_of(t->a->engine, i);
			return;
		}
	}
}

static int run(struct nod_analysis *a, size_t mark)
{
	struct nod_trial_finding *out = &a->f->trials[a->f->trial_count];
	struct trial t = {.a = a, .out = out, .from = a->f->marks[mark].time};

	t.before = snapshot_of(a->engine, mark);
	if (!t.before)
		return 0;
	a->f->trial_count++;
	out->isolated = t.from;
	out->subject = a->f->marks[mark].subject;
	out->fuse = out->module = NOD_NONE;
	out->text = "";
	nod_vehicle_resolve(a->f->vehicle, out->subject, &out->fuse, &out->module);
	find_end(&t, mark);
	return judge(&t);
}

int nod_analysis_judge_trials(struct nod_analysis *a)
{
	size_t count = 0;

	for (size_t i = 0; i < a->f->mark_count; i++)
		count += a->f->marks[i].kind == NOD_MARK_ISOLATED;
	a->f->trials = nod_arena_alloc(a->arena, (count + 1) * sizeof(*a->f->trials));
	if (!a->f->trials)
		return -ENOMEM;
	for (size_t i = 0; i < a->f->mark_count; i++)
		if (a->f->marks[i].kind == NOD_MARK_ISOLATED && run(a, i))
			return -ENOMEM;
	return 0;
}
