/* SPDX-License-Identifier: MIT */
/* The record of one message: an arbitration ID on one network. Internal to
 * the engine. */
#ifndef NOD_IDENT_H
#define NOD_IDENT_H

#include <stdbool.h>
#include <stdint.h>

#include "bit-times.h"
#include "frame-bits.h"
#include "frame.h"
#include "payload.h"
#include "period.h"

/* Where on the way to sleep the car is. */
enum nod_phase {
	NOD_PHASE_USE,      /* before the lock, or unlocked */
	NOD_PHASE_SETTLING, /* locked, before the settle deadline */
	NOD_PHASE_LATE,     /* after the deadline: being awake is a finding */
	NOD_PHASES
};

/* What a network-management node said, by phase. */
struct nod_node {
	int address;
	uint64_t pdus[NOD_PHASES];
	uint64_t ready[NOD_PHASES];    /* OSEK: with sleep indication */
	uint64_t requests[NOD_PHASES]; /* that ask for the network; with `ready`, not all: an
					* OSEK alive message does neither */
	uint64_t active_wakeups[NOD_PHASES];
	uint64_t limp_home[NOD_PHASES];
	uint64_t releases[NOD_PHASES];      /* OSEK: so often the indication came after a request */
	uint64_t ring_requests[NOD_PHASES]; /* OSEK: of the requests, ring messages */
	nod_time first, last;               /* PDU */
	nod_time last_request;              /* AUTOSAR: == last */
	nod_time request_from;              /* since when it requests without a pause */
	nod_time last_ready;                /* OSEK: last with it */
	uint64_t acknowledges[NOD_PHASES];  /* OSEK: sleep acknowledges */
	nod_time last_acknowledge;          /* ... the last of them */
	uint64_t partial[NOD_PHASES];       /* OR of the partial network info bytes */
	uint8_t control;                    /* control bits or opcode of the last PDU */
	uint8_t control_any, control_all;   /* AUTOSAR: bits that any, that all PDUs had */
	uint32_t span;                      /* serial of the span it last spoke in */
	nod_time span_first;                /* its first PDU of that span */
	bool span_active;                   /* it said in that span that it woke the network */
	bool span_alive;                    /* OSEK: it began that span with an alive message */
	uint32_t span_early;                /* its PDUs soon after its first of that span */
	uint32_t span_requests;             /* its requests in that span */
	uint32_t changes;                   /* AUTOSAR: so often its number was another */
	uint32_t naming;                    /* OSEK: its ring and alive messages */
	int names;                          /* ... whom the last of them named */
	bool named;                         /* ... that once was a node, maybe itself */
};

enum {
	NOD_IDENT_DIAGNOSTIC = 1,
	NOD_IDENT_NM = 2,
	NOD_IDENT_SEARCHED = 4, /* NM is looked for in it */
	NOD_IDENT_USE = 8       /* may tell that the car is in use */
};

/* What is kept of a message from the settle deadline on, made by its first frame after it. */
struct nod_after {
	struct nod_sampler intervals;
	uint64_t planes[NOD_PAYLOAD_PLANES]; /* of the payload, as they were then */
	int64_t prompt_ns;    /* a frame so soon after the one before is out of turn; 0: never */
	uint64_t prompt_bits; /* payload bits that really changed in frames out of turn */
	uint64_t waking_bits; /* that changed in each frame that was its first after a sleep */
	unsigned waking;      /* ... and had changed: so many */
	unsigned prompt;      /* ... and in how many */
	struct nod_bit_times *times; /* NULL: nothing really changed */
};

struct nod_ident {
	/* What every frame touches lies close together: from the end of `settled` to the
	 * begin of `payload`. */
	struct nod_sampler settled; /* intervals before the deadline */
	uint32_t id;                /* with NOD_ID_EXTENDED */
	uint32_t span;              /* serial of the awake span it last spoke in */
	nod_time last;              /* latest frame */
	int64_t owner;              /* who sends it: a number, equal for messages of one sender */
	struct nod_bits_line line;  /* for the length of its frames; of the latest length */
	uint64_t frames[NOD_PHASES];
	uint64_t bits;
	struct nod_after *after; /* NULL: no frame after the deadline */
	uint8_t protocols;       /* NOD_IDENT_*: what its frames may be, by its ID */
	struct nod_payload payload;

	struct nod_node *node;            /* NULL: not a network-management PDU */
	uint64_t changing, changing_late; /* payload bits that really changed */
	uint64_t changes_late;            /* frames after the deadline in which one did */
	nod_time last_change;
	nod_time first;        /* earliest frame taken */
	nod_time span_first;   /* its first frame of that span */
	uint64_t span_base;    /* all its frames before that span */
	float phase;           /* how it came back after the silence before that span: > 0 in
				    * the rhythm it had (log-odds), < 0 out of it, 0: cannot be said */
	uint64_t diagnostic;   /* frames that are diagnostic requests or answers */
	uint64_t requests;     /* of these, requests: a tester's */
	uint64_t service_like; /* frames with the form of a diagnostic service, whatever the ID */
	uint64_t service_requests; /* of these, with the number of a request */
	uint64_t presences; /* frames that only say that a tester is there, whatever the ID */

	/* Stretches after the deadline in which its sender alone spoke for some
	 * seconds, and that ended with a frame of this message. */
	uint32_t lone_runs;
	int64_t lone_ns;

	/* After the deadline, within an awake span: the longest time between two of its
	 * frames, and how often one was as long as a pause (track-take.h). */
	int64_t pause;
	uint32_t pauses;
	/* Lulls of the network after the deadline, too short for a sleep, that ended with its frame. */
	uint32_t resumed;
	int64_t lulled_ns;

	/* What nod_ident_period() said when its samples were `period_of`; 0: not asked yet. */
	struct nod_period period;
	uint32_t period_of;

	/* Where it stood at the end of the longest awake span since the lock. */
	uint32_t held_serial;              /* of that span; 0: it did not speak there */
	nod_time held_last;                /* its last frame there */
	nod_time held_request, held_ready; /* NM: last request, last readiness */
	nod_time held_request_from;        /* NM: since when it requested without a pause */
};

/* The IDs of one network, found by ID in constant time. */
struct nod_idents {
	struct nod_ident *items; /* in order of first appearance */
	uint32_t count, room;
	uint32_t *slots;     /* open addressing over the IDs: index + 1, 0: free */
	uint32_t slot_count; /* a power of two, or 0; at most a quarter is used */
	uint8_t shift;       /* 32 - log2(slot_count) */
	uint32_t seed;       /* of the search: nobody can write IDs that all begin at one slot */
	uint32_t *all;       /* IDs of all networks together, NULL: only these are counted */
};

/* At most this many IDs on all networks: far above any car (2048 standard on
 * each), low enough that a hostile capture cannot eat the machine (5 KB each). Chosen. */
#define NOD_IDENTS_MAX 200000

/* Where the search for an ID begins: Knuth's multiplicative hash. */
static inline uint32_t nod_idents_hash(const struct nod_idents *idents, uint32_t id)
{
	return (id ^ idents->seed) * UINT32_C(2654435761) >> idents->shift;
}

struct nod_ident *nod_idents_search(struct nod_idents *idents, uint32_t id);

/* The record of an ID, made when it is new; NULL with errno ENOMEM or, when there
 * are NOD_IDENTS_MAX, ENOSPC. Pointers are valid until the next call. Standard and extended IDs come mixed:
 * they are found alike, without a branch that would be guessed wrong often. */
static inline struct nod_ident *nod_idents_get(struct nod_idents *idents, uint32_t id)
{
	uint32_t index = idents->slot_count ? idents->slots[nod_idents_hash(idents, id)] : 0;

	return index && idents->items[index - 1].id == id ? &idents->items[index - 1]
							  : nod_idents_search(idents, id);
}

/* The record of an ID, NULL when it has not been seen. */
struct nod_ident *nod_idents_find(const struct nod_idents *idents, uint32_t id);

/* The same, quicker for an ID that has been seen. */
static inline struct nod_ident *nod_idents_known(const struct nod_idents *idents, uint32_t id)
{
	uint32_t index = idents->slot_count ? idents->slots[nod_idents_hash(idents, id)] : 0;

	return index && idents->items[index - 1].id == id ? &idents->items[index - 1]
							  : nod_idents_find(idents, id);
}

void nod_idents_clear(struct nod_idents *idents);

/* Payload bits really changed after the deadline. 0, or -ENOMEM: it stays unknown. */
int nod_ident_note_late_change(struct nod_ident *ident, uint64_t changed, nod_time time);

/* Forgets what is kept from the deadline on. */
void nod_ident_end_after(struct nod_ident *ident);

/* Begins what is kept from the deadline on. NULL: no memory, it stays unknown meanwhile. */
struct nod_after *nod_ident_begin_after(struct nod_ident *ident);

/* How regularly it comes: after the deadline, when enough was heard of it there, else before. */
struct nod_period nod_ident_period(const struct nod_ident *ident);

/* Keeps that, so that asking costs next to nothing as long as the samples stay what they are. */
void nod_ident_keep_period(struct nod_ident *ident);

/* Shorter intervals were not the message's: they are not counted any more. */
void nod_ident_forget_below(struct nod_ident *ident, int64_t interval_ns);

/* True only when that period is at least so long: what can be said without sorting. */
bool nod_ident_is_slower(const struct nod_ident *ident, int64_t interval_ns);

/* All frames, whatever the phase. */
static inline uint64_t nod_ident_frames(const struct nod_ident *ident)
{
	return ident->frames[NOD_PHASE_USE] + ident->frames[NOD_PHASE_SETTLING] +
	       ident->frames[NOD_PHASE_LATE];
}

/* So many frames that say nothing but that a tester is there are no chance. Chosen. */
#define NOD_PRESENCES_MIN 3

/* True when what it carries is a tester's work: requests or their answers. By
 * its ID; by saying all the time that a tester is there; or, where a tester was heard on the
 * network anyhow, by the form of all its frames: modules are asked under IDs of the vehicle
 * maker's choice, too. */
static inline bool nod_ident_is_diagnostic(const struct nod_ident *ident, bool tester_heard)
{
	uint64_t frames = nod_ident_frames(ident);

	return (ident->diagnostic && ident->diagnostic * 10 >= frames * 9) ||
	       (ident->presences >= NOD_PRESENCES_MIN && ident->presences * 10 >= frames * 9) ||
	       (tester_heard && ident->service_like && ident->service_like * 10 >= frames * 9);
}

#endif
