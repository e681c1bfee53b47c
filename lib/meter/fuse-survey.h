/* SPDX-License-Identifier: MIT */
/* A round of fuse readings, joined with the map of the car.
 *
 * Which fuses carry current, which modules hang on them, what those have in
 * common and how likely that would be by chance, and how the sum compares with
 * the clamp on the battery cable. No clock, no I/O; the same readings in any
 * order give the same survey. */
#ifndef NOD_FUSE_SURVEY_H
#define NOD_FUSE_SURVEY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "error.h"
#include "fuse.h"
#include "vehicle.h"

/* Inductive clamps wander by this much after they were zeroed; the clamp is
 * never believed better. Common practice, no source (10-20 mA are usual). */
#define NOD_CLAMP_DRIFT_UA 20000

struct nod_fuse_reading {
	const char *name;   /* as the person calls it */
	bool unnamed;       /* the name is only its type: it is never the same fuse as another */
	int fuse;           /* index in the vehicle, or NOD_NONE */
	const char *family; /* both are used when fuse is NOD_NONE; NULL and 0: not known */
	int64_t rating_ma;
	int64_t uv, uncertainty_uv; /* the drop and how far it may be off, either way */
};

struct nod_fuse_line {
	struct nod_fuse_reading reading;
	bool known;                      /* the current could be computed */
	const char *refusal;             /* why not; "" when known */
	struct nod_fuse_current current; /* valid when known */
	int *modules;                    /* vehicle indices of what hangs on it */
	size_t module_count;
};

/* What several fuses may share. */
enum nod_fuse_tie { NOD_TIE_NETWORK, NOD_TIE_MODULE, NOD_TIE_BOX, NOD_TIE_FEED };

struct nod_fuse_common {
	enum nod_fuse_tie tie;
	const char *name;  /* of the network, module, box or consumer */
	unsigned measured; /* fuses of the map with a known current ... */
	unsigned carrying; /* ... those that carry current */
	unsigned sharing;  /* ... those that have this in common */
	unsigned both;     /* ... and those that do both; at least 2 */
	double chance;     /* probability of `both` or more if current had nothing to do
			     * with it (hypergeometric, exact) */
	double corrected;  /* upper bound for the best of all things compared to come out
			     * like this: compared x chance, at most 1 (Bonferroni) */
};

enum nod_fuse_rest {
	NOD_REST_NO_CLAMP,  /* no clamp reading to compare with */
	NOD_REST_EXPLAINED, /* the measured fuses can make up what the clamp reads */
	NOD_REST_MISSING,   /* more flows than the measured fuses can carry */
	NOD_REST_EXCEEDED   /* the fuses carry more than the clamp reads */
};

struct nod_fuse_survey {
	struct nod_fuse_line *lines; /* the most current first, unknown ones last */
	size_t line_count, known, carrying;
	struct nod_fuse_common *common; /* the least likely first */
	size_t common_count;
	unsigned compared; /* how many networks, modules, boxes and feeds were looked at */
	int64_t sum_low_ua, sum_high_ua; /* of the fuses with a known current */
	bool clamp_given;
	int64_t clamp_low_ua, clamp_high_ua;
	int64_t rest_low_ua, rest_high_ua; /* clamp less fuses; valid with a clamp */
	enum nod_fuse_rest rest;
	int *unmeasured; /* fuses of the map without a reading, vehicle indices */
	size_t unmeasured_count;
	struct nod_arena arena;
};

/* Makes the survey. A later reading of the same fuse replaces an earlier one.
 * clamp_ua is the clamp's reading (magnitude) or NULL, clamp_uncertainty_ua how
 * far it may be off; at least NOD_CLAMP_DRIFT_UA is assumed. Texts of
 * readings are borrowed, as is the vehicle: both must outlive the survey.
 * NULL with errno ENOMEM, or EINVAL and err when there are no readings. */
struct nod_fuse_survey *nod_fuse_survey_make(const struct nod_vehicle *vehicle,
					     const struct nod_fuse_reading *readings, size_t count,
					     const int64_t *clamp_ua, int64_t clamp_uncertainty_ua,
					     struct nod_error *err);

void nod_fuse_survey_free(struct nod_fuse_survey *survey);

/* "network", "module", "box", "feed". */
const char *nod_fuse_tie_name(enum nod_fuse_tie tie);

/* "no-clamp", "explained", "missing", "exceeded"; stable, for JSON. */
const char *nod_fuse_rest_name(enum nod_fuse_rest rest);

#endif
