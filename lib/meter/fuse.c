/* SPDX-License-Identifier: MIT */
#include "fuse.h"

#include <errno.h>
#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <strings.h>

/* Cold resistance. "Published" marks the two values that worked examples
 * confirm:
 *   ato 10 A: 1 mV is 130 mA (a training page, "Voltage drop over fuses");
 *   mini 15 A: 0.1 mV is 22 mA, 1.0 mV is 218 mA (MACS Service Reports, June 2017, p. 6).
 * All others are from memory of the makers' data sheets. Families and ratings
 * that are not here have no value at all: guessing one would be worse. */
static const struct row {
	const char *family;
	int32_t rating_ma, uohm;
	enum nod_fuse_basis basis;
} rows[] = {
	{"ato", 1000, 123000, NOD_FUSE_MEMORY},    {"ato", 2000, 53500, NOD_FUSE_MEMORY},
	{"ato", 3000, 31100, NOD_FUSE_MEMORY},     {"ato", 4000, 22800, NOD_FUSE_MEMORY},
	{"ato", 5000, 17850, NOD_FUSE_MEMORY},     {"ato", 7500, 10910, NOD_FUSE_MEMORY},
	{"ato", 10000, 7700, NOD_FUSE_PUBLISHED},  {"ato", 15000, 4800, NOD_FUSE_MEMORY},
	{"ato", 20000, 3380, NOD_FUSE_MEMORY},     {"ato", 25000, 2520, NOD_FUSE_MEMORY},
	{"ato", 30000, 1970, NOD_FUSE_MEMORY},     {"ato", 35000, 1610, NOD_FUSE_MEMORY},
	{"ato", 40000, 1440, NOD_FUSE_MEMORY},     {"mini", 10000, 7420, NOD_FUSE_MEMORY},
	{"mini", 15000, 4580, NOD_FUSE_PUBLISHED}, {"maxi", 40000, 1400, NOD_FUSE_MEMORY},
	{"maxi", 50000, 1100, NOD_FUSE_MEMORY},
};

/* Other names of the families. The type letters are those of a wiring data
 * model ("FuseType", VEC 1.2): C = ato, F = mini, E = maxi. */
static const struct {
	const char *alias, *family;
} aliases[] = {
	{"atof", "ato"}, {"regular", "ato"}, {"standard", "ato"},
	{"c", "ato"},    {"f", "mini"},      {"e", "maxi"},
};

static const char *family_of(const char *name)
{
	for (size_t i = 0; i < sizeof(aliases) / sizeof(aliases[0]); i++)
		if (!strcasecmp(name, aliases[i].alias))
			return aliases[i].family;
	return name;
}

static const char where_to_get[] =
	"take the cold resistance from the fuse's data sheet and give it to the fuse in the "
	"vehicle file (resistance: 7.4 mOhm)";

char *nod_fuse_rating_print(char buf[NOD_FUSE_RATING_TEXT], int64_t rating_ma)
{
	int64_t tenths = rating_ma % 1000 / 100;

	if (tenths)
		snprintf(buf, NOD_FUSE_RATING_TEXT, "%" PRId64 ".%" PRId64 " A", rating_ma / 1000,
			 tenths);
	else
		snprintf(buf, NOD_FUSE_RATING_TEXT, "%" PRId64 " A", rating_ma / 1000);
	return buf;
}

static int refuse(const char *name, const char *family, int64_t rating_ma, struct nod_error *err)
{
	char rating[NOD_FUSE_RATING_TEXT];

	if (!family || rating_ma <= 0)
		return nod_error_set(err, ENOENT,
				     "%s: its %s not known, so millivolts cannot become amps; give "
				     "family and rating in the vehicle file, or its resistance",
				     name,
				     family          ? "rating is"
				     : rating_ma > 0 ? "family is"
						     : "family and rating are");
	return nod_error_set(err, ENOENT, "%s: no resistance is known for a %s fuse of %s; %s",
			     name, family, nod_fuse_rating_print(rating, rating_ma), where_to_get);
}

int nod_fuse_resistance_find(struct nod_fuse_resistance *out, const char *name, const char *family,
			     int64_t rating_ma, struct nod_error *err)
{
	if (!family || rating_ma <= 0)
		return refuse(name, family, rating_ma, err);
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		const struct row *row = &rows[i];
		if (row->rating_ma != rating_ma || strcasecmp(row->family, family_of(family)))
			continue;
		*out = (struct nod_fuse_resistance){row->uohm, NOD_FUSE_SPREAD_PERCENT, row->basis};
		return 0;
	}
	return refuse(name, family, rating_ma, err);
}

int nod_fuse_resistance_of(struct nod_fuse_resistance *out, const struct nod_fuse *fuse,
			   struct nod_error *err)
{
	if (fuse->resistance_uohm > 0) {
		*out = (struct nod_fuse_resistance){fuse->resistance_uohm, 0, NOD_FUSE_OWN};
		return 0;
	}
	return nod_fuse_resistance_find(out, fuse->name, fuse->family, fuse->rating_ma, err);
}

enum rounding { DOWN, NEAREST, UP };

/* uv / uohm in amps is uv * 10^6 / uohm in microamps; the resistance is taken
 * as percent/100 of its nominal value. */
static int64_t microamps(int64_t uv, int64_t uohm, int64_t percent, enum rounding rounding)
{
	int64_t divisor = uohm * percent;
	int64_t add = rounding == UP ? divisor - 1 : rounding == NEAREST ? divisor / 2 : 0;

	return (uv * 100000000 + add) / divisor;
}

int nod_fuse_current(struct nod_fuse_current *out, int64_t uv, int64_t uncertainty_uv,
		     const struct nod_fuse_resistance *resistance, struct nod_error *err)
{
	int64_t spread = resistance->spread_percent, uohm = resistance->uohm;

	if (uohm > NOD_FUSE_LARGEST_UOHM)
		return nod_error_set(err, ERANGE, "that is no resistance of a fuse");
	if (uohm <= 0 || spread < 0 || spread >= 100 || uncertainty_uv < 0)
		return nod_error_set(err, EINVAL, "a fuse resistance must be more than 0 ohm");
	if (uv < -NOD_FUSE_LARGEST_DROP_UV || uv > NOD_FUSE_LARGEST_DROP_UV ||
	    uncertainty_uv > NOD_FUSE_LARGEST_DROP_UV)
		return nod_error_set(err, ERANGE,
				     "more than %d mV across a fuse: it is blown or not seated, or "
				     "the meter is not in its millivolt range",
				     NOD_FUSE_LARGEST_DROP_UV / 1000);
	uv = uv < 0 ? -uv : uv;
	int64_t least = uv > uncertainty_uv ? uv - uncertainty_uv : 0;
	*out = (struct nod_fuse_current){
		.ua = microamps(uv, uohm, 100, NEAREST),
		.low_ua = microamps(least, uohm, 100 + spread, DOWN),
		.high_ua = microamps(uv + uncertainty_uv, uohm, 100 - spread, UP),
		.count_ua = microamps(uncertainty_uv, uohm, 100, NEAREST),
		.state = least > 0 ? NOD_FUSE_CARRIES
			 : uv > 0  ? NOD_FUSE_MAY_CARRY
				   : NOD_FUSE_NONE_SEEN,
		.resistance = *resistance,
	};
	return 0;
}

const char *nod_fuse_basis_name(enum nod_fuse_basis basis)
{
	static const char *const names[] = {"own value", "published", "from memory"};
	return names[basis];
}

const char *nod_fuse_state_name(enum nod_fuse_state state)
{
	static const char *const names[] = {"carries", "may-carry", "none-seen"};
	return names[state];
}

/* The first is published (MACS Service Reports, June 2017, p. 6); the others
 * are common practice, no source. */
static const char *const doubts[] = {
	"Cheap copies of a fuse have another resistance: then these amps are wrong.",
	"Resistances are for a cold fuse; near its rating it is higher, so the true current is "
	"lower.",
	"Probe the two test points of the fuse itself; a probe that slips or a dirty point reads "
	"high.",
};

const char *nod_fuse_doubt(unsigned index)
{
	return index < sizeof(doubts) / sizeof(doubts[0]) ? doubts[index] : NULL;
}
