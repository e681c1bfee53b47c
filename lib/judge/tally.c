/* SPDX-License-Identifier: MIT */
/* What each sender did on one network, summed over its messages. */
#include "weighing.h"

#include <errno.h>
#include <math.h>

#include "track-take.h"

/* A first speaker this far ahead of the second is clearly first; closer, the
 * order may be the buffers'. Chosen: longer than one frame at 50 kbit/s. */
#define CLEAR_LEAD_NS (5 * NOD_NS_PER_MS)

/* First, but not clearly so, counts for this much. Chosen. */
#define NOT_CLEARLY 0.6

/* A node that has not requested the network for this long, while another
 * still does, has released it. From the cycle times of published example
 * sets (0.5 to 1 s) and the ring of a dozen nodes at 100 ms to 1 s. */
#define REQUEST_AGE_MIN_NS (5 * NOD_NS_PER_S)
#define REQUEST_AGE_PERIODS 4

/* Late time shorter than this is too short for shares. Chosen. */
#define LATE_MIN_NS (30 * NOD_NS_PER_S)

/* The share of the late time that so many frames of this message stand for. */
static double coverage_of(const struct nod_weighing *w, const struct nod_ident_finding *f,
			  uint64_t frames)
{
	const struct nod_period *p = f->after.rhythm == NOD_RHYTHM_UNKNOWN ? &f->before : &f->after;

	if (!w->held || w->n->awake_late.ns < LATE_MIN_NS || p->rhythm == NOD_RHYTHM_UNKNOWN ||
	    p->rhythm == NOD_RHYTHM_ON_EVENT)
		return -1;
	return (double)frames * (double)p->period.ns / (double)w->n->awake_late.ns;
}

/* A node of a ring that never indicates asks for the network also while the ring is built
 * anew and it sends alive messages. */
static uint64_t spoken_for(const struct nod_node *node)
{
	bool steady = node->ring_requests[NOD_PHASE_LATE] && !node->ready[NOD_PHASE_LATE];

	return steady ? node->pdus[NOD_PHASE_LATE] : node->requests[NOD_PHASE_LATE];
}

static void tally_node(struct nod_weighing *w, struct nod_tally *t, const struct nod_ident *ident,
		       const struct nod_ident_finding *f, const struct nod_held_ident *held)
{
	struct nod_period period = nod_sampler_period(&ident->settled);
	const struct nod_node *node = ident->node;

	t->request_coverage = fmax(t->request_coverage, coverage_of(w, f, spoken_for(node)));
	t->releases += node->releases[NOD_PHASE_LATE];
	t->asked += node->requests[NOD_PHASE_LATE];
	t->agreed += node->ready[NOD_PHASE_LATE];
	w->ring_slept += node->acknowledges[NOD_PHASE_LATE];
	w->ring_slept_at.ns = nod_later(w->ring_slept_at.ns, node->last_acknowledge.ns);
	t->ring_request |= node->ring_requests[NOD_PHASE_LATE] > 0;

	t->node = true;
	t->request.ns = nod_later(t->request.ns, held->request.ns);
	if (nod_time_is_set(held->request_from) &&
	    (!nod_time_is_set(t->request_from) || held->request_from.ns < t->request_from.ns))
		t->request_from = held->request_from;
	t->ready.ns = nod_later(t->ready.ns, held->ready.ns);
	if (period.rhythm != NOD_RHYTHM_UNKNOWN)
		t->nm_period = nod_later(t->nm_period, period.period.ns);
	t->limp_home |= ident->node->limp_home[NOD_PHASE_LATE] > 0;
	t->partial |= ident->node->partial[NOD_PHASE_LATE];
}

static bool is_cyclic(const struct nod_ident_finding *f)
{
	return f->before.rhythm == NOD_RHYTHM_CYCLIC || f->before.rhythm == NOD_RHYTHM_MIXED;
}

/* What the ident did in the span up to w->end. */
static bool held_ident(const struct nod_weighing *w, const struct nod_track *track,
		       const struct nod_ident *ident, struct nod_held_ident *held)
{
	uint32_t k = (uint32_t)(ident - track->idents.items);

	if (!w->cut)
		return nod_track_held_ident(track, ident, w->serial, held);
	if (k >= w->cut->counts[track->network] ||
	    w->cut->idents[track->network][k].span != w->serial)
		return false;
	*held = w->cut->idents[track->network][k].held;
	return true;
}

static void tally_ident(struct nod_weighing *w, const struct nod_track *track,
			const struct nod_ident *ident, int index)
{
	const struct nod_ident_finding *f = &w->a->f->idents[index];
	struct nod_tally *t = w->tallies[f->sender];
	struct nod_held_ident held;

	t->tester = w->a->f->senders[f->sender].kind == NOD_SENDER_TESTER;
	t->present |= ident->last.ns >= w->a->f->lock.ns;
	t->frames += f->frames;
	t->frames_late += f->frames_late;
	t->lone_runs += ident->lone_runs;
	t->lone_ns = nod_ns_add(t->lone_ns, ident->lone_ns);
	w->lone_ns = nod_ns_add(w->lone_ns, ident->lone_ns);
	nod_tally_inputs(w, t, ident, index);
	if (f->after.rhythm == NOD_RHYTHM_ON_EVENT ||
	    (f->before.rhythm == NOD_RHYTHM_ON_EVENT && f->after.rhythm == NOD_RHYTHM_UNKNOWN))
		t->events_late += f->frames_late;
	t->coverage = fmax(t->coverage, coverage_of(w, f, f->frames_late));
	if (is_cyclic(f) && f->frames_late && (!t->fastest || f->before.period.ns < t->fastest))
		t->fastest = f->before.period.ns;
	if (!held_ident(w, track, ident, &held))
		return;
	t->last.ns = nod_later(t->last.ns, held.last.ns);
	nod_tally_silence(w, t, ident, f, held.last);
	if (ident->node)
		tally_node(w, t, ident, f, &held);
}

/* Of a sender of which nothing is known yet. */
static struct nod_tally nothing(const struct nod_findings *f, size_t sender)
{
	const struct nod_sender_finding *s = &f->senders[sender];

	return (struct nod_tally){
		.last = NOD_TIME_NONE,
		.due = NOD_TIME_NONE,
		.stopped = NOD_TIME_NONE,
		.request = NOD_TIME_NONE,
		.ready = NOD_TIME_NONE,
		.request_from = NOD_TIME_NONE,
		.changing_ident = NOD_NONE,
		.repeats = NOD_NONE,
		.coverage = -1,
		.request_coverage = -1,
		/* heard on several networks, or said to be one */
		.gateway = s->gateway,
		.unmapped = f->vehicle->module_count &&
			    (s->kind == NOD_SENDER_ID || s->kind == NOD_SENDER_NODE)};
}

static int keep_tally(struct nod_weighing *w, struct nod_tally **to, struct nod_tally tally)
{
	if (*to)
		return 0;
	*to = nod_arena_alloc(w->a->arena, sizeof(**to));
	if (!*to)
		return -ENOMEM;
	**to = tally;
	return 0;
}

/* One for each sender that is heard here or is said to wake it; the others share one for each
 * kind there is. */
static int make_tallies(struct nod_weighing *w, const struct nod_track *track)
{
	const struct nod_findings *f = w->a->f;
	struct nod_tally *shared[2][2] = {{NULL}};
	int status = 0;

	w->tallies = nod_arena_alloc(w->a->arena, (f->sender_count + 1) * sizeof(*w->tallies));
	if (!w->tallies)
		return -ENOMEM;
	for (uint32_t i = 0; i < track->idents.count && !status; i++) {
		int s = f->idents[w->a->ident_of[track->network][i]].sender;
		status = keep_tally(w, &w->tallies[s], nothing(f, (size_t)s));
	}
	for (size_t i = 0; i < f->wake_count && !status; i++) {
		int s = f->wakes[i].network == w->n->network ? f->wakes[i].sender : NOD_NONE;
		if (s != NOD_NONE)
			status = keep_tally(w, &w->tallies[s], nothing(f, (size_t)s));
	}
	for (size_t i = 0; i < f->sender_count && !status; i++) {
		if (w->tallies[i])
			continue;
		struct nod_tally none = nothing(f, i);
		struct nod_tally **common = &shared[none.gateway][none.unmapped];
		status = keep_tally(w, common, none);
		w->tallies[i] = *common;
	}
	return status;
}

static void tally_first(struct nod_weighing *w, const struct nod_wake_finding *wake)
{
	struct nod_tally *t = w->tallies[wake->sender];

	w->wakes++;
	t->first_of++;
	t->first_clarity += wake->lead.ns >= CLEAR_LEAD_NS || wake->lead.ns == INT64_MIN
				    ? 1
				    : NOT_CLEARLY;
	t->only_of += wake->lead.ns == INT64_MIN;
}

/* The span that began at `time`, NULL: none did. */
static const struct nod_span *span_begun(const struct nod_track *track, nod_time time)
{
	size_t low = 0, high = track->span_count;

	while (low < high) {
		size_t middle = (low + high) / 2;
		if (track->spans[middle].from.ns < time.ns)
			low = middle + 1;
		else
			high = middle;
	}
	return low < track->span_count && track->spans[low].from.ns == time.ns ? &track->spans[low]
									       : NULL;
}

/* What network management says of the wake-up that began at `time`. */
static void tally_management(struct nod_weighing *w, struct nod_track *track, nod_time time)
{
	const struct nod_span *span = span_begun(track, time);
	struct nod_span open;
	bool asleep;

	if (!span && nod_track_current(track, w->a->engine->now, &open, &asleep) &&
	    open.from.ns == time.ns)
		span = &open;
	if (!span)
		return;
	if (span->requester != NOD_NONE) {
		int ident = w->a->ident_of[track->network][span->requester];
		w->tallies[w->a->f->idents[ident].sender]->kept_in++;
		w->ring_kept += track->nm.scheme == NOD_NM_OSEK;
	}
	for (int k = 0; k < 2; k++)
		if (span->active_wakers[k] != NOD_NONE) {
			int ident = w->a->ident_of[track->network][span->active_wakers[k]];
			const struct nod_node *node =
				track->idents.items[span->active_wakers[k]].node;
			struct nod_tally *t = w->tallies[w->a->f->idents[ident].sender];
			t->active_in++;
			t->burst_in += node && !node->active_wakeups[NOD_PHASE_LATE] &&
				       !node->active_wakeups[NOD_PHASE_SETTLING];
		}
}

static void tally_wakes(struct nod_weighing *w, struct nod_track *track)
{
	for (size_t i = 0; i < w->a->f->wake_count; i++) {
		const struct nod_wake_finding *wake = &w->a->f->wakes[i];
		if (wake->network != w->n->network || *wake->cause)
			continue;
		tally_first(w, wake);
		tally_management(w, track, wake->time);
	}
}

/* A request that began within the last minute before an isolation may be what
 * the person stirred up on the way: a bonnet, a door, a lamp. */
#define APPROACH_NS (60 * NOD_NS_PER_S)

static bool persists(const struct nod_weighing *w, const struct nod_tally *t)
{
	if (w->cut && nod_time_is_set(t->request_from) &&
	    nod_time_since(w->end, t->request_from).ns < APPROACH_NS)
		return false;
	return t->request_coverage < 0 || t->request_coverage >= NOD_COVERAGE_MIN;
}

/* A node of a ring that gives the indication again and again, or that only limps, may have
 * been woken by one that does neither. A holder lets go once at most; one more by
 * chance. Who joined late asks for a moment, and is ready ever after. Chosen. */
#define RELEASES_MOST 2

static bool is_steady(const struct nod_weighing *w, const struct nod_tally *t)
{
	return t->ring_request && t->asked >= t->agreed && t->releases <= RELEASES_MOST &&
	       persists(w, t);
}

bool nod_weighing_requests(const struct nod_weighing *w, const struct nod_tally *t)
{
	int64_t age = nod_later(REQUEST_AGE_MIN_NS, REQUEST_AGE_PERIODS * t->nm_period);

	if (w->pauseless != NOD_NONE && w->pause_weight >= 1 && t != w->tallies[w->pauseless])
		return false; /* it was woken, and does what the standard demands then */
	if (w->steady_request && !is_steady(w, t))
		return false;
	return t->node && nod_time_is_set(t->request) && persists(w, t) &&
	       nod_time_since(w->last_request, t->request).ns <= age;
}

static void tally_requests(struct nod_weighing *w)
{
	w->last_request = NOD_TIME_NONE;
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (persists(w, w->tallies[i]))
			w->last_request.ns = nod_later(w->last_request.ns,
						       w->tallies[i]->request.ns);
	for (size_t i = 0; i < w->a->f->sender_count; i++) {
		const struct nod_tally *t = w->tallies[i];
		bool requests = nod_weighing_requests(w, t);
		w->nodes += t->node;
		w->passive += !t->node && !t->tester && nod_time_is_set(t->last);
		w->requesting += requests;
		w->common += requests && !t->gateway;
		w->covering += t->coverage >= NOD_COVERAGE_MIN;
	}
}

/* Sets the moment at which the longest span is looked at. */
static void choose_moment(struct nod_weighing *w, const struct nod_track *track)
{
	const struct nod_engine *engine = w->a->engine;
	size_t net = (size_t)w->n->network;

	w->open = w->serial == track->serial && w->n->state == NOD_STATE_AWAKE;
	w->end = w->open ? w->a->f->end : w->span.to;
	for (size_t i = 0; i < engine->snapshot_count && !w->cut; i++) {
		const struct nod_snapshot *s = &engine->snapshots[i];
		nod_time time = w->a->f->marks[s->mark].time;
		bool inside = net < s->tracks && s->serials[net] == w->serial &&
			      time.ns > w->span.from.ns && time.ns < w->end.ns;
		if (!inside || w->a->f->marks[s->mark].kind != NOD_MARK_ISOLATED)
			continue;
		w->cut = s;
		w->end = time;
		w->open = true;
	}
}

/* A sender counts as alone when nobody else spoke for this long, and nobody else is slower than
 * that: longer than the cyclic periods in use (<= 2 s). Chosen. */
#define LONE_MIN_NS (3 * NOD_NS_PER_S)

/* One that was only not due again yet: it goes on. */
static bool is_another_due(const struct nod_weighing *w)
{
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if ((int)i != w->lone && w->tallies[i]->due.ns > w->end.ns)
			return true;
	return false;
}

static void find_lone(struct nod_weighing *w)
{
	nod_time last = NOD_TIME_NONE;

	w->lone = NOD_NONE;
	w->lone_from = w->span.from;
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (w->tallies[i]->last.ns > last.ns) {
			last = w->tallies[i]->last;
			w->lone = (int)i;
		}
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if ((int)i != w->lone && w->tallies[i]->last.ns > w->lone_from.ns)
			w->lone_from = w->tallies[i]->last;
	if (nod_time_since(w->end, w->lone_from).ns < LONE_MIN_NS || is_another_due(w))
		w->lone = NOD_NONE;
}

int nod_weighing_tally(struct nod_weighing *w)
{
	struct nod_track *track = nod_engine_track(w->a->engine, (size_t)w->n->network);
	if (make_tallies(w, track))
		return -ENOMEM;
	w->ring_slept_at = NOD_TIME_NONE;
	w->serial = nod_track_held(track, &w->span);
	choose_moment(w, track);
	for (uint32_t i = 0; i < track->idents.count; i++)
		tally_ident(w, track, &track->idents.items[i], w->a->ident_of[track->network][i]);
	nod_weighing_find_repeats(w);
	find_lone(w);
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		w->steady_request |= is_steady(w, w->tallies[i]);
	nod_weighing_find_pauseless(w);
	nod_weighing_find_beginner(w);
	tally_requests(w);
	tally_wakes(w, track);
	return 0;
}
