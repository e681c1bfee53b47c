/* SPDX-License-Identifier: MIT */
/* The current through a fuse, from the millivolts across it.
 *
 * A fuse is a small resistor that is already in the circuit: measuring the
 * drop across it wakes nothing and interrupts nothing. Its cold resistance
 * comes from the vehicle file (the value of that very fuse, which always
 * wins) or from the table in fuse.c, where each value says whether a published
 * worked example backs it or it is from memory.
 *
 * What the method cannot do is carried along: the interval allows for the
 * meter's uncertainty and for the spread of fuses, so "0.0 mV" is never zero
 * amps. Currents are magnitudes: the sign of the drop only says which way
 * round the probes were. Pure functions; nothing to free. */
#ifndef NOD_FUSE_H
#define NOD_FUSE_H

#include <stdint.h>

#include "error.h"
#include "vehicle.h"

enum nod_fuse_basis {
	NOD_FUSE_OWN,       /* the value the vehicle file gives for this fuse */
	NOD_FUSE_PUBLISHED, /* table value that a published worked example confirms */
	NOD_FUSE_MEMORY     /* table value from memory, not confirmed */
};

struct nod_fuse_resistance {
	int64_t uohm;
	int64_t spread_percent; /* how far a real fuse may be from it, either way */
	enum nod_fuse_basis basis;
};

/* Spread of a table value. From memory: makers state the cold resistance as a
 * nominal figure with about +-10 %. The value of a vehicle file is taken as it
 * stands (0). */
#define NOD_FUSE_SPREAD_PERCENT 10

/* Largest reading taken: above, it is no fuse in circuit but a blown one. A
 * blade fuse at its rated current drops some 100 mV (rating x cold resistance
 * of the table: 10 A x 7.7 mOhm = 77 mV, 3 A x 31.1 = 93, and it rises when
 * warm). Chosen: five times that. */
#define NOD_FUSE_LARGEST_DROP_UV 500000
/* Chosen: a fuse of 1 MOhm is blown, and products with it fit 64 bits. */
#define NOD_FUSE_LARGEST_UOHM INT64_C(1000000000000)

enum nod_fuse_state {
	NOD_FUSE_CARRIES,   /* more than the uncertainty can explain */
	NOD_FUSE_MAY_CARRY, /* a reading, but within the uncertainty of the meter */
	NOD_FUSE_NONE_SEEN  /* the meter shows zero: at most high_ua */
};

struct nod_fuse_current {
	int64_t ua;       /* at the nominal resistance, rounded to nearest */
	int64_t low_ua;   /* at least this much, rounded down */
	int64_t high_ua;  /* at most this much, rounded up */
	int64_t count_ua; /* what the given uncertainty is worth on this fuse */
	enum nod_fuse_state state;
	struct nod_fuse_resistance resistance;
};

/* Cold resistance by family and rating. Families as people write them, without
 * case: "ato" (also "atof", "regular"), "mini", "maxi", ... Returns 0 or
 * -ENOENT with err saying what is missing and where it can be given. `name` is
 * how the message calls the fuse. */
int nod_fuse_resistance_find(struct nod_fuse_resistance *out, const char *name, const char *family,
			     int64_t rating_ma, struct nod_error *err);

/* The same for a fuse of the vehicle file; its own value wins. */
int nod_fuse_resistance_of(struct nod_fuse_resistance *out, const struct nod_fuse *fuse,
			   struct nod_error *err);

/* Current for a drop of `uv` microvolts that the meter may be off by
 * `uncertainty_uv` (>= 0) either way. Returns 0, or -ERANGE with err when the
 * drop cannot be that of a sound fuse, -EINVAL for a resistance <= 0. */
int nod_fuse_current(struct nod_fuse_current *out, int64_t uv, int64_t uncertainty_uv,
		     const struct nod_fuse_resistance *resistance, struct nod_error *err);

#define NOD_FUSE_RATING_TEXT 32

/* "10 A", "7.5 A". Returns buf. */
char *nod_fuse_rating_print(char buf[NOD_FUSE_RATING_TEXT], int64_t rating_ma);

/* "own value", "published", "from memory". */
const char *nod_fuse_basis_name(enum nod_fuse_basis basis);

/* "carries", "may-carry", "none-seen"; stable, for JSON. */
const char *nod_fuse_state_name(enum nod_fuse_state state);

/* What limits the method, each a sentence of its own; NULL after the last. */
const char *nod_fuse_doubt(unsigned index);

#endif
