/* SPDX-License-Identifier: MIT */
#include "silence.h"

#include <math.h>

#include "track.h"

/* Messages of longer periods say little about a moment. Chosen: what cyclic control traffic
 * has, <= 2 s. */
#define STOP_PERIOD_MAX_NS (2100 * NOD_NS_PER_MS)
#define START_PERIOD_MAX_NS (1050 * NOD_NS_PER_MS)

/* A message has stopped when it is overdue by half a period and what a loaded bus delays
 * (some ms at 500 kbit/s). Chosen. */
#define OVERDUE 1.5
#define DELAY_NS (20 * NOD_NS_PER_MS)

/* Stops of the last seconds belong to the way to sleep: the run-down of published example
 * sets of network management takes up to 5 s, that of units without it some tens. Chosen. */
#define RUN_DOWN_NS (30 * NOD_NS_PER_S)

/* With fewer cyclic messages nothing can be said. Chosen. */
#define STOPS_MIN 3

/* Of the messages of the last seconds, this share stopped before the end: in order; this
 * share at most: all at once (a few fail to come for reasons of their own). Chosen. */
#define FADED_SHARE 0.4
#define STROKE_SHARE 0.08

/* Strengths, log-odds. Modules of a network rarely stop within one period of each other, but
 * all messages of one module do, so the first two senders say nothing. Messages of unknown
 * senders count as one sender by twos. */
#define FADED_FIRST 1.0
#define FADED_EACH 0.5
#define FADED_MAX 4.0
#define STROKE_EACH 0.8
#define STROKE_MAX 4.0
#define RAN_DOWN 1.0 /* most had stopped long before, and only few are left */
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
 * other. A unit that boots speaks after some hundred ms, rarely after some seconds. */
#define IN_RHYTHM 0.95
#define BOOT_SHARE 0.5
#define BOOT_S 0.2
#define START_EACH_MAX 2.0 /* the messages of one unit start together */
#define STARTS_COUNTED 4

/* Looked through for what has stopped; above, it is no car. Chosen. */
#define IDENTS_MAX 4096

/* Senders told apart at most. Chosen: their weight is at its limit long before. */
#define SENDERS_MAX 32

struct stops {
	unsigned running, fell, earlier;
	unsigned unknown;             /* of the running ones, by twos: sender not known */
	int64_t senders[SENDERS_MAX]; /* of the others */
	unsigned sender_count;
	int64_t beat; /* ns, INT64_MAX: none */
};

static void note_sender(struct stops *stops, const struct nod_track *track,
			const struct nod_ident *ident)
{
	enum nod_sender_kind kind = nod_track_sender(track, ident).kind;

	if (kind == NOD_SENDER_ID) {
		stops->unknown++;
		return;
	}
	for (unsigned i = 0; i < stops->sender_count; i++)
		if (stops->senders[i] == ident->owner)
			return;
	if (stops->sender_count < SENDERS_MAX)
		stops->senders[stops->sender_count++] = ident->owner;
}

bool nod_silence_is_running(const struct nod_period *p, int64_t age)
{
	return (double)age <= OVERDUE * (double)p->period.ns + DELAY_NS;
}

static void note_stop(struct stops *stops, const struct nod_track *track,
		      const struct nod_ident *ident, nod_time end)
{
	struct nod_period p = nod_ident_period(ident);
	int64_t age = nod_time_since(end, ident->last).ns;

	if (p.rhythm != NOD_RHYTHM_CYCLIC || p.period.ns > STOP_PERIOD_MAX_NS || p.period.ns <= 0)
		return;
	if (age > RUN_DOWN_NS) {
		stops->earlier++;
	} else if (!nod_silence_is_running(&p, age)) {
		stops->fell++;
	} else {
		stops->running++;
		note_sender(stops, track, ident);
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
	if (share > STROKE_SHARE)
		return faded * fmin((share - STROKE_SHARE) / (FADED_SHARE - STROKE_SHARE), 1);
	unsigned senders = stops->sender_count + (stops->unknown + 1) / 2;
	double stroke = fmax(0, fmin(STROKE_EACH * ((double)senders - 2), STROKE_MAX));
	return stops->earlier > 2 * stops->running ? -STROKE_AFTER_FALL * stroke : -stroke;
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
	double cycle = p.rhythm == NOD_RHYTHM_CYCLIC ? (double)p.period.ns : (double)CYCLE_MAX_NS;
	double age = (double)nod_time_since(end, latest->node->last_request).ns;
	if (age > RUN_OUT_NS)
		return 0; /* released long ago, and awake all the same */
	if (age >= RELEASED_CYCLES * cycle + DELAY_NS)
		return RELEASED;
	if (age <= cycle)
		return REQUESTED;
	double late = fmax(OVERDUE_JITTERS * (double)p.jitter.ns, OVERDUE_NS);
	return p.rhythm == NOD_RHYTHM_CYCLIC && age > cycle + late ? REQUEST_OVERDUE : 0;
}

static double weigh_start(double after_s, double period_s)
{
	double boot_s = (double)NOD_SILENCE_BOOT_NS / NOD_NS_PER_S;
	double rhythm = after_s <= 1.1 * period_s + 0.01 ? IN_RHYTHM / period_s
							 : (1 - IN_RHYTHM) / boot_s;
	double boot = BOOT_SHARE * exp(-after_s / BOOT_S) / BOOT_S + (1 - BOOT_SHARE) / boot_s;

	return fmax(-START_EACH_MAX, fmin(log(boot / rhythm), START_EACH_MAX));
}

/* ---- the rhythm kept over a silence ---- */

/* A unit that runs on keeps its rhythm by its own oscillator, so only the jitter of single
 * frames shows, more when the period is known from less than the silence lasts. Chosen. */
#define JITTER_MIN_NS (0.5 * NOD_NS_PER_MS)
#define JITTERS 3
#define FRAMES_MIN 5
#define PERIOD_AGREES 0.02
#define TOLERANCE_MAX 0.2 /* of the period: above, it fits too often by chance */
#define KEPT_SHARE 0.8
#define KEPT_MAX 3.5
#define LOST (-0.5) /* one missing frame is enough to know the period wrongly */

float nod_silence_phase(const struct nod_ident *ident, nod_time time)
{
	struct nod_period p = nod_ident_period(ident);
	uint64_t frames = nod_ident_frames(ident) - ident->span_base;
	double length = (double)nod_time_since(ident->last, ident->span_first).ns;
	double away = (double)nod_time_since(time, ident->last).ns;

	/* Without any jitter it is no bus that was heard, but a drawing of one. */
	if (frames < FRAMES_MIN || p.rhythm != NOD_RHYTHM_CYCLIC || length <= 0 || !p.jitter.ns)
		return 0;
	double period = length / (double)(frames - 1);
	double jitter = fmax(JITTERS * (double)p.jitter.ns, (double)JITTER_MIN_NS);
	double tolerance = jitter * (1 + away / length);
	if (fabs(period / (double)p.period.ns - 1) > PERIOD_AGREES ||
	    tolerance > TOLERANCE_MAX * period)
		return 0;
	if (fabs(remainder(away, period)) > tolerance)
		return (float)LOST;
	return (float)fmin(log(KEPT_SHARE * period / (2 * tolerance)), KEPT_MAX);
}

/* Messages are not independent of each other: a few of them count, and one says nothing. */
static double join(double sum, unsigned count)
{
	return count ? sum / count * fmin(count - 1, STARTS_COUNTED) : 0;
}

/* A network that wakes says so by its management: the ring is built anew from alive messages,
 * who woke it sets the active wake-up bit or sends a burst, and most nodes announce themselves
 * at once and only for the repeat-message time (<= 4 s in published example sets). */
#define ANNOUNCED_WITHIN_NS (1500 * NOD_NS_PER_MS)
#define ANNOUNCED_FOR_NS (6 * NOD_NS_PER_S)
#define BURST_LEAST 4
#define BEGUN 5.0
#define ANNOUNCED 3.0

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

/* ---- frames that come late ---- */

/* When a stalled adapter goes on, all that has waited comes at once: then the first second has
 * more traffic by far than the next ones. A network that wakes begins with less. Chosen. */
static const int64_t counted_ns[2] = {NOD_NS_PER_S, 4 * NOD_NS_PER_S};
#define BURST 4.0
#define BURST_WEIGHT (-6.0)
#define BURST_MESSAGES 1 /* cyclic ones: a tester asks in bursts */

void nod_silence_count(struct nod_span *span, nod_time time)
{
	for (int i = 0; i < 2; i++)
		if (!nod_time_is_set(span->counted[i]) &&
		    nod_time_since(time, span->from).ns >= counted_ns[i]) {
			span->counted[i] = time;
			span->counted_bits[i] = span->bits;
			return;
		}
}

static bool is_burst(const struct nod_span *span)
{
	if (!nod_time_is_set(span->counted[1]))
		return false;
	double first = (double)nod_time_since(span->counted[0], span->from).ns;
	double next = (double)nod_time_since(span->counted[1], span->counted[0]).ns;
	double rest = (double)(span->counted_bits[1] - span->counted_bits[0]);
	return next > 0 && rest > 0 && (double)span->counted_bits[0] / first > BURST * rest / next;
}

static void look_at_begin(const struct nod_track *track, struct nod_span *span)
{
	double sum = 0, kept = 0;
	unsigned count = 0, kept_count = 0;

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
		if (!i || ident->protocols & NOD_IDENT_DIAGNOSTIC ||
		    p.rhythm != NOD_RHYTHM_CYCLIC || p.period.ns > START_PERIOD_MAX_NS ||
		    p.period.ns <= 0)
			continue;
		sum += weigh_start((double)after / NOD_NS_PER_S,
				   (double)p.period.ns / NOD_NS_PER_S);
		count++;
	}
	double said = weigh_announcement(track, span), boot = join(sum, count);
	bool burst = count >= BURST_MESSAGES && is_burst(span);
	span->clues.boot = burst ? (float)BURST_WEIGHT
				 : (float)(said > 0 ? said + fmax(boot, 0) : boot);
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
	span->clues.running = (uint16_t)(stops.running < UINT16_MAX ? stops.running : UINT16_MAX);
	span->clues.beat_us = stops.running ? (uint32_t)(stops.beat / NOD_NS_PER_US) : 0;
	look_at_begin(track, span);
}
