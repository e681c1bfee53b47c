/* SPDX-License-Identifier: MIT */
#include "silence.h"

#include <math.h>

#include "track.h"

/* Messages of longer periods say little about a moment. Chosen: what cyclic control traffic
 * has, <= 2 s. */
#define STOP_PERIOD_MAX_NS (2100 * NOD_NS_PER_MS)
#define START_PERIOD_MAX_NS NOD_SILENCE_START_PERIOD_NS

/* A message has stopped when it is overdue by half a period and what a loaded bus delays
 * (some ms at 500 kbit/s). Chosen. */
#define OVERDUE 1.5
#define DELAY_NS (20 * NOD_NS_PER_MS)

/* Stops of the last seconds belong to the way to sleep: the run-down of published example
 * sets of network management takes up to 5 s, that of modules without it some tens. Chosen. */
#define RUN_DOWN_NS (30 * NOD_NS_PER_S)

/* With fewer cyclic messages nothing can be said. Chosen. */
#define STOPS_MIN 3

/* Of the messages of the last seconds, this share stopped before the end: in order; at most
 * the other: a few that fail to come for reasons of their own. Chosen. */
#define FADED_SHARE 0.4
#define ASTRAY_SHARE 0.08

/* Strengths, log-odds. For: each message that stopped before the others. Against: each sender
 * that ran to the very end, as modules rarely stop within one period of each other, the
 * less so the shorter the period; but all messages of one module do, so the first two senders
 * say nothing. Messages of unknown senders count as one sender by twos. Both are added up: in a
 * car that is being switched off and on messages stop as well, and dozens run on. */
#define FADED_FIRST 1.0
#define FADED_EACH 0.5
#define FADED_MAX 4.0
#define STROKE_MOST 1.2
#define STROKE_EACH 0.8 /* at least, where nobody stopped before */
#define STROKE_WEIGHT 0.45
#define STROKE_MAX 4.0
#define PATCHY_FRAMES_MIN 20
#define PATCHY_INTERVALS 3 /* a Poisson process has 95 % of its intervals below */
#define LAST_STOPS_S 1.0   /* in a run-down the last stops lie within this */
#define SAY_NOTHING 2      /* senders */
#define RAN_DOWN 1.0       /* most had stopped long before, and only few are left */
#define RAN_DOWN_MIN 5
#define RAN_DOWN_OF 3
#define STROKE_AFTER_FALL 0.4 /* most had stopped long before: a few may stop at once */

/* Network management allows the sleep when no request was made for its time-out, which is
 * longer than its cycle (1.5 to 4 times in published example sets); with a request just made
 * it does not sleep. In cycles; the longest in use when it is not known. */
#define RELEASED_CYCLES 1.4
#define CYCLE_MAX_NS NOD_NS_PER_S

/* Time-out and wait together are at most that long in published example sets (5 s each). */
#define RUN_OUT_NS (10 * NOD_NS_PER_S)
#define RELEASED 5.0

/* The time-out being longer than the cycle, who is cut off is found within its cycle, but for
 * what a loaded bus delays; who has been let go is overdue. Chosen. */
#define OVERDUE_JITTERS 4
#define OVERDUE_NS (8 * NOD_NS_PER_MS)
#define REQUEST_OVERDUE 3.0
#define REQUESTED (-1.5)

/* In the middle of its rhythm a message comes within its period, any moment as likely as any
 * other. A module that boots speaks after some hundred ms, rarely after some seconds. Where
 * somebody switches something, part of the messages run on and others begin: then only those count
 * that are there at once. */
#define IN_RHYTHM 0.95
#define ALL_RAN_ON 0.75
#define BOOT_SHARE 0.5
#define BOOT_S 0.2
#define START_EACH_MAX 2.0 /* the messages of one module start together */
#define STARTS_COUNTED 4

/* A message that came less often has not stopped. Chosen. */
#define FRAMES_MIN 5

/* Looked through for what has stopped; above, it is no car. Chosen. */
#define IDENTS_MAX 4096

/* Senders told apart at most. Chosen: their weight is at its limit long before. */
#define SENDERS_MAX 32

/* Messages that run to the end, or from the very begin, by sender. */
struct stroke {
	unsigned unknown;             /* sender not known */
	double sum;                   /* their weights */
	int64_t senders[SENDERS_MAX]; /* of the others */
	double weights[SENDERS_MAX];  /* of each, its most */
	unsigned count;
};

struct stops {
	unsigned running, fell, earlier;
	struct stroke stroke;
	int64_t beat; /* ns, INT64_MAX: none */
};

static void note_sender(struct stroke *stroke, const struct nod_track *track,
			const struct nod_ident *ident, double weight)
{
	unsigned i = 0;

	if (nod_track_sender(track, ident).kind == NOD_SENDER_ID) {
		stroke->unknown++;
		stroke->sum += weight;
		return;
	}
	while (i < stroke->count && stroke->senders[i] != ident->owner)
		i++;
	if (i == SENDERS_MAX)
		return;
	if (i == stroke->count) {
		stroke->count++;
		stroke->senders[i] = ident->owner;
		stroke->weights[i] = 0;
	}
	stroke->weights[i] = fmax(stroke->weights[i], weight);
}

/* All of them at the same instant, <= 0. least: of what each sender tells. */
static double weigh_stroke(const struct stroke *stroke, double least)
{
	double senders = stroke->count + stroke->unknown / 2.0;
	double sum = fmax(stroke->sum, least * stroke->unknown) / 2;

	for (unsigned i = 0; i < stroke->count; i++)
		sum += fmax(stroke->weights[i], least);
	if (senders <= SAY_NOTHING)
		return 0;
	return -fmin(sum * (senders - SAY_NOTHING) / senders, STROKE_MAX);
}

/* How much it tells that a message ran to the end, or from the begin, which by chance it does
 * with this probability. */
static double weigh_chance(double chance)
{
	return fmax(0, fmin(-STROKE_WEIGHT * log(chance), STROKE_MOST));
}

bool nod_silence_is_running(const struct nod_period *p, int64_t age)
{
	return (double)age <= OVERDUE * (double)p->period.ns + DELAY_NS;
}

/* A message without a rhythm, as of a logger that misses frames, may run to the end as well: by
 * its mean interval in this span. That it stopped before cannot be told. */
static void note_patchy(struct stops *stops, const struct nod_track *track,
			const struct nod_ident *ident, int64_t age)
{
	uint64_t frames = nod_ident_frames(ident) - ident->span_base;
	int64_t length = nod_time_since(ident->last, ident->span_first).ns;

	if (frames < PATCHY_FRAMES_MIN || ident->protocols & NOD_IDENT_DIAGNOSTIC)
		return;
	double near = PATCHY_INTERVALS * (double)length / (double)(frames - 1) + DELAY_NS;
	if ((double)age > near || near > LAST_STOPS_S * NOD_NS_PER_S)
		return;
	stops->running++;
	note_sender(&stops->stroke, track, ident,
		    weigh_chance(near / (LAST_STOPS_S * NOD_NS_PER_S)));
}

static void note_stop(struct stops *stops, const struct nod_track *track,
		      const struct nod_ident *ident, nod_time end)
{
	struct nod_period p = nod_ident_period(ident);
	int64_t age = nod_time_since(end, ident->last).ns;

	if (p.rhythm != NOD_RHYTHM_CYCLIC && p.rhythm != NOD_RHYTHM_UNKNOWN) {
		note_patchy(stops, track, ident, age);
		return;
	}
	if (p.rhythm != NOD_RHYTHM_CYCLIC || p.period.ns > STOP_PERIOD_MAX_NS || p.period.ns <= 0)
		return;
	if (age > RUN_DOWN_NS) {
		stops->earlier++;
	} else if (!nod_silence_is_running(&p, age)) {
		stops->fell++;
	} else {
		stops->running++;
		double near = OVERDUE * (double)p.period.ns + DELAY_NS;
		double weight = weigh_chance(near / (LAST_STOPS_S * NOD_NS_PER_S));
		note_sender(&stops->stroke, track, ident, weight);
		stops->beat = p.period.ns < stops->beat ? p.period.ns : stops->beat;
	}
}

static double weigh_stops(const struct stops *stops)
{
	unsigned all = stops->running + stops->fell;
	double share = all ? (double)stops->fell / all : 0;

	if (all < STOPS_MIN)
		return stops->earlier >= RAN_DOWN_MIN && stops->earlier >= RAN_DOWN_OF * all
			       ? RAN_DOWN
			       : 0;
	double faded = fmin(FADED_FIRST + FADED_EACH * stops->fell, FADED_MAX);
	double sure = (share - ASTRAY_SHARE) / (FADED_SHARE - ASTRAY_SHARE);
	double least = share > ASTRAY_SHARE ? 0 : STROKE_EACH;
	double few = stops->earlier > 2 * stops->running ? STROKE_AFTER_FALL : 1;
	return faded * fmax(0, fmin(sure, 1)) + few * weigh_stroke(&stops->stroke, least);
}

/* Between the acknowledge that all are ready and the silence lies the wait of OSEK NM, <= 5 s
 * in published example sets. */
#define ACKNOWLEDGED_NS (6 * NOD_NS_PER_S)

static bool is_acknowledged(const struct nod_track *track, nod_time end)
{
	nod_time acknowledge = NOD_TIME_NONE, request = NOD_TIME_NONE;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node)
			continue;
		acknowledge = node->last_acknowledge.ns > acknowledge.ns ? node->last_acknowledge
									 : acknowledge;
		request = node->last_request.ns > request.ns ? node->last_request : request;
	}
	return nod_time_is_set(acknowledge) && acknowledge.ns > request.ns &&
	       nod_time_since(end, acknowledge).ns <= ACKNOWLEDGED_NS;
}

/* Shorter is a burst: no published cycle is below 100 ms. */
#define CYCLE_MIN_NS (50 * NOD_NS_PER_MS)

static bool is_cycle(const struct nod_period *p)
{
	return p->rhythm == NOD_RHYTHM_CYCLIC && p->period.ns >= CYCLE_MIN_NS;
}

/* The longest cycle of the nodes, ns: it is the same for all but for bus-load reduction. */
static double cycle_of(const struct nod_track *track)
{
	int64_t longest = 0;

	for (uint32_t i = 0; i < track->idents.count; i++) {
		if (!track->idents.items[i].node)
			continue;
		struct nod_period p = nod_ident_period(&track->idents.items[i]);
		if (is_cycle(&p) && p.period.ns > longest)
			longest = p.period.ns;
	}
	return (double)(longest && longest < CYCLE_MAX_NS ? longest : CYCLE_MAX_NS);
}

/* What network management says of the end. */
static double weigh_management(const struct nod_track *track, nod_time end)
{
	const struct nod_ident *latest = NULL;

	if (is_acknowledged(track, end))
		return RELEASED;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		if (ident->node && ident->node->span == track->serial &&
		    nod_time_is_set(ident->node->last_request) &&
		    (!latest || ident->node->last_request.ns > latest->node->last_request.ns))
			latest = ident;
	}
	if (!latest)
		return 0;
	struct nod_period p = nod_ident_period(latest);
	double cycle = is_cycle(&p) ? (double)p.period.ns : cycle_of(track);
	double age = (double)nod_time_since(end, latest->node->last_request).ns;
	if (age > RUN_OUT_NS)
		return 0; /* released long ago, and awake all the same */
	if (age >= RELEASED_CYCLES * cycle + DELAY_NS)
		return RELEASED;
	if (age <= cycle)
		return REQUESTED;
	double late = fmax(OVERDUE_JITTERS * (double)p.jitter.ns, OVERDUE_NS);
	return is_cycle(&p) && age > cycle + late ? REQUEST_OVERDUE : 0;
}

static double weigh_start(double after_s, double period_s)
{
	double boot_s = (double)NOD_SILENCE_BOOT_NS / NOD_NS_PER_S;
	double rhythm = after_s <= 1.1 * period_s + 0.01 ? IN_RHYTHM / period_s
							 : (1 - IN_RHYTHM) / boot_s;
	double boot = BOOT_SHARE * exp(-after_s / BOOT_S) / BOOT_S + (1 - BOOT_SHARE) / boot_s;

	return fmax(-START_EACH_MAX, fmin(log(boot / rhythm), START_EACH_MAX));
}

/* Messages are not independent of each other: a few of them count, and one says nothing. */
static double join(double sum, unsigned count)
{
	return count ? sum / count * fmin(count - 1, STARTS_COUNTED) : 0;
}

/* Returns what it says for a boot that this message began so long after the first frame. */
static double take_start(struct stroke *at_once, const struct nod_track *track,
			 const struct nod_ident *ident, double after_s)
{
	double period_s = (double)nod_ident_period(ident).period.ns / NOD_NS_PER_S;

	if (after_s <= period_s)
		note_sender(at_once, track, ident, weigh_chance(1 - exp(-period_s / BOOT_S)));
	return weigh_start(after_s, period_s);
}

/* The log-odds against both ways of having run on. */
static double weigh_begin(double starts, double stroke)
{
	return -log(ALL_RAN_ON * exp(-starts) + (1 - ALL_RAN_ON) * exp(-stroke));
}

/* A network that wakes says so by its management: the ring is built anew from alive messages,
 * who woke it sets the active wake-up bit or sends a burst, and most nodes announce themselves
 * at once and only for the repeat-message time (<= 4 s in published example sets). */
#define ANNOUNCED_WITHIN_NS (1500 * NOD_NS_PER_MS)
#define ANNOUNCED_FOR_NS (6 * NOD_NS_PER_S)
#define BURST_LEAST 4
#define BEGUN 5.0
#define ANNOUNCED 3.0

/* What waited somewhere came at once (a pause of the recorder's), or an engine runs or a vehicle
 * moves up to the end and from the begin: nobody slept. Chosen. */
#define NO_SLEEP_WEIGHT (-6.0F)
#define MOVED_WITHIN_NS NOD_NS_PER_S

static double weigh_announcement(const struct nod_track *track, const struct nod_span *span)
{
	unsigned nodes = 0, announced = 0;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial)
			continue;
		bool early = nod_time_since(node->span_first, span->from).ns <= ANNOUNCED_WITHIN_NS;
		if (early &&
		    (node->span_alive || node->span_active || node->span_early >= BURST_LEAST))
			return BEGUN;
		nodes++;
		announced += early && nod_time_since(node->last, span->from).ns <= ANNOUNCED_FOR_NS;
	}
	return nodes >= 2 && announced * 2 >= nodes ? ANNOUNCED : 0;
}

static void look_at_begin(const struct nod_track *track, struct nod_span *span)
{
	struct stroke stroke = {0};
	double sum = 0, kept = 0;
	unsigned count = 0, kept_count = 0;
	bool cyclic = false; /* a tester asks in bursts as well */

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		int64_t after = nod_time_since(ident->span_first, span->from).ns;
		kept += (double)ident->phase;
		kept_count += ident->phase < 0 || ident->phase > 0;
		if (after > NOD_SILENCE_BOOT_NS)
			continue;
		if (span->clues.early < UINT16_MAX)
			span->clues.early++;
		struct nod_period p = nod_ident_period(ident);
		if (ident->protocols & NOD_IDENT_DIAGNOSTIC || p.rhythm != NOD_RHYTHM_CYCLIC ||
		    p.period.ns > START_PERIOD_MAX_NS || p.period.ns <= 0)
			continue;
		cyclic = true;
		if (!i)
			continue;
		sum += take_start(&stroke, track, ident, (double)after / NOD_NS_PER_S);
		count++;
	}
	double said = weigh_announcement(track, span);
	double boot = weigh_begin(join(sum, count), weigh_stroke(&stroke, 0));
	span->clues.boot = (float)(said > 0 ? said + fmax(boot, 0) : boot);
	if (nod_silence_is_burst(track, span, cyclic) || span->began_moving)
		span->clues.boot = NO_SLEEP_WEIGHT;
	span->clues.kept = (float)(kept_count > STARTS_COUNTED ? kept / kept_count * STARTS_COUNTED
							       : kept);
}

void nod_silence_look(const struct nod_track *track, struct nod_span *span)
{
	struct stops stops = {.beat = INT64_MAX};

	span->clues = (struct nod_silence_clues){0};
	/* What did not even come back when it woke has stopped before. */
	for (uint32_t i = 0; i < track->idents.count && i < IDENTS_MAX; i++)
		stops.earlier += track->idents.items[i].span != track->serial &&
				 nod_ident_frames(&track->idents.items[i]) >= FRAMES_MIN;
	for (uint32_t i = 0; i < track->speaker_count; i++)
		note_stop(&stops, track, &track->idents.items[track->speakers[i]], span->to);
	/* Where management has agreed on the sleep, all stop together by design. */
	double said = weigh_management(track, span->to), order = weigh_stops(&stops);
	span->clues.fade = (float)(said > 0 ? said + fmax(order, 0) : said + order);
	if (nod_time_is_set(span->moved) && span->to.ns - span->moved.ns <= MOVED_WITHIN_NS)
		span->clues.fade = NO_SLEEP_WEIGHT;
	span->clues.running = (uint16_t)(stops.running < UINT16_MAX ? stops.running : UINT16_MAX);
	span->clues.beat_us = stops.running ? (uint32_t)(stops.beat / NOD_NS_PER_US) : 0;
	look_at_begin(track, span);
}
