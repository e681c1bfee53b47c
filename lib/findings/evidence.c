/* SPDX-License-Identifier: MIT */
/* The table of evidence: how strongly each kind of observation speaks.
 *
 * Strengths are natural log-odds at full weight. They are argued here from
 * how networks work and were checked for calibration, as a whole, on
 * generated sessions (see the benchmark `judgement`); none is set for the sake of one case.
 * Scale: 1 is a hint, 3 makes twenty to one, 5 a hundred and fifty to one. */
#include "evidence.h"

#include <assert.h>

static const struct nod_evidence_rule rules[NOD_EVIDENCE_KINDS] = {
	{NOD_EV_ALONE, "alone", "frames after the settle deadline", 6.0,
	 "With everybody else silent nobody else can be what keeps the network awake."},
	{NOD_EV_NM_ONLY_REQUEST, "only-request", "network management on the network", 6.0,
	 "The protocol lets the network sleep when nobody requests it: the only one that still does "
	 "holds it."},
	{NOD_EV_NM_REQUEST, "request", "network management on the network", 3.0,
	 "It requests the network, but so do others; one may repeat the other."},
	{NOD_EV_NM_READY, "ready", "network management on the network", -5.0,
	 "It has released the network by the protocol itself."},
	{NOD_EV_NM_LIMP_HOME, "limp-home", "OSEK network management", 1.0,
	 "A node in limp home does not follow the ring and may miss the way to sleep."},
	{NOD_EV_PARTIAL_REQUEST, "partial-request", "AUTOSAR partial networking", 1.5,
	 "The bits it sets name what it wants to keep awake."},
	{NOD_EV_STOPPED, "stopped", "frames after the settle deadline", -5.0,
	 "What is silent while the network stays awake does not keep it awake by its frames."},
	{NOD_EV_NO_PAUSE, "without-pauses", "frames after the settle deadline", 6.0,
	 "Who spoke while everybody else was silent is what woke them; what they ask for then "
	 "follows from that."},
	{NOD_EV_LAST_TO_STOP, "last-to-stop", "a sleep after the settle deadline", 1.5,
	 "The network slept with its last frame; but a follower with the longest time-out does so "
	 "too."},
	{NOD_EV_PAYLOAD, "payload", "frames after the settle deadline", 1.5,
	 "In a parked car few values have a reason to change; a follower repeats what it last knew."},
	{NOD_EV_EVENTS, "events", "frames after the settle deadline", 1.6,
	 "Frames sent on event while parked mean that something happens inside it."},
	{NOD_EV_UNUSUAL_PERIOD, "period", "a good recording", 3.0,
	 "It keeps its fast period while most others slowed down for parking."},
	{NOD_EV_GATEWAY_SPREAD, "gateway", "two networks on one clock", -4.0,
	 "A gateway passes wakefulness on; the other network's cause explains it."},
	{NOD_EV_FIRST_SPEAKER, "first-speaker", "wake-ups after sleep", 1.6,
	 "A wake-up begins with the frame of whoever woke; each further one makes chance less "
	 "likely. The adapter can miss the very first frame, so one alone does not convict."},
	{NOD_EV_NOT_FIRST, "not-first", "wake-ups after sleep", -1.2,
	 "It spoke only after the network was awake."},
	{NOD_EV_ACTIVE_WAKEUP, "active-wakeup", "AUTOSAR network management", 2.5,
	 "The node says itself that it woke the network."},
	{NOD_EV_KEPT_IT, "kept-it", "network management on the network", 2.0,
	 "After a wake-up all repeat the request as the protocol demands; only who has a reason goes "
	 "on."},
	{NOD_EV_ONLY_SPEAKER, "only-speaker", "wake-ups after sleep", 4.0,
	 "Nobody else spoke in the wake-up at all."},
	{NOD_EV_ISOLATED_SLEPT, "isolated-slept", "an isolation in the journal", 4.0,
	 "It was taken away, and the network slept: at most this, and as much less as it would "
	 "have slept just then anyway."},
	{NOD_EV_REFIT_WOKE, "refit-woke", "a refit in the journal", 2.3,
	 "It came back, and the network stayed awake again: both directions. But another one may "
	 "take hold again as it had let go."},
	{NOD_EV_REFIT_SLEPT, "refit-slept", "a refit in the journal", -1.2,
	 "It came back, and the network slept all the same: it is innocent, or the loss of power "
	 "has cleared its fault."},
	{NOD_EV_ISOLATED_UNCHANGED, "isolated-unchanged", "an isolation in the journal", -5.0,
	 "It was taken away, and the network stayed awake all the same."},
	{NOD_EV_FUSE_CARRIES, "fuse-carries", "readings across fuses", 1.0,
	 "Its fuse carries current; followers' fuses do so too while the network is awake."},
	{NOD_EV_FUSE_DEAD, "fuse-dead", "readings across fuses", -3.0,
	 "Its fuse carries no current that the meter can see: it is not awake."},
	{NOD_EV_GOOD_DIFFERS, "good-differs", "a good recording", 2.0,
	 "It does what it does not do when the car sleeps as it should."},
	{NOD_EV_GOOD_SAME, "good-same", "a good recording", -1.0, "It does what it always does."},
	{NOD_EV_EARLIER, "earlier", "an earlier session of the car", 1.0,
	 "The weight is the earlier session's own, so it adds as it stands."},
	{NOD_EV_RESUMES, "resumes", "frames after the settle deadline", 5.5,
	 "All pause, and it alone begins again: the others start up because of it."},
	{NOD_EV_LIKE_CARS, "like-cars", "solved recordings of like cars", 2.0,
	 "Cars of one kind have weak points in common; but each has a fault of its own, and some were "
	 "solved wrongly. At most this, and never so that it alone names somebody."},
};

const struct nod_evidence_rule *nod_evidence_rule(enum nod_evidence kind)
{
	assert(kind >= 0 && kind < NOD_EVIDENCE_KINDS && rules[kind].kind == kind);
	return &rules[kind];
}
