/* SPDX-License-Identifier: MIT */
/* Which bit moves with an input that somebody worked on ("touched left
 * latch"). Internal to the engine. */
#ifndef NOD_TOUCHED_BITS_H
#define NOD_TOUCHED_BITS_H

#include <stddef.h>
#include <stdint.h>

#include "timestamp.h"

/* Marks "touched" that are looked at, and bits kept of each: the rarest movers.
 * Chosen: a person tries a dozen inputs. */
#define NOD_TOUCHES_MAX 64
#define NOD_TOUCH_BITS 8

/* A bit that moved near the mark: seconds before it (the mark is entered after
 * the hand was there) and after it. Chosen. */
#define NOD_TOUCH_BEFORE_NS (4 * NOD_NS_PER_S)
#define NOD_TOUCH_AFTER_NS (4 * NOD_NS_PER_S)

struct nod_touch_bit {
	int network;
	uint32_t ident;   /* of the network's track */
	uint8_t bit;      /* 0: lowest bit of byte 0 */
	unsigned toggles; /* in the whole recording until then */
	nod_time time;    /* when it last moved */
	uint64_t word;    /* the payload's first 8 bytes when it was looked at ... */
	uint64_t moved;   /* ... and its bits whose last change was in the same frame */
};

struct nod_touch {
	int mark; /* index into the engine's marks; of a wake-up: its network */
	nod_time time;
	struct nod_touch_bit bits[NOD_TOUCH_BITS]; /* fewest toggles first */
	size_t bit_count;
};

/* Wake-ups whose bits are kept, the latest. Chosen: more than anybody is asked about. */
#define NOD_WAKE_TOUCHES_MAX 32

struct nod_engine;

/* An input was worked on: its window opens. */
void nod_touch_begin(struct nod_engine *engine, int mark, nod_time time);

/* Looks at the windows that are over by `now`. */
void nod_touches_look(struct nod_engine *engine, nod_time now);

/* Keeps which bits moved with a wake-up, as those of a door do that woke the car. Called once a
 * second. */
void nod_touches_look_at_wakes(struct nod_engine *engine, nod_time now);

/* Looks at one window as it stands, changing only *touch. */
void nod_touch_look(const struct nod_engine *engine, struct nod_touch *touch);

#endif
