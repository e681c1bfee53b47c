/* SPDX-License-Identifier: MIT */
#include "track.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "diagnostic.h"
#include "in-use.h"
#include "hands.h"
#include "nm-search.h"
#include "nm-watch.h"
#include "past.h"
#include "track-take.h"

/* A sender counts as alone at the end of a span when nobody else spoke for
 * this long: longer than any cyclic period in use (<= 2 s). Chosen. */
#define LONE_MIN_NS (3 * NOD_NS_PER_S)

int nod_track_init(struct nod_track *track, int network, const struct nod_vehicle *vehicle)
{
	const struct nod_network *config = &vehicle->networks[network];

	memset(track, 0, sizeof(*track));
	track->network = network;
	track->vehicle = vehicle;
	track->quiet = config->quiet_time;
	track->lull_ns = config->quiet_time.ns < NOD_LULL_MIN_NS ? config->quiet_time.ns
								 : NOD_LULL_MIN_NS;
	track->nm = config->nm;
	track->run_owner = -1;
	track->run_from = track->last = track->doubtful = track->second = track->lock =
		NOD_TIME_NONE;
	track->nm_confidence = config->nm.scheme != NOD_NM_UNKNOWN;
	bool search = config->nm.scheme == NOD_NM_UNKNOWN ||
		      ((config->nm.scheme == NOD_NM_AUTOSAR || config->nm.scheme == NOD_NM_OSEK) &&
		       !config->nm.ids_given);
	if (search) {
		track->detector = nod_nm_detect_new();
		if (!track->detector)
			return -ENOMEM;
	}
	return 0;
}

void nod_track_clear(struct nod_track *track)
{
	nod_nm_detect_free(track->detector);
	nod_idents_clear(&track->idents);
	free(track->spans);
	free(track->speakers);
	memset(track, 0, sizeof(*track));
}

/* ---- senders ---- */

struct nod_sender nod_track_sender(const struct nod_track *track, const struct nod_ident *ident)
{
	struct nod_sender sender = {NOD_SENDER_ID, NOD_NONE, track->network, ident->id};
	int module = nod_vehicle_module_of_id(track->vehicle, track->network, ident->id);

	if (module == NOD_NONE && ident->node)
		module = nod_vehicle_module_of_node(track->vehicle, track->network,
						    ident->node->address);
	if (module == NOD_NONE && track->nm.scheme == NOD_NM_J1939 && ident->id & NOD_ID_EXTENDED)
		module = nod_vehicle_module_of_address(track->vehicle, track->network,
						       (int)(ident->id & 0xFF));
	if (nod_ident_is_diagnostic(ident, track->tester_heard) &&
	    (ident->requests || module == NOD_NONE)) {
		sender.kind = NOD_SENDER_TESTER;
	} else if (module != NOD_NONE) {
		sender.kind = NOD_SENDER_MODULE;
		sender.module = module;
	} else if (track->nm.scheme == NOD_NM_J1939 && ident->id & NOD_ID_EXTENDED) {
		sender.kind = NOD_SENDER_SOURCE_ADDRESS;
		sender.number = ident->id & 0xFF;
	} else if (ident->node) {
		sender.kind = NOD_SENDER_NODE;
	}
	return sender;
}

/* A number for the sender of a message, the same for all its messages. */
static int64_t owner_of(const struct nod_track *track, const struct nod_ident *ident)
{
	struct nod_sender sender = nod_track_sender(track, ident);
	int64_t kind = (int64_t)sender.kind << 33;

	if (sender.kind == NOD_SENDER_TESTER)
		return kind;
	return kind |
	       (sender.kind == NOD_SENDER_MODULE ? (int64_t)sender.module : (int64_t)sender.number);
}

/* Diagnostic IDs that a maker chose lie in this range of standard IDs: common
 * practice, no source (they have the lowest priority). */
static bool may_be_makers_diagnostic(uint32_t id)
{
	return !(id & NOD_ID_EXTENDED) && id >= 0x700;
}

/* What the ID of a message says about it, with the network management known so far. */
static void place(const struct nod_track *track, struct nod_ident *ident)
{
	bool diagnostic = nod_diagnostic_may_be(ident->id) || may_be_makers_diagnostic(ident->id);

	ident->owner = owner_of(track, ident);
	ident->protocols &= NOD_IDENT_SEARCHED;
	ident->protocols |= diagnostic ? NOD_IDENT_DIAGNOSTIC : 0;
	if (nod_nm_is_pdu(&track->nm, ident->id) &&
	    (track->nm.ids_given ||
	     nod_nm_detect_is_node(track->detector, &track->found, ident->id)))
		ident->protocols |= NOD_IDENT_NM;
	if (nod_in_use_may_tell(ident->id))
		ident->protocols |= NOD_IDENT_USE;
}

void nod_track_place_all(struct nod_track *track)
{
	for (uint32_t i = 0; i < track->idents.count; i++)
		place(track, &track->idents.items[i]);
}

/* ---- awake spans ---- */

/* Puts ident i into the latest-first list of last speakers when it belongs. */
static void rank_last(struct nod_span *span, int i, nod_time last)
{
	int at = span->last_count;

	while (at > 0 && span->last[at - 1].time.ns < last.ns)
		at--;
	if (at >= NOD_SPAN_SPEAKERS)
		return;
	if (span->last_count < NOD_SPAN_SPEAKERS)
		span->last_count++;
	for (int k = span->last_count - 1; k > at; k--)
		span->last[k] = span->last[k - 1];
	span->last[at] = (struct nod_speaker){i, last};
}

/* Who was alone at the end of the span, and since when. */
static void find_lone(const struct nod_track *track, struct nod_span *span)
{
	nod_time other = span->from;
	bool found = false;

	span->lone_from = span->from;
	span->lone_ident = NOD_NONE;
	if (!span->last_count)
		return;
	const struct nod_ident *items = track->idents.items;
	struct nod_sender lone = nod_track_sender(track, &items[span->last[0].ident]);
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_ident *ident = &items[track->speakers[i]];
		struct nod_sender sender = nod_track_sender(track, ident);
		if (nod_sender_same(&sender, &lone))
			continue;
		found = true;
		if (ident->last.ns > other.ns)
			other = ident->last;
	}
	span->lone_from = other;
	if (!found || nod_time_since(span->to, other).ns >= LONE_MIN_NS)
		span->lone_ident = span->last[0].ident;
}

/* So many early PDUs are a burst, when nobody else sent more than a few: only who woke the
 * network itself sends one (CanNmImmediateNmTransmissions; from memory). */
#define BURST_LEAST 4
#define BURST_OTHERS_MOST 2

/* The node that began the span with a burst, NOD_NONE. */
static int find_burst(const struct nod_track *track)
{
	int found = NOD_NONE;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial || node->span_early <= BURST_OTHERS_MOST)
			continue;
		if (found != NOD_NONE || node->span_early < BURST_LEAST)
			return NOD_NONE;
		found = (int)track->speakers[i];
	}
	return track->nm.scheme == NOD_NM_AUTOSAR ? found : NOD_NONE;
}

static void find_active_wakers(const struct nod_track *track, struct nod_span *span)
{
	int count = 0;

	span->active_wakers[0] = span->active_wakers[1] = NOD_NONE;
	for (uint32_t i = 0; i < track->speaker_count && count < 2; i++) {
		const struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		if (ident->node && ident->node->span == track->serial && ident->node->span_active)
			span->active_wakers[count++] = (int)track->speakers[i];
	}
	if (!count)
		span->active_wakers[0] = find_burst(track);
}

/* A node that asked for the network this much longer than all others is the
 * one that kept it: longer than a NM cycle (<= 1 s) by far. Chosen. */
#define KEPT_IT_NS (3 * NOD_NS_PER_S)

/* In a ring only who has a reason of its own sends a request at all: the others start with
 * alive messages and go on with the indication, at the latest when their application has
 * made up its mind. Chosen. */
#define KEPT_RING_NS (1 * NOD_NS_PER_S)

/* The only node of a ring that requested the network in this span, NOD_NONE. */
static int find_only_request(const struct nod_track *track)
{
	int found = NOD_NONE;

	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial || !node->span_requests)
			continue;
		if (found != NOD_NONE)
			return NOD_NONE;
		found = (int)track->speakers[i];
	}
	return found;
}

/* Which node went on requesting the network when all others had stopped. */
static void find_requester(const struct nod_track *track, struct nod_span *span)
{
	nod_time latest = NOD_TIME_NONE, second = NOD_TIME_NONE;
	bool ring = track->nm.scheme == NOD_NM_OSEK;

	span->requester = ring ? find_only_request(track) : NOD_NONE;
	if (span->requester != NOD_NONE)
		return;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		const struct nod_node *node = track->idents.items[track->speakers[i]].node;
		if (!node || node->span != track->serial)
			continue;
		nod_time request = node->last_request;
		if (request.ns < span->from.ns)
			request = span->from; /* it took part, but never asked */
		if (request.ns > latest.ns) {
			second = latest;
			latest = request;
			span->requester = (int)track->speakers[i];
		} else if (request.ns > second.ns) {
			second = request;
		}
	}
	if (!nod_time_is_set(second) ||
	    nod_time_since(latest, second).ns < (ring ? KEPT_RING_NS : KEPT_IT_NS))
		span->requester = NOD_NONE;
}

static void finish_span(struct nod_track *track, struct nod_span *span)
{
	span->last_count = 0;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		rank_last(span, (int)track->speakers[i], ident->last);
		nod_ident_keep_period(ident);
	}
	find_lone(track, span);
	find_active_wakers(track, span);
	find_requester(track, span);
	nod_silence_look(track, span);
}

static int keep_span(struct nod_track *track)
{
	if (track->span_count == NOD_SPANS_MAX) {
		track->spans_dropped++;
		return 0;
	}
	if (track->span_count == track->span_room) {
		size_t room = track->span_room ? track->span_room * 2 : 8;
		struct nod_span *spans = realloc(track->spans, room * sizeof(*spans));
		if (!spans)
			return -ENOMEM;
		track->spans = spans;
		track->span_room = room;
	}
	track->spans[track->span_count++] = track->span;
	return 0;
}

/* States what is known of the silence between the span's end and `now`. */
static void judge_silence(const struct nod_track *track, struct nod_span *span, nod_time now)
{
	bool doubt = nod_time_is_set(track->doubtful) && track->doubtful.ns >= span->to.ns;

	span->silence_from = track->loss_pending ? now : doubt ? track->doubtful : span->to;
	span->silence_known = span->silence_from.ns == span->to.ns && !track->loss_pending;
}

/* True when enough of it was listened to. */
static bool silence_is_sleep(const struct nod_track *track, const struct nod_span *span,
			     nod_time now)
{
	return nod_time_since(now, span->silence_from).ns >= track->quiet.ns;
}

/* Time of a span that counts: what lies before the lock does not. */
static int64_t length_since_lock(const struct nod_track *track, const struct nod_span *span)
{
	int64_t from = span->from.ns > track->lock.ns ? span->from.ns : track->lock.ns;

	return nod_time_is_set(track->lock) ? span->to.ns - from : -1;
}

static void remember_if_longest(struct nod_track *track)
{
	if (length_since_lock(track, &track->span) <= 0 ||
	    (track->held_serial &&
	     length_since_lock(track, &track->span) <= length_since_lock(track, &track->held)))
		return;
	track->held_serial = track->serial;
	track->held = track->span;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		ident->held_serial = track->serial;
		ident->held_last = ident->last;
		ident->held_request = ident->node ? ident->node->last_request : NOD_TIME_NONE;
		ident->held_ready = ident->node ? ident->node->last_ready : NOD_TIME_NONE;
		ident->held_request_from = ident->node ? ident->node->request_from : NOD_TIME_NONE;
	}
}

uint32_t nod_track_held(struct nod_track *track, struct nod_span *span)
{
	int64_t open = track->serial ? length_since_lock(track, &track->span) : -1;

	if (track->held_serial && length_since_lock(track, &track->held) >= open) {
		*span = track->held;
		return track->held_serial;
	}
	if (open <= 0)
		return 0;
	*span = track->span;
	finish_span(track, span);
	return track->serial;
}

bool nod_track_held_ident(const struct nod_track *track, const struct nod_ident *ident,
			  uint32_t serial, struct nod_held_ident *held)
{
	if (serial == track->serial && ident->span == serial) {
		held->last = ident->last;
		held->request = ident->node ? ident->node->last_request : NOD_TIME_NONE;
		held->ready = ident->node ? ident->node->last_ready : NOD_TIME_NONE;
		held->request_from = ident->node ? ident->node->request_from : NOD_TIME_NONE;
		return true;
	}
	if (serial == track->serial || ident->held_serial != serial)
		return false;
	held->last = ident->held_last;
	held->request = ident->held_request;
	held->ready = ident->held_ready;
	held->request_from = ident->held_request_from;
	return true;
}

static int begin_span(struct nod_track *track, nod_time time)
{
	bool slept_before = false;

	if (track->serial) {
		judge_silence(track, &track->span, time);
		finish_span(track, &track->span);
		remember_if_longest(track);
		slept_before = silence_is_sleep(track, &track->span, time);
		if (keep_span(track))
			return -ENOMEM;
	}
	memset(&track->span, 0, sizeof(track->span));
	track->span.from = track->span.to = time;
	track->span.slept_before = slept_before;
	track->span.lone_ident = NOD_NONE;
	track->span.counted[0] = track->span.counted[1] = NOD_TIME_NONE;
	track->speaker_count = 0;
	track->run_owner = -1; /* nobody's: a stretch does not reach across a silence */
	track->run_from = time;
	track->serial++;
	return 0;
}

bool nod_track_current(struct nod_track *track, nod_time now, struct nod_span *span, bool *asleep)
{
	if (!track->serial)
		return false;
	*span = track->span;
	judge_silence(track, span, now);
	finish_span(track, span);
	*asleep = silence_is_sleep(track, span, now);
	return true;
}

static int note_speaker(struct nod_track *track, struct nod_ident *ident, nod_time time)
{
	uint32_t index = (uint32_t)(ident - track->idents.items);

	if (track->speaker_count == track->speaker_room) {
		uint32_t room = track->speaker_room ? track->speaker_room * 2 : 64;
		uint32_t *speakers = realloc(track->speakers, room * sizeof(*speakers));
		if (!speakers)
			return -ENOMEM;
		track->speakers = speakers;
		track->speaker_room = room;
	}
	track->speakers[track->speaker_count++] = index;
	ident->span = track->serial;
	ident->span_first = time;
	if (track->span.first_count < NOD_SPAN_SPEAKERS)
		track->span.first[track->span.first_count++] = (struct nod_speaker){(int)index,
										    time};
	return 0;
}

/* ---- network management and diagnostics ---- */

/* The numbers of requests in ISO 14229-1 and of the OBD services (from memory:
 * 01-0A and 10-3E; answers add 40h, a refusal is 7Fh). */
static bool is_service(uint8_t number, bool *request)
{
	uint8_t service = number & 0xBF;

	*request = !(number & 0x40);
	return number == 0x7F || (service >= 0x01 && service <= 0x0A) ||
	       (service >= 0x10 && service <= 0x3E);
}

static void note_service(struct nod_ident *ident, const struct nod_frame *frame)
{
	struct nod_isotp message = nod_isotp_decode(frame);
	bool request = false;

	if (message.kind == NOD_ISOTP_INVALID)
		return;
	if ((message.kind == NOD_ISOTP_SINGLE || message.kind == NOD_ISOTP_FIRST) &&
	    !is_service(frame->data[message.start], &request))
		return;
	ident->service_like++;
	ident->service_requests += request;
}

static void note_diagnostics(struct nod_track *track, struct nod_ident *ident,
			     const struct nod_frame *frame)
{
	enum nod_diagnostic_kind kind = nod_diagnostic_may_be(ident->id)
						? nod_diagnostic_classify(frame)
						: NOD_DIAGNOSTIC_NONE;

	if (kind == NOD_DIAGNOSTIC_NONE) {
		note_service(ident, frame);
		return;
	}
	ident->diagnostic++;
	ident->service_like++;
	if (nod_diagnostic_is_request(kind)) {
		ident->requests++;
		track->tester_heard = true;
	}
}

int nod_track_note_protocols(struct nod_track *track, struct nod_ident *ident,
			     const struct nod_frame *frame, enum nod_phase phase)
{
	if (ident->protocols & NOD_IDENT_DIAGNOSTIC)
		note_diagnostics(track, ident, frame);
	if (ident->protocols & NOD_IDENT_SEARCHED && nod_nm_search_take(track, ident, frame))
		return -ENOMEM;
	if (ident->protocols & NOD_IDENT_USE && track->engine)
		nod_in_use_take(track->engine, frame);
	if (ident->protocols & NOD_IDENT_NM)
		return nod_nm_watch_take(ident, frame, &track->nm, phase, track->serial);
	return 0;
}

/* ---- frames ---- */

void nod_track_begin_second(struct nod_track *track, nod_time time)
{
	int64_t age = nod_time_since(time, track->second).ns;

	track->last_second_bits = age < 2 * NOD_NS_PER_S ? track->second_bits : 0;
	track->second.ns = time.ns - time.ns % NOD_NS_PER_S;
	track->second_bits = 0;
	if (track->detector)
		nod_nm_detect_second(track->detector, time);
	if (track->past)
		nod_past_keep_moment(track->past, time);
	nod_silence_count(&track->span, time);
	if (track->engine)
		nod_in_use_look(track->engine, time);
}

void nod_track_note_missing(struct nod_track *track, const struct nod_ident *ident, nod_time time)
{
	if (track->past)
		nod_past_note_pause(track->past, track, ident, time, false, time);
}

/* After the deadline, somebody else speaks after a while: he who spoke alone is noted. */
void nod_track_note_lone_run(struct nod_track *track, nod_time time)
{
	struct nod_ident *ident = nod_idents_find(&track->idents, track->run_id);

	if (!ident || track->run_owner < 0)
		return;
	ident->lone_runs++;
	ident->lone_ns = nod_ns_add(ident->lone_ns, nod_time_since(time, track->run_from).ns);
}

/* After the deadline, a message comes after a longer time than ever, or after a pause. */
void nod_track_note_pause(struct nod_track *track, struct nod_ident *ident, int64_t interval)
{
	if (nod_time_is_set(track->doubtful) && track->doubtful.ns >= ident->last.ns)
		return; /* nobody knows whether it was silent */
	ident->pause = interval > ident->pause ? interval : ident->pause;
	ident->pauses += interval >= NOD_PAUSE_MIN_NS;
}

int nod_track_meet(struct nod_track *track, struct nod_ident *ident, nod_time time)
{
	if (!nod_ident_frames(ident)) {
		ident->first = time;
		ident->protocols = track->detector ? NOD_IDENT_SEARCHED : 0;
		place(track, ident);
	} else if (track->past && track->span_count) {
		nod_past_note_pause(track->past, track, ident, time, true,
				    track->spans[track->span_count - 1].to);
	}
	ident->phase = ident->span && ident->span + 1 == track->serial
			       ? nod_silence_phase(ident, time)
			       : 0;
	ident->span_base = nod_ident_frames(ident);
	return note_speaker(track, ident, time);
}

static void note_resumed(struct nod_track *track, struct nod_ident *ident, nod_time time)
{
	int64_t lull = nod_time_since(time, track->last).ns;
	bool listened = track->doubtful.ns < track->last.ns && !track->loss_pending;

	if (!listened || lull < NOD_LULL_MIN_NS)
		return;
	ident->resumed++;
	ident->lulled_ns = nod_ns_add(ident->lulled_ns, lull);
}

int nod_track_take_turn(struct nod_track *track, struct nod_ident *ident, nod_time time,
			enum nod_phase phase)
{
	bool later = time.ns > track->last.ns;

	if (track->past) /* before the silence is forgotten */
		nod_hands_look(track->past->engine, time);
	if (!track->serial || (later && nod_time_since(time, track->last).ns >= track->quiet.ns)) {
		if (begin_span(track, time))
			return -ENOMEM;
	} else if (later && ident && phase == NOD_PHASE_LATE) {
		note_resumed(track, ident, time);
	}
	if (track->loss_pending) {
		track->loss_pending = false;
		nod_track_doubt(track, time);
	}
	return 0;
}

/* A frame that has no place in the record but was heard all the same. */
static int take_aside(struct nod_track *track, nod_time time, uint64_t *count)
{
	if (nod_track_reach(track, NULL, time, NOD_PHASE_USE))
		return -ENOMEM;
	++*count;
	if (time.ns > track->last.ns)
		track->last = track->span.to = time;
	return 0;
}

static int take_error(struct nod_track *track, nod_time time)
{
	if (take_aside(track, time, &track->errors))
		return -ENOMEM;
	track->span.errors++;
	return 0;
}

static int take_unkept(struct nod_track *track, nod_time time)
{
	if (take_aside(track, time, &track->unkept))
		return -ENOMEM;
	track->frames++;
	track->span.frames++;
	return 0;
}

int nod_track_take(struct nod_track *track, const struct nod_frame *frame, enum nod_phase phase)
{
	if (nod_frame_is_error(frame))
		return take_error(track, frame->time);
	struct nod_ident *ident = nod_idents_get(&track->idents, nod_frame_id(frame));
	if (!ident)
		return errno == ENOSPC ? take_unkept(track, frame->time) : -ENOMEM;
	if (nod_bits_is_usual(frame) && ident->line.length != frame->length)
		nod_bits_line_learn(&ident->line, frame);
	return nod_track_take_ident(track, ident, frame, phase, nod_frame_bits(frame), false);
}

void nod_track_lost(struct nod_track *track, uint64_t count)
{
	track->lost += count ? count : 1;
	track->loss_pending = true;
}

static void forget_node_tallies(struct nod_node *node)
{
	for (int p = NOD_PHASE_SETTLING; p < NOD_PHASES; p++) {
		node->pdus[NOD_PHASE_USE] += node->pdus[p];
		node->pdus[p] = node->ready[p] = node->active_wakeups[p] = node->limp_home[p] = 0;
		node->requests[p] = node->ring_requests[p] = node->releases[p] = 0;
		node->partial[p] = 0;
	}
	node->last_request = node->last_ready = node->request_from = NOD_TIME_NONE;
}

void nod_track_locked(struct nod_track *track, nod_time time)
{
	track->lock = time;
	track->held_serial = 0;
	for (uint32_t i = 0; i < track->idents.count; i++) {
		struct nod_ident *ident = &track->idents.items[i];
		ident->frames[NOD_PHASE_USE] = nod_ident_frames(ident);
		ident->frames[NOD_PHASE_SETTLING] = ident->frames[NOD_PHASE_LATE] = 0;
		ident->changing_late = ident->changes_late = 0;
		ident->lone_runs = 0;
		ident->lone_ns = ident->pause = ident->lulled_ns = 0;
		ident->pauses = ident->resumed = 0;
		free(ident->after);
		ident->after = NULL;
		ident->period_of = 0;
		if (ident->node)
			forget_node_tallies(ident->node);
	}
	track->bits_awake = 0;
}

void nod_track_doubt(struct nod_track *track, nod_time time)
{
	if (time.ns > track->doubtful.ns)
		track->doubtful = time;
}

void nod_track_unheard(struct nod_track *track, nod_time from)
{
	struct nod_span span = track->span;

	if (!track->serial || track->slept_serial == track->serial)
		return;
	judge_silence(track, &span, from);
	if (!silence_is_sleep(track, &span, from))
		return;
	track->slept_serial = track->serial;
	track->slept_until = from;
}
