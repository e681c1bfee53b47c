/* SPDX-License-Identifier: MIT */
/* Frames that come late, after a silence in which they waited. */
#include "silence.h"
#include "track.h"

/* When a stalled adapter goes on, all that has waited comes at once: then the first second has
 * more traffic by far than the next ones. A network that wakes begins with less. Chosen. */
static const int64_t counted_ns[2] = {NOD_NS_PER_S, 4 * NOD_NS_PER_S};
#define BURST 4.0

/* However long it goes on: what waited comes far more often than its own period, and nearly every
 * message does. A network that wakes has some that are sent faster at first. Chosen. */
#define HASTE 3
#define HASTY_SHARE 0.7
#define HASTY_MIN 5 /* messages */

/* It is over by then. Chosen: what adapters and their drivers keep is gone in a few seconds. */
#define OVER_NS (10 * NOD_NS_PER_S)

static bool may_be_hasty(const struct nod_ident *ident, const struct nod_period *p)
{
	return p->rhythm != NOD_RHYTHM_UNKNOWN && p->period.ns > 0 &&
	       p->period.ns <= NOD_SILENCE_START_PERIOD_NS &&
	       !(ident->protocols & NOD_IDENT_DIAGNOSTIC);
}

/* True when this message came so often in the running span. */
static bool is_hasty(const struct nod_ident *ident, const struct nod_period *p, nod_time time)
{
	uint64_t frames = nod_ident_frames(ident) - ident->span_base;
	int64_t due = nod_time_since(time, ident->span_first).ns / p->period.ns + 1;

	return frames > HASTE * (uint64_t)due;
}

static bool is_backlog(const struct nod_track *track, nod_time time)
{
	unsigned known = 0, hasty = 0;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		struct nod_period p = nod_ident_period(ident);
		if (!may_be_hasty(ident, &p))
			continue;
		known++;
		hasty += is_hasty(ident, &p, time);
	}
	return known >= HASTY_MIN && hasty >= HASTY_SHARE * known;
}

/* The intervals of what waited are the adapter's, and say nothing of the messages. */
static void forget_haste(struct nod_track *track)
{
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		struct nod_period p = nod_ident_period(ident);
		if (may_be_hasty(ident, &p))
			nod_ident_forget_below(ident, p.period.ns / HASTE);
	}
}

static void look_for_backlog(struct nod_track *track, nod_time time)
{
	struct nod_span *span = &track->span;
	int64_t age = nod_time_since(time, span->from).ns;

	if (track->serial < 2 || age > OVER_NS ||
	    (!span->backlog && nod_time_is_set(span->counted[0])) || !is_backlog(track, time))
		return;
	span->backlog = true;
	forget_haste(track);
	if (track->detector)
		nod_nm_detect_forget_bursts(track->detector, span->from);
}

void nod_silence_count(struct nod_track *track, nod_time time)
{
	struct nod_span *span = &track->span;

	look_for_backlog(track, time);
	for (int i = 0; i < 2; i++)
		if (!nod_time_is_set(span->counted[i]) &&
		    nod_time_since(time, span->from).ns >= counted_ns[i]) {
			span->counted[i] = time;
			span->counted_bits[i] = span->bits;
			return;
		}
}

bool nod_silence_is_burst(const struct nod_track *track, const struct nod_span *span, bool cyclic)
{
	if (span->backlog)
		return true;
	if (!nod_time_is_set(span->counted[0])) /* over before it was looked at */
		return track->serial > 1 && is_backlog(track, span->to);
	if (!cyclic || !nod_time_is_set(span->counted[1]))
		return false;
	double first = (double)nod_time_since(span->counted[0], span->from).ns;
	double next = (double)nod_time_since(span->counted[1], span->counted[0]).ns;
	double rest = (double)(span->counted_bits[1] - span->counted_bits[0]);
	return next > 0 && rest > 0 && (double)span->counted_bits[0] / first > BURST * rest / next;
}
