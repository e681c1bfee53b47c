/* Shared by the nm-detect files only. */
#ifndef NOD_NM_DETECT_INTERNAL_H
#define NOD_NM_DETECT_INTERNAL_H

#include <stdbool.h>
#include <stdint.h>

#include "nm-detect.h"

/* IDs kept: a car's network has up to about 300 (common practice, no source).
 * A power of two; filled to three quarters at most. */
#define NOD_NM_IDS 1024

#define NOD_NM_INTERVALS 8

/* Rings are followed apart by the ID bits above the lowest 8. A power of two. */
#define NOD_NM_BLOCKS 32

/* The first two bytes of one ID's frames, and how it behaves. */
struct nod_nm_id {
	uint32_t id;
	uint32_t frames; /* 0: free slot */
	uint8_t first[2], bits[2]; /* of bytes 0 and 1: first value, OR of all */
	bool constant[2];	   /* never changed */
	bool calmed[2];		   /* bit 0 was set at first and later was not */
	bool unset;		   /* bytes 2 and up were always FF */
	bool one_length;
	uint8_t length;
	uint8_t interval_count;
	uint16_t intervals[NOD_NM_INTERVALS]; /* the last ones, ms */
	nod_time last;
	uint32_t operations; /* frames with a plausible OSEK operation code */
	uint32_t ring;	     /* of these, ring messages to another node */
	uint32_t handed, dropped; /* ... followed by their addressee, by another */
	uint8_t successor;   /* of the last ring message */
};

struct nod_nm_detect {
	struct nod_nm_id ids[NOD_NM_IDS];
	uint16_t used[NOD_NM_IDS]; /* slots in use, in order of appearance */
	unsigned count;
	int16_t holder[NOD_NM_BLOCKS]; /* slot of the last ring message, -1: none */
};

const struct nod_nm_id *nod_nm_find(const struct nod_nm_detect *detect, uint32_t id);

/* Each fills the result for its scheme, confidence 0 when it does not fit. */
void nod_nm_detect_osek(const struct nod_nm_detect *detect, struct nod_nm_detection *result);
void nod_nm_detect_autosar(const struct nod_nm_detect *detect, struct nod_nm_detection *result);
void nod_nm_detect_j1939(const struct nod_nm_detect *detect, struct nod_nm_detection *result);

/* The low bits of an ID that are the node number: the widest first. */
#define NOD_NM_MASKS 5
extern const uint8_t nod_nm_masks[NOD_NM_MASKS];

/* Log-odds to probability, at most NOD_NM_SUREST. */
double nod_nm_confidence(double log_odds);
#define NOD_NM_SUREST 0.99

/* A layout with the default byte positions and codings. */
struct nod_nm_layout nod_nm_default_layout(enum nod_nm_scheme scheme);

/* Widens first..last to the smallest block of 64, 128 or 256 IDs that has both,
 * as long as no ID seen there says otherwise: more nodes may speak up later.
 * Downward only when `down`. */
void nod_nm_widen(const struct nod_nm_detect *detect, struct nod_nm_layout *layout, bool down);

/* IDs seen between first and last. */
unsigned nod_nm_ids_between(const struct nod_nm_detect *detect, uint32_t first, uint32_t last);

/* Median of the last intervals in ms, 0 when there are fewer than 3. */
unsigned nod_nm_period_ms(const struct nod_nm_id *id);

#endif
