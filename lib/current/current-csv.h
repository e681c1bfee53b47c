/* SPDX-License-Identifier: MIT */
/* A current recorded by somebody else's logger, out of its CSV file.
 *
 * Two passes over the file: the first understands it and says so in sentences,
 * or refuses what is ambiguous and names the option that settles it; the
 * second delivers the samples. Nothing is guessed silently. */
#ifndef NOD_CURRENT_CSV_H
#define NOD_CURRENT_CSV_H

#include "csv-table.h"

struct nod_csv_options {
	const char *column;      /* of the current: heading, a part of it, or number; NULL: find */
	const char *time_column; /* the same */
	const char *unit;        /* of values without one: "mA", "mV", ...; NULL */
	const char *time_unit;   /* of numeric times: "s", "ms", "min", "h"; NULL */
	int64_t clamp_uohm;      /* sensitivity of a clamp, 1 mV/A = 1000; 0: none */
	char separator;          /* see csv.h; '0' for one column; 0: find */
	char decimal;            /* '.' or ','; 0: find */
	enum nod_date_order order; /* of dates that do not tell; NOD_DATE_OPEN: refuse */
	const char *date;          /* of times of day without one, "2023-11-14"; NULL */
	const char *zone;          /* of times that do not say, as in zone.h; NULL: not given */
	nod_time start;            /* of relative times; NOD_TIME_NONE: not given */
	nod_duration interval;     /* between samples of a file without times; 0: none */
	nod_duration offset;       /* added to every time: what the logger's clock is behind */
	bool invert;               /* the clamp was put on the other way round */
};

/* All NULL, 0 or "not given". */
struct nod_csv_options nod_csv_options_none(void);

enum nod_csv_time {
	NOD_CSV_WALL,     /* date and time of day */
	NOD_CSV_OF_DAY,   /* time of day, the date was given */
	NOD_CSV_ELAPSED,  /* hours, minutes, seconds since the start */
	NOD_CSV_EPOCH,    /* number since 1970 */
	NOD_CSV_RELATIVE, /* number since the start */
	NOD_CSV_COUNTED   /* no times: one sample every interval */
};

#define NOD_CSV_SENTENCES 6

struct nod_csv_plan {
	struct nod_csv_table table;
	enum nod_decimal_mark decimal;
	unsigned value_column; /* indices from 0 */
	int64_t value_numerator,
		value_denominator; /* microamps per millionth of the value's unit */
	enum nod_unit value_unit;  /* AMPERE or VOLT */
	char unit_text[16];        /* of values without one */
	enum nod_csv_time time;
	unsigned time_column, date_column; /* the same when both are in one */
	int64_t time_ns;                   /* nanoseconds per unit of a numeric time */
	int64_t day_ns;                    /* midnight of the date given, as UTC */
	/* What was understood, for a person; "" ends it. */
	char understood[NOD_CSV_SENTENCES][240];
};

/* First pass. `in` must be seekable. Returns 0; -EINVAL with err when it is
 * not clear (nothing is taken then); -EIO. */
int nod_csv_understand(struct nod_csv_plan *plan, FILE *in, const char *name,
		       const struct nod_csv_options *options, struct nod_error *err);

struct nod_csv_result {
	uint64_t samples, defects;
	nod_time from, to;
	int64_t lowest_ua, highest_ua;
};

/* Called for each sample, in time order; a negative return ends the import. */
typedef int nod_csv_take(void *context, nod_time time, int64_t microamps);

/* Called for each line that could not be taken. */
typedef void nod_csv_defect(void *context, uint64_t line, unsigned column, const char *reason);

/* Second pass. Returns 0, -EIO or what `take` returned. */
int nod_csv_read(struct nod_csv_result *result, FILE *in, const struct nod_csv_plan *plan,
		 const struct nod_csv_options *options, nod_csv_take *take, nod_csv_defect *defect,
		 void *context);

#endif
