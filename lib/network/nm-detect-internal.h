/* SPDX-License-Identifier: MIT */
/* Shared by the nm-detect files only. */
#ifndef NOD_NM_DETECT_INTERNAL_H
#define NOD_NM_DETECT_INTERNAL_H

#include <stdbool.h>
#include <stdint.h>

#include "nm-detect.h"

/* IDs kept: a car's network has up to about 300 (common practice, no source).
 * A power of two; filled to three quarters at most. */
#define NOD_NM_IDS 1024

#define NOD_NM_INTERVALS 16

/* Rings are followed apart by the ID bits above the lowest 8. A power of two. */
#define NOD_NM_BLOCKS 32

/* The first bytes of one ID's frames, and how it behaves. */
struct nod_nm_id {
	uint32_t id;
	uint32_t frames;  /* 0: free slot */
	uint64_t word;    /* bytes 0 to 7 of the first frame, byte 0 lowest */
	uint64_t changed; /* bits that ever were different */
	uint8_t bits[2];  /* of bytes 0 and 1: OR of all */
	bool calmed[2];   /* bit 0 was set at first and later was not */
	bool unset;       /* bytes 2 and up were always FF */
	bool one_length;
	bool over; /* it is no NM message and is not looked at any more */
	uint8_t length;
	uint8_t interval_count;
	uint16_t intervals[NOD_NM_INTERVALS]; /* the last ones, ms, without pauses */
	bool period_known;                    /* period_ms is of these; false: to be worked out */
	uint16_t period_ms;
	nod_time last;
	uint8_t run;         /* short intervals in a row */
	bool fresh;          /* these began its talk, or ended a pause of it */
	bool burst;          /* it began with a few short ones, then its period */
	nod_time burst_at;   /* ... first then */
	bool lulled;         /* what it begins with may have waited somewhere */
	uint8_t before[2];   /* bytes 0 and 1 of the last frame */
	uint8_t flips[2];    /* bytes 0, 1: the active wake-up bit appeared while it talked on */
	uint32_t active;     /* busy seconds of the network up to its last frame */
	bool alone;          /* it fell silent by itself while the network went on */
	bool ended;          /* it fell silent, alone or with others */
	uint16_t talkers;    /* ... and so many others, no nodes of its kind, talked on */
	nod_time stopped;    /* its last frame before it did; NOD_TIME_NONE */
	nod_time looked;     /* of the latest silence that was looked at, its last frame */
	uint32_t operations; /* frames with a plausible OSEK operation code */
	uint32_t ring;       /* of these, ring messages to another node */
	uint32_t alive;      /* ... alive messages, which name their sender */
	uint32_t alive_base; /* ID less the number in it; UINT32_MAX: not always the same */
	uint32_t handed, dropped; /* ring messages followed by their addressee, by another */
	int16_t next;             /* slot of the node it last handed the ring to, -1 */
	uint16_t delay_ms; /* usually, from being handed the ring to its own message; 0: never */
	uint32_t base;     /* ID of node 0 by its hand-overs */
	uint8_t successor; /* of the last ring message */
};

struct nod_nm_detect {
	struct nod_nm_id ids[NOD_NM_IDS];
	uint16_t used[NOD_NM_IDS]; /* slots in use, in order of appearance */
	unsigned count;
	int16_t holder[NOD_NM_BLOCKS]; /* slot of the last ring message, -1: none */
	nod_time held[NOD_NM_BLOCKS];  /* ... and its time */
	nod_time second;               /* the latest busy second */
	uint32_t active;               /* busy seconds so far */
	nod_nm_last_fn *last_of;       /* NULL: all frames are fed */
	const void *last_context;
};

static inline uint8_t nod_nm_byte(const struct nod_nm_id *id, int byte)
{
	return (uint8_t)(id->word >> 8 * byte);
}

static inline bool nod_nm_is_constant(const struct nod_nm_id *id, int byte)
{
	return !(id->changed >> 8 * byte & 0xFF);
}

#define NOD_NM_EACH_BYTE UINT64_C(0x0101010101010101)

/* Bit 0 of each byte of a word that is not zero. */
static inline uint64_t nod_nm_bytes_set(uint64_t word)
{
	word |= word >> 4 & 0x0F * NOD_NM_EACH_BYTE;
	word |= word >> 2 & 0x03 * NOD_NM_EACH_BYTE;
	word |= word >> 1;
	return word & NOD_NM_EACH_BYTE;
}

/* How many bytes of a word are not zero. */
static inline unsigned nod_nm_bytes_in(uint64_t word)
{
	return (unsigned)(nod_nm_bytes_set(word) * NOD_NM_EACH_BYTE >> 56);
}

const struct nod_nm_id *nod_nm_find(const struct nod_nm_detect *detect, uint32_t id);

/* The ID of node 0, when `id` is node `number`. */
static inline bool nod_nm_is_base(uint32_t id, uint8_t number, uint32_t *base)
{
	*base = id - number;
	return number <= (id & NOD_ID_EXTENDED_MASK);
}

/* IDs of nodes mostly begin at a round one. */
static inline bool nod_nm_is_round(uint32_t base)
{
	return !(base & 0x0F);
}

/* Log-odds to probability, at most NOD_NM_SUREST. */
double nod_nm_confidence(double log_odds);
#define NOD_NM_SUREST 0.99

/* A layout with the default byte positions and codings. */
struct nod_nm_layout nod_nm_layout_of(enum nod_nm_scheme scheme);

/* Widens first..last to the smallest block of 64, 128 or 256 IDs that has both,
 * as long as no ID seen there says otherwise: more nodes may speak up later.
 * Downward only when `down`. */
void nod_nm_widen(const struct nod_nm_detect *detect, struct nod_nm_layout *layout, bool down);

/* The usual interval in ms, apart from bursts; 0 when there are fewer than 3. */
unsigned nod_nm_period_ms(const struct nod_nm_id *id);

/* It carries its own number in this byte, and always has; *base is the ID of number 0. */
bool nod_nm_has_number(const struct nod_nm_id *id, int byte, uint32_t *base);

/* By what has been seen so far it may be an AUTOSAR NM message; one without a node byte. */
bool nod_nm_may_be_pdu(const struct nod_nm_id *id);
bool nod_nm_may_be_bare(const struct nod_nm_id *id);

/* Both are of one look and period in one block of IDs, as nodes without numbers are. */
#define NOD_NM_BLOCK 0xFF /* as far apart at most */
bool nod_nm_is_alike(const struct nod_nm_id *a, const struct nod_nm_id *b);

/* A new busy second has begun: looks who has fallen silent, alone or with others. */
void nod_nm_look_at_stops(struct nod_nm_detect *detect, nod_time now);

/* A frame of the ID in `slot` as a message of a ring. */
void nod_nm_note_operation(struct nod_nm_detect *detect, unsigned slot,
			   const struct nod_frame *frame);

/* Whether the ring may go through it: few other messages have such codes throughout. A node that
 * has just been switched on may say nothing of its state, operation 00: four times on a real
 * recording, among 216 good ones. */
#define NOD_NM_UNSAID_MOST 4
static inline bool nod_nm_may_ring(const struct nod_nm_id *id)
{
	uint64_t said = id->operations, frames = id->frames;

	return (said + NOD_NM_UNSAID_MOST) * 20 >= frames * 19 && said * 4 >= frames * 3;
}

/* No NM message comes this often but in a burst: no published cycle is shorter than 100 ms
 * (the textbook OSEK set; AUTOSAR sets have 500 and 1000 ms). */
#define NOD_NM_PERIOD_LEAST_MS 50

/* ... of one without a number: 100 ms, and what a measured one is shorter by. */
#define NOD_NM_BARE_PERIOD_LEAST_MS 90

/* How many of the first 8 bytes ever changed. Without a node byte, a node changes its control
 * bits, partial network info and little else. */
static inline unsigned nod_nm_bytes_changed(const struct nod_nm_id *id)
{
	return nod_nm_bytes_in(id->changed);
}
#define NOD_NM_BARE_CHANGES 4

#endif
