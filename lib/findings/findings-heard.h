/* SPDX-License-Identifier: MIT */
/* The part of the findings that was heard: messages, senders, networks and when they were
 * awake. See findings.h. */
#ifndef NOD_FINDINGS_HEARD_H
#define NOD_FINDINGS_HEARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "rhythm.h"
#include "timestamp.h"

enum nod_verdict {
	NOD_VERDICT_CANNOT_TELL,
	NOD_VERDICT_SLEEPS, /* sleeps in time */
	NOD_VERDICT_KEPT_AWAKE,
	NOD_VERDICT_WOKEN, /* woken again */
	NOD_VERDICT_DRAWS, /* draws current while asleep */
	NOD_VERDICT_LATE,  /* slept late: after nodoff's default deadline */
	NOD_VERDICTS
};

/* "sleeps in time", "kept awake", ...: the words of the design. */
const char *nod_verdict_name(enum nod_verdict verdict);

/* A message and its sender: one arbitration ID on one network. */
struct nod_ident_finding {
	uint32_t id; /* with NOD_ID_EXTENDED */
	int sender;  /* index into senders */
	int network;
	uint64_t frames, frames_late; /* all; after the settle deadline */
	nod_time first, last;
	struct nod_period before, after;      /* of the deadline */
	unsigned counter_bits, checksum_bits; /* among the first 64 payload bits */
	unsigned changing_bits;               /* bits whose changes mean something */
	uint64_t changing_mask;               /* which (bit 0: bit 0 of byte 0) */
	uint64_t changing_late_mask;          /* of these, changed after the deadline */
	uint64_t changes_late;                /* frames after the deadline with such a change */
	uint64_t live_mask; /* bits that ever changed, counters and checksums too */
	uint64_t word;      /* the first 8 bytes of its last frame, byte 0 lowest */
	unsigned length;    /* of its last frame */
	nod_time last_change;
	bool management; /* a network-management message, by the map or as detected */
};

enum nod_sender_kind {
	NOD_SENDER_MODULE,         /* a module of the vehicle file */
	NOD_SENDER_SOURCE_ADDRESS, /* a J1939 source address no module claims */
	NOD_SENDER_NODE,           /* a network-management node no module claims */
	NOD_SENDER_ID,             /* one ID no module claims */
	NOD_SENDER_TESTER          /* diagnostic requests: our own tool or a dongle */
};

/* A sender as far as it can be told: what suspicion falls on. */
struct nod_sender_finding {
	enum nod_sender_kind kind;
	int module;       /* index into the vehicle's modules, NOD_NONE */
	int network;      /* where it was heard first */
	uint32_t number;  /* source address, or ID, by kind */
	const char *name; /* for people: "tailgate module", "source address 21h", ... */
	bool gateway;     /* by the map, by own messages on two networks, or by others' handed on */
};

struct nod_speaker {
	int ident; /* index into idents */
	nod_time time;
};

#define NOD_SPAN_SPEAKERS 6
#define NOD_SPAN_STARTERS 16 /* modules of a network with some messages each */

/* One stretch of a network being awake. */
struct nod_span_finding {
	nod_time from, to;  /* first and last frame; `to` grows while it is awake */
	bool open;          /* still awake at the end of the recording */
	bool slept_before;  /* it woke: true silence was heard right before it */
	bool slept_after;   /* the network fell asleep at its end, or slept at some time before the
				* next one */
	bool silence_known; /* the silence after it was listened to without loss or gap */
	nod_time hole_from, hole_to; /* the part of that silence in which nobody seems to have
				* listened; NONE: there is none */
	double asleep; /* that the silence was sleep from end to end, 0..1; as far as is known */
	uint64_t frames, bits; /* bits: exact, with stuff bits and interframe space */
	uint64_t errors;       /* error reports of the controller */
	int first_count, last_count;
	struct nod_speaker first[NOD_SPAN_STARTERS]; /* who spoke first, in order */
	struct nod_speaker last[NOD_SPAN_SPEAKERS];  /* who spoke last, latest first */
	int lone_sender;    /* who was alone at its end, NOD_NONE when nobody for long */
	nod_time lone_from; /* the last frame of anybody else (or `from`) */
	const void *clues;  /* for the engine: how it began and ended */
};

struct nod_late {
	nod_time from, to;
};

enum nod_network_state {
	NOD_STATE_NOTHING_HEARD, /* no frame at all: not the same as asleep */
	NOD_STATE_AWAKE,
	NOD_STATE_ASLEEP, /* silent for its quiet time, after it was heard */
	NOD_STATE_UNKNOWN /* nobody is listening, or frames were lost */
};
const char *nod_network_state_name(enum nod_network_state state);

struct nod_network_finding {
	const char *name;
	int network; /* index into the vehicle's networks (interfaces nobody claims are appended) */
	enum nod_network_state state;
	nod_time since; /* of that state */
	nod_time
		deaf_since; /* nobody listens to it, NONE: somebody does; then its state is unknown */
	nod_time slept_until;     /* it slept when nobody listened any more, and was not heard awake
			       * or asleep since; NONE: not so */
	enum nod_verdict verdict; /* of this network alone */
	const char *reason;       /* one sentence for the verdict */
	nod_time deadline;        /* settle deadline, by the settle clock that runs now */
	nod_time judged_by;       /* the deadline that the verdict speaks of: an earlier one when
				   * the clock was started anew after it was missed */
	bool deadline_default;    /* from nodoff's default, not from the vehicle file */
	nod_duration quiet_time;
	nod_time slept_at;       /* the last frame before its last true sleep, or NONE */
	nod_time first_slept_at; /* ... its first after the lock */
	struct nod_late *late;   /* when being awake is a finding: from each settle deadline to
				   * what started the settle clock anew, or the end */
	size_t late_count;
	nod_duration awake_late;   /* time awake after the deadline */
	nod_duration asleep_known; /* time known to be asleep after the lock */
	unsigned wakes; /* wake-ups after the lock that nothing in the journal explains */
	unsigned wakes_explained;
	struct nod_span_finding *spans; /* in time order */
	size_t span_count;
	uint64_t frames, lost, errors;
	uint32_t bitrate;
	bool bitrate_default;
	double load;            /* 0..1: mean while awake since the lock; -1: unknown */
	double load_now;        /* last whole second, live view; -1 */
	const char *management; /* "AUTOSAR CanNm (detected, 98 %)", "none seen", ... */
	int goes_on_as;         /* its interface got another name: index into networks; NOD_NONE */
};

/* When the silence after span i ended: with the next span, or at `end`, or with the
 * listening. */
nod_time nod_span_silence_end(const struct nod_network_finding *n, size_t i, nod_time end);

/* True when that silence, or a part of it, was heard to be sleep. */
bool nod_span_slept_after(const struct nod_network_finding *n, size_t i);

/* How much of that silence is known to be silence. */
nod_duration nod_span_silence_known(const struct nod_network_finding *n, size_t i, nod_time end);

/* A stretch in which, by the traffic before and after it, nobody seems to have listened. */
struct nod_hole_finding {
	nod_time from, to; /* last frame before, first after it (or the end of the recording) */
	int network;       /* NOD_NONE: all that were awake */
	bool torn;         /* what the recording has there cannot be read */
	double probability;
	const char *text; /* a sentence: what breaks off, and how it goes on */
};

/* A wake-up as one story across networks. */
struct nod_wake_finding {
	nod_time time;
	int network;            /* which woke first */
	int ident;              /* who spoke first there (index into idents) */
	int sender;             /* the same as a sender */
	nod_duration lead;      /* until a second sender spoke anywhere; NONE: nobody did */
	nod_duration awake_for; /* until the last of the networks slept again (or the end) */
	unsigned networks_woken;
	const char *cause; /* what explains it: the journal's mark, or use; "" when nothing does */
	bool noted;        /* the journal's */
};

#endif
