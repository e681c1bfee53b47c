/* What the isolations in the journal show: each is an experiment with a
 * before, a during and, when it was refitted, an after. */
#include "analysis.h"

#include <errno.h>
#include <strings.h>

#include "intervals.h"

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

/* With the network awake for less than this while it was isolated nothing is
 * said about its messages: marks are entered some seconds off. Chosen. */
#define AWAKE_MIN_NS (10 * NOD_NS_PER_S)

/* A fuse is pulled first and noted then: a network that was awake all along and
 * fell silent within this time before the mark did so with the pull. A wake-up
 * ends by itself, so there the mark is taken as it stands. Chosen. */
#define MARK_LATE_NS (5 * NOD_NS_PER_S)

/* A waker is silenced when nothing woke the car for this many of the intervals
 * seen before: five per cent by chance if it came at random. */
#define INTERVALS_MIN 3

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

/* How long after its last frame a span still is the one that a mark means. */
static int64_t reach_of(const struct nod_network_finding *n)
{
	return n->quiet_time.ns > MARK_LATE_NS ? n->quiet_time.ns : MARK_LATE_NS;
}

/* The span during which `time` fell, or -1. */
static int span_at(const struct nod_network_finding *n, nod_time time)
{
	for (size_t i = 0; i < n->span_count; i++)
		if (n->spans[i].from.ns <= time.ns &&
		    (n->spans[i].open ||
		     nod_ns_add(n->spans[i].to.ns, reach_of(n)) >= time.ns))
			return (int)i;
	return -1;
}

/* True when something that was isolated talks on the network. */
static bool sits_on(const struct trial *t, size_t network)
{
	const struct nod_findings *f = t->a->f;

	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].network == (int)network &&
		    nod_trial_involves(t->a, t->out, f->idents[i].sender))
			return true;
	return false;
}

/* Takes the network when it was awake longer than the one taken before. */
static void consider(struct trial *t, size_t network)
{
	const struct nod_network_finding *n = &t->a->f->networks[network];
	int span = span_at(n, t->from);

	if (span < 0 || (t->network &&
			 t->network->spans[t->span].from.ns <= n->spans[span].from.ns))
		return;
	t->network = n;
	t->span = (size_t)span;
	t->out->network = (int)network;
}

/* Chooses the network the trial speaks of: of those that were awake when it was
 * isolated the one that was so the longest, best one on which the isolated
 * module talks. */
static bool choose_network(struct trial *t)
{
	for (int pass = 0; pass < 2 && !t->network; pass++)
		for (size_t n = 0; n < t->a->f->network_count; n++)
			if (pass || sits_on(t, n))
				consider(t, n);
	return t->network != NULL;
}

/* How long a network was awake while the part was isolated. */
static int64_t awake_during(const struct trial *t, const struct nod_network_finding *n)
{
	int64_t total = 0;

	for (size_t i = 0; i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		int64_t from = span->from.ns > t->from.ns ? span->from.ns : t->from.ns;
		int64_t to = span->to.ns < t->to.ns ? span->to.ns : t->to.ns;
		total = nod_ns_add(total, to > from ? to - from : 0);
	}
	return total;
}

/* Turns the frame counts of one network into those between the isolation and
 * its end. */
static void frames_on_network(const struct trial *t, size_t net, uint64_t *during)
{
	const int *map = t->a->ident_of[net];

	for (uint32_t k = 0; t->after && net < t->after->tracks && k < t->after->counts[net]; k++)
		during[map[k]] = t->after->idents[net][k].frames;
	for (uint32_t k = 0; net < t->before->tracks && k < t->before->counts[net]; k++)
		during[map[k]] -= t->before->idents[net][k].frames;
}

/* Frames of each message between the isolation and its end: by index into the
 * findings' idents. Arena memory, NULL when it ran out. */
static uint64_t *frames_during(const struct trial *t)
{
	const struct nod_findings *f = t->a->f;
	uint64_t *during = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(*during));

	if (!during)
		return NULL;
	for (size_t i = 0; i < f->ident_count; i++)
		during[i] = f->idents[i].frames;
	for (size_t net = 0; net < t->a->engine->track_room; net++)
		if (nod_engine_track(t->a->engine, net))
			frames_on_network(t, net, during);
	return during;
}

/* What a message did while the part was isolated. */
enum presence { CANNOT_SAY, OFF, ON };

static enum presence presence_of(const struct nod_ident_finding *ident, const struct trial *t,
				 const int64_t *awake, uint64_t heard)
{
	if (ident->first.ns >= t->from.ns || ident->before.rhythm == NOD_RHYTHM_UNKNOWN ||
	    ident->before.period.ns <= 0 || awake[ident->network] < AWAKE_MIN_NS)
		return CANNOT_SAY;
	double expected = (double)awake[ident->network] / (double)ident->before.period.ns;
	if (expected < EXPECTED_MIN)
		return CANNOT_SAY;
	return (double)heard <= OFF_SHARE * expected  ? OFF
	       : (double)heard >= ON_SHARE * expected ? ON
						      : CANNOT_SAY;
}

/* Lists the messages that stopped and the senders that stayed on; *not_off: all
 * of what was isolated, as far as can be said, stayed on. */
static int judge_messages(struct trial *t, bool *not_off)
{
	struct nod_findings *f = t->a->f;
	struct nod_trial_finding *out = t->out;
	int64_t *awake = nod_arena_alloc(t->a->arena, (f->network_count + 1) * sizeof(*awake));
	uint64_t *during = frames_during(t);
	size_t on = 0, off = 0;

	out->vanished = nod_arena_alloc(t->a->arena, (f->ident_count + 1) * sizeof(int));
	out->stayed_on = nod_arena_alloc(t->a->arena, (f->sender_count + 1) * sizeof(bool));
	if (!out->vanished || !out->stayed_on || !during || !awake)
		return -ENOMEM;
	for (size_t i = 0; i < f->network_count; i++)
		awake[i] = awake_during(t, &f->networks[i]);
	for (size_t i = 0; i < f->ident_count; i++) {
		enum presence p = presence_of(&f->idents[i], t, awake, during[i]);
		bool involved = nod_trial_involves(t->a, out, f->idents[i].sender);
		if (p == OFF)
			out->vanished[out->vanished_count++] = (int)i;
		if (p == ON)
			out->stayed_on[f->idents[i].sender] = true;
		off += involved && p == OFF;
		on += involved && p == ON;
	}
	*not_off = on && !off;
	return 0;
}

/* The earliest last frame of a span that still was awake when the part was
 * isolated. */
static int64_t awake_until(const struct trial *t, const struct nod_span_finding *span)
{
	return t->from.ns - (span->slept_before ? 0 : MARK_LATE_NS);
}

/* The span after which a network slept while the part was isolated, or -1. What
 * ended before the isolation is not its doing. */
static int sleep_of(const struct trial *t, const struct nod_network_finding *n, size_t first)
{
	for (size_t i = first; i < n->span_count && n->spans[i].from.ns <= t->to.ns; i++)
		if (nod_span_slept_after(n, i) && n->spans[i].to.ns < t->to.ns &&
		    n->spans[i].to.ns > awake_until(t, &n->spans[i]))
			return (int)i;
	return -1;
}

/* A network that was awake when the part was isolated and stayed so all along:
 * what was isolated is not what holds the car. NULL: there is none. */
static const struct nod_network_finding *still_awake(const struct trial *t)
{
	for (size_t i = 0; i < t->a->f->network_count; i++) {
		const struct nod_network_finding *n = &t->a->f->networks[i];
		int span = span_at(n, t->from);
		bool awake = span >= 0 && (n->spans[span].open || n->spans[span].to.ns > t->from.ns);
		if (n != t->network && awake && sleep_of(t, n, (size_t)span) < 0)
			return n;
	}
	return NULL;
}

/* The longest interval between wake-ups before the isolation that nothing in
 * the journal explains; 0: fewer than two. */
static int64_t wake_interval(const struct trial *t, size_t *wakes)
{
	struct nod_intervals in = nod_intervals_of_wakes(t->a->f, NOD_NONE, t->from);

	*wakes = nod_time_is_set(in.first) ? in.count + 1 : 0;
	return in.longest.ns;
}

/* The sleep that proves an isolation without a refit. */
static int64_t long_sleep(const struct trial *t)
{
	size_t wakes;
	int64_t interval = wake_interval(t, &wakes);

	if (interval > INT64_MAX / INTERVALS_MIN)
		return INT64_MAX;
	return interval * INTERVALS_MIN > LONG_SLEEP_NS ? interval * INTERVALS_MIN : LONG_SLEEP_NS;
}

/* The span after which it slept while isolated, or -1. */
static int find_sleep(const struct trial *t)
{
	return sleep_of(t, t->network, t->span);
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
	nod_time woke = nod_span_silence_end(t->network, span, t->a->f->end);
	nod_time until = woke.ns < t->to.ns ? woke : t->to;
	nod_duration silent = nod_time_since(until, end);
	const char *name = t->network->name;

	out->slept_after = nod_time_since(end.ns > t->from.ns ? end : t->from, t->from);
	out->result = NOD_TRIAL_SLEPT;
	const char *after =
		out->slept_after.ns < NOD_NS_PER_S
			? "at once"
			: nod_arena_printf(t->a->arena, "%s later",
					   nod_analysis_length(t->a, out->slept_after));
	const char *quiet = nod_analysis_length(t->a, silent);
	const struct nod_network_finding *held = still_awake(t);
	if (held) {
		out->result = NOD_TRIAL_UNDECIDED;
		out->text = nod_arena_printf(
			t->a->arena, "%s isolated at %s: %s slept %s, but %s stayed awake.",
			out->subject, nod_analysis_when(t->a, t->from), name, after, held->name);
	} else if (refit_held(t, out->slept_after)) {
		out->result = NOD_TRIAL_PROVED;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: %s slept %s; refitted at %s: it woke and stayed "
			"awake. Proved both ways.",
			out->subject, nod_analysis_when(t->a, t->from), name, after,
			nod_analysis_when(t->a, t->to));
	} else if (silent.ns >= long_sleep(t) && end.ns > t->from.ns) {
		out->result = NOD_TRIAL_PROVED;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: %s slept %s and stayed asleep for %s. Proved by a "
			"long clean sleep, not yet by refitting.",
			out->subject, nod_analysis_when(t->a, t->from), name, after, quiet);
	} else {
		out->text = nod_arena_printf(
			t->a->arena, "%s isolated at %s: %s slept %s, and was silent for %s.",
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

/* The next wake-up after the isolation that nothing explains, else its end. */
static nod_time next_wake(const struct trial *t, nod_time from, nod_time until, bool *woke)
{
	const struct nod_findings *f = t->a->f;
	nod_time next = until;

	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		if (!*w->cause && w->time.ns > from.ns && w->time.ns < next.ns)
			next = w->time;
	}
	*woke = next.ns < until.ns;
	return next;
}

/* Isolated while all slept: what matters is whether it is woken again. */
static void judge_wakes(struct trial *t)
{
	struct nod_trial_finding *out = t->out;
	size_t wakes;
	bool woke, again;
	int64_t interval = wake_interval(t, &wakes);
	const char *when = nod_analysis_when(t->a, t->from);

	out->network = NOD_NONE;
	if (wakes < 2) {
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: no network was awake then.",
					     out->subject, when);
		return;
	}
	nod_time end = next_wake(t, t->from, t->to, &woke);
	out->slept_after = nod_time_since(end, t->from);
	const char *silent = nod_analysis_length(t->a, out->slept_after);
	const char *usual = nod_analysis_length(t->a, (nod_duration){interval});
	if (woke) {
		out->result = NOD_TRIAL_UNCHANGED;
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: the car was woken all the same, %s "
					     "later.",
					     out->subject, when, silent);
		return;
	}
	if (out->slept_after.ns / INTERVALS_MIN < interval) {
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: watched for only %s; wake-ups came "
					     "up to %s apart.",
					     out->subject, when, silent, usual);
		return;
	}
	next_wake(t, nod_time_after(t->to, nod_seconds(20)), t->a->f->end, &again);
	out->result = again || out->slept_after.ns >= LONG_SLEEP_NS ? NOD_TRIAL_PROVED
								    : NOD_TRIAL_SLEPT;
	out->text = nod_arena_printf(t->a->arena,
				     "%s isolated at %s: nothing woke the car for %s (before: up to %s "
				     "apart)%s.",
				     out->subject, when, silent, usual,
				     again ? "; refitted, it was woken again" : "");
}

/* Awake when it was isolated: the last frame came after that, or just before. */
static bool was_awake(const struct trial *t)
{
	const struct nod_span_finding *span = &t->network->spans[t->span];

	return span->open || span->to.ns > awake_until(t, span);
}

static int judge(struct trial *t)
{
	struct nod_trial_finding *out = t->out;
	bool not_off;

	if (!choose_network(t) || !was_awake(t)) {
		judge_wakes(t);
		return 0;
	}
	if (judge_messages(t, &not_off))
		return -ENOMEM;
	int span = find_sleep(t);
	if (not_off) {
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
