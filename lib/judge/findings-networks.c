/* SPDX-License-Identifier: MIT */
/* Copies the networks with their spans into the findings. */
#include "analysis.h"

#include <errno.h>

#include "nm-scheme.h"

static void copy_speakers(struct nod_speaker *to, const struct nod_speaker *from, int count,
			  const int *map)
{
	for (int i = 0; i < count; i++)
		to[i] = (struct nod_speaker){map[from[i].ident], from[i].time};
}

static void copy_span(const struct nod_analysis *a, struct nod_span_finding *to,
		      const struct nod_span *from, const int *map)
{
	to->from = from->from;
	to->to = from->to;
	to->slept_before = from->slept_before;
	to->silence_known = from->silence_known;
	to->frames = from->frames;
	to->bits = from->bits;
	to->errors = from->errors;
	to->first_count = from->first_count;
	to->last_count = from->last_count;
	copy_speakers(to->first, from->first, from->first_count, map);
	copy_speakers(to->last, from->last, from->last_count, map);
	to->lone_sender = from->lone_ident == NOD_NONE ? NOD_NONE
						       : a->f->idents[map[from->lone_ident]].sender;
	to->lone_from = from->lone_from;
	to->hole_from = to->hole_to = NOD_TIME_NONE;
	to->asleep = 1;
	struct nod_silence_clues *clues = nod_arena_alloc(a->arena, sizeof(*clues));
	if (clues) /* else the arena knows */
		*clues = from->clues;
	to->clues = clues;
}

static const char *management_text(struct nod_analysis *a, const struct nod_track *track)
{
	const char *name = nod_nm_scheme_row(track->nm.scheme)->name;
	const struct nod_network *config = &a->engine->vehicle->networks[track->network];

	if (track->nm.scheme != NOD_NM_UNKNOWN && config->nm.scheme == NOD_NM_UNKNOWN)
		return nod_arena_printf(a->arena, "%s (detected, %.0f %%)", name,
					100 * track->nm_confidence);
	return name;
}

static int copy_spans(struct nod_analysis *a, struct nod_network_finding *to,
		      struct nod_track *track)
{
	const int *map = a->ident_of[track->network];
	struct nod_span open;
	bool asleep = true;

	to->spans = nod_arena_alloc(a->arena, (track->span_count + 1) * sizeof(*to->spans));
	if (!to->spans)
		return -ENOMEM;
	for (size_t i = 0; i < track->span_count; i++)
		copy_span(a, &to->spans[to->span_count++], &track->spans[i], map);
	if (nod_track_current(track, a->engine->now, &open, &asleep)) {
		struct nod_span_finding *last = &to->spans[to->span_count++];
		copy_span(a, last, &open, map);
		last->slept_before &= !track->spans_dropped; /* what was before is not there */
		last->open = nod_time_since(a->engine->now, open.to).ns < track->quiet.ns &&
			     !nod_time_is_set(to->deaf_since);
		to->state = asleep       ? NOD_STATE_ASLEEP
			    : last->open ? NOD_STATE_AWAKE
					 : NOD_STATE_UNKNOWN;
		to->since = last->open ? open.from : open.silence_from;
		if (track->slept_serial == track->serial && to->state == NOD_STATE_UNKNOWN)
			to->slept_until = track->slept_until;
	}
	return a->arena->failed ? -ENOMEM : 0;
}

static double mean_load(const struct nod_analysis *a, const struct nod_network_finding *to,
			const struct nod_track *track)
{
	int64_t awake = 0;

	for (size_t i = 0; i < to->span_count; i++) {
		int64_t from = to->spans[i].from.ns, end = to->spans[i].to.ns;
		from = from > a->f->lock.ns ? from : a->f->lock.ns;
		awake = nod_ns_add(awake, end > from ? end - from : 0);
	}
	if (awake < NOD_NS_PER_S)
		return -1;
	return (double)track->bits_awake / ((double)awake / 1e9) / to->bitrate;
}

static double load_now(const struct nod_analysis *a, const struct nod_network_finding *to,
		       const struct nod_track *track)
{
	int64_t age = nod_time_since(a->engine->now, track->second).ns;
	uint64_t bits = age < NOD_NS_PER_S       ? track->last_second_bits
			: age < 2 * NOD_NS_PER_S ? track->second_bits
						 : 0;
	return nod_time_is_set(track->second) ? (double)bits / to->bitrate : -1;
}

/* Since when nobody listens to the network; NOD_TIME_NONE: somebody does. */
static nod_time deaf_since(const struct nod_engine *engine, size_t network)
{
	for (unsigned i = 0; engine->deaf_count && i < engine->interfaces->count; i++)
		if (nod_time_is_set(engine->deaf[i]) &&
		    nod_vehicle_network_of_interface(engine->vehicle,
						     engine->interfaces->names[i]) == (int)network)
			return engine->deaf[i];
	return NOD_TIME_NONE;
}

static void copy_network_config(const struct nod_analysis *a, struct nod_network_finding *to,
				size_t network)
{
	const struct nod_network *config = &a->engine->vehicle->networks[network];

	to->name = config->name;
	to->network = (int)network;
	to->state = NOD_STATE_NOTHING_HEARD;
	to->since = a->engine->start;
	to->deaf_since = deaf_since(a->engine, network);
	to->slept_until = NOD_TIME_NONE;
	to->reason = "";
	to->deadline = nod_engine_deadline(a->engine, (int)network, a->f->clock_from);
	to->judged_by = to->deadline;
	to->deadline_default = !config->sleeps_within_given;
	to->quiet_time = config->quiet_time;
	to->slept_at = to->first_slept_at = NOD_TIME_NONE;
	to->bitrate = config->bitrate ? config->bitrate : NOD_DEFAULT_BITRATE;
	to->bitrate_default = !config->bitrate;
	to->load = to->load_now = -1;
	to->management = "none seen";
	to->goes_on_as = NOD_NONE;
}

static int copy_network(struct nod_analysis *a, size_t network)
{
	struct nod_network_finding *to = &a->f->networks[a->f->network_count++];
	struct nod_track *track = nod_engine_track(a->engine, network);

	copy_network_config(a, to, network);
	if (!track)
		return 0;
	if (copy_spans(a, to, track))
		return -ENOMEM;
	to->frames = track->frames;
	to->lost = track->lost;
	to->errors = track->errors;
	to->management = management_text(a, track);
	to->load = mean_load(a, to, track);
	to->load_now = load_now(a, to, track);
	a->f->lost += track->lost;
	a->f->errors += track->errors;
	return 0;
}

int nod_analysis_copy_networks(struct nod_analysis *a)
{
	size_t count = a->engine->vehicle->network_count;

	a->f->networks = nod_arena_alloc(a->arena, (count + 1) * sizeof(*a->f->networks));
	if (!a->f->networks)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++)
		if (copy_network(a, i))
			return -ENOMEM;
	return 0;
}
