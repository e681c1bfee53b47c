/* SPDX-License-Identifier: MIT */
/* The engine's own state, shared by the files that read it to make findings.
 * Not part of the library's interface. */
#ifndef NOD_ENGINE_INTERNAL_H
#define NOD_ENGINE_INTERNAL_H

#include "engine.h"
#include "in-use.h"
#include "recent-past.h"
#include "snapshot.h"
#include "touched-bits.h"
#include "track.h"

/* Times from 1843 to 2096 around the UNIX epoch, and whatever small count a
 * capture begins with: differences of any two fit. Anything else is damage. */
#define NOD_TIME_MAX_NS INT64_C(4000000000000000000)
static inline bool nod_engine_is_possible(nod_time time)
{
	return time.ns > -NOD_TIME_MAX_NS && time.ns < NOD_TIME_MAX_NS;
}

/* Marks kept; more are counted only. Chosen: a person makes a few
 * dozen, the daemon's own marks could be many on a loose connector. */
#define NOD_MARKS_MAX 10000

/* Isolations whose before and after are kept. Chosen: more than anyone does
 * in one session. */
#define NOD_SNAPSHOTS_MAX 128

/* Moments at which something could not be read that are kept. Chosen: a recording with more
 * of them is damaged all over, and each silence has one beside it. */
#define NOD_TORN_MAX 4096

/* From here on the settle clock runs anew (or stands still, in use). */
struct nod_clock_start {
	nod_time time;
	bool in_use;              /* unlocked: no deadline until the next lock */
	enum nod_mark_kind cause; /* NOTE: use that was seen in the traffic */
};

#define NOD_WAKES_SEEN 256 /* networks, as many as there are deadlines */

/* Time ran back, and nothing says how far: what the messages say that come since. */
#define NOD_BACK_MESSAGES 12
struct nod_engine_back {
	bool open;     /* not decided yet */
	nod_time time; /* of the last frame before */
	unsigned count;
	double early[NOD_BACK_MESSAGES], periods[NOD_BACK_MESSAGES]; /* ns, before their turn */
};

struct nod_engine {
	struct nod_vehicle *vehicle;
	bool vehicle_owned, vehicle_given;
	const struct nod_interfaces *interfaces;
	struct nod_track *track_of[256]; /* by interface, NULL: not yet looked up */
	struct nod_track **tracks;       /* by network of the vehicle; NULL: nothing heard of it */
	size_t track_room;
	uint32_t ident_count; /* of all tracks */
	nod_time deaf[256];   /* by interface: nobody listens since; NOD_TIME_NONE: somebody does */
	unsigned deaf_count;

	nod_time start, now; /* first and latest time of anything */
	nod_time ended;      /* as the head of a capture says, before anything else came */
	int64_t shift;       /* added to event times: makes up for clock steps */
	int64_t lag[256];    /* ... and to those of an interface whose clock is behind */
	int lagging;         /* the interface that is most behind; NOD_NONE: all run alike */
	int64_t shift_told;  /* the same without the last step that was guessed */
	nod_time guessed;    /* when that was, on the new clock; NOD_TIME_NONE: it was told */
	struct nod_engine_back back;
	uint64_t restarts; /* time ran back, and the traffic did not go on there */
	nod_time lock;
	bool listening; /* something was heard, or "started" says that somebody listens */
	nod_time
		late_start; /* the settle clock begins here: nobody listened at the lock; else NONE */
	enum nod_lock_source lock_source;
	bool in_use;
	struct nod_in_use use;          /* seen in the traffic */
	struct nod_clock_start *clocks; /* in time order, the first is the lock */
	size_t clock_count, clock_room;
	int64_t deadlines[256]; /* ns, by network, of the running settle clock */

	struct nod_mark_finding *marks; /* subjects are owned */
	size_t mark_count, mark_room, marks_dropped;
	struct nod_snapshot *snapshots;
	size_t snapshot_count, snapshot_room, snapshots_dropped;

	struct nod_past past;
	nod_time inferred_until; /* so far, see inferred-marks.h; NOD_TIME_NONE: not yet */

	const struct nod_findings *good; /* NULL: none */
	const struct nod_findings *earlier[NOD_EARLIER_MAX];
	size_t earlier_count;
	const struct nod_known *known;             /* NULL: none */
	struct nod_touch touches[NOD_TOUCHES_MAX]; /* inputs that were worked on */
	size_t touch_count, touches_open;          /* all; not yet looked at */
	size_t touches_dropped;
	struct nod_touch
		wake_touches[NOD_WAKE_TOUCHES_MAX]; /* a ring: bits that moved with wake-ups */
	size_t wake_touch_count;                    /* ever kept */
	int64_t wakes_seen[NOD_WAKES_SEEN]; /* ns, by network: begin of the one looked at last */

	uint64_t defects;  /* lines or records that could not be read */
	uint64_t misdated; /* of these, frames with times that are not possible */
	nod_time *torn;    /* when they came, in that order; NOD_TORN_MAX at most */
	size_t torn_count, torn_room;
	bool listened; /* our own recorder's journal: it tells when nobody listened */
	uint64_t frames, gaps, clock_steps, back_steps;
	struct nod_current_trace *current; /* NULL: no sample yet */
};

/* The settle deadline of a network for the settle clock started at `from`. */
static inline nod_time nod_engine_deadline(const struct nod_engine *engine, int network,
					   nod_time from)
{
	return nod_time_after(from, engine->vehicle->networks[network].sleeps_within);
}

/* Where on the way to sleep a network is at a time. */
static inline enum nod_phase nod_engine_phase(const struct nod_engine *engine, int network,
					      nod_time time)
{
	if (engine->in_use || !engine->clock_count)
		return NOD_PHASE_USE;
	return time.ns >= engine->deadlines[network] ? NOD_PHASE_LATE : NOD_PHASE_SETTLING;
}

/* Takes a frame of any kind, at any time. Returns 0 or a negative errno: -ENOMEM, or it
 * was left out. */
int nod_engine_take_any(struct nod_engine *engine, const struct nod_frame *frame);

/* Something was done to the car: the settle clock starts anew. 0 or -ENOMEM. */
int nod_engine_disturb(struct nod_engine *engine, nod_time time, enum nod_mark_kind kind);
/* From `time` on the settle clock runs anew, or stands still while in use. 0 or -ENOMEM. */
int nod_engine_start_clock(struct nod_engine *engine, nod_time time, bool in_use,
			   enum nod_mark_kind cause);

/* Where nobody listens up to now, the silence up to now is unknown. */
void nod_engine_doubt_deaf(struct nod_engine *engine);

/* The track of a network, NULL when nothing was heard of it. */
static inline struct nod_track *nod_engine_track(const struct nod_engine *engine, size_t network)
{
	return network < engine->track_room ? engine->tracks[network] : NULL;
}

#endif
