/* SPDX-License-Identifier: MIT */
#include "track.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "diagnostic.h"
#include "in-use.h"
#include "inferred-marks.h"
#include "nm-watch.h"
#include "recent-past.h"
#include "track-internal.h"
#include "track-take.h"

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
		      (nod_nm_scheme_row(config->nm.scheme)->has_messages && !config->nm.ids_given);
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

/* Testers' IDs that a maker chose lie in this range of standard IDs (common practice, no source),
 * or anywhere among the others. */
static bool may_be_makers_diagnostic(uint32_t id)
{
	return id & NOD_ID_EXTENDED || id >= 0x600;
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
	nod_silence_count(track, time);
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
	ident->phase = track->span_count && ident->span && ident->span + 1 == track->serial
			       ? nod_silence_phase(ident, track->spans[track->span_count - 1].to,
						   time)
			       : 0;
	ident->span_base = nod_ident_frames(ident);
	return nod_track_note_speaker(track, ident, time);
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
		nod_inferred_look(track->past->engine, time);
	if (!track->serial || (later && nod_time_since(time, track->last).ns >= track->quiet.ns)) {
		if (nod_track_begin_span(track, time))
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
		nod_ident_end_after(ident);
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
