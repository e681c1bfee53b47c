/* SPDX-License-Identifier: MIT */
/* The current out of somebody's CSV file. The first lines are options; the rest is
 * the file. */
#include "current-csv.h"
#include "fuzz.h"

struct seen {
	uint64_t samples, defects;
	nod_time last;
};

static int take(void *context, nod_time time, int64_t microamps)
{
	struct seen *seen = context;

	(void)microamps;
	FUZZ_CHECK(nod_time_is_set(time) && (!seen->samples || time.ns >= seen->last.ns));
	seen->last = time;
	seen->samples++;
	return 0;
}

static void defect(void *context, uint64_t line, unsigned column, const char *reason)
{
	struct seen *seen = context;

	(void)column;
	FUZZ_CHECK(line && reason && reason[0]);
	seen->defects++;
}

static void read_file(FILE *file, const struct nod_csv_options *options)
{
	static struct nod_csv_plan plan;
	struct nod_csv_result result = {0};
	struct nod_error err = {""};
	struct seen seen = {0, 0, NOD_TIME_NONE};
	int status = nod_csv_understand(&plan, file, "logger.csv", options, &err);

	if (status) {
		FUZZ_CHECK(status < 0 && err.text[0]);
		return;
	}
	FUZZ_CHECK(plan.understood[0][0] && plan.table.columns <= NOD_CSV_FIELDS);
	FUZZ_CHECK(!nod_csv_read(&result, file, &plan, options, take, defect, &seen));
	FUZZ_CHECK(result.samples == seen.samples && result.defects == seen.defects);
	FUZZ_CHECK(!result.samples ||
		   (result.to.ns == seen.last.ns && result.from.ns <= result.to.ns &&
		    result.lowest_ua <= result.highest_ua));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const char separators[] = {0, 0, ',', ';', '\t', '|', ' ', '0'};
	static const char *const units[] = {NULL, NULL, "A", "mA", "mV", "V", "uA", "s"};
	static const char *const time_units[] = {NULL, NULL, "s", "ms", "min", "h", "x", NULL};
	static const char *const zones[] = {NULL, "Z",      NULL, "+01:00",
					    NULL, "+02:00", NULL, "Europe/Berlin"};
	struct nod_csv_options o = nod_csv_options_none();
	struct fuzz_input in = {data, size};
	unsigned a = fuzz_byte(&in), b = fuzz_byte(&in), c = fuzz_byte(&in);

	o.separator = separators[a & 7];
	o.unit = units[a >> 3 & 7];
	o.decimal = "\0\0.,"[a >> 6];
	o.time_unit = time_units[b & 7];
	o.clamp_uohm = (int64_t[]){0, 0, 1000, 100000}[b >> 3 & 3];
	o.order = (enum nod_date_order[]){NOD_DATE_OPEN, NOD_DATE_DMY, NOD_DATE_MDY,
					  NOD_DATE_OPEN}[b >> 5 & 3];
	o.date = b >> 7 ? "2023-11-14" : NULL;
	o.zone = zones[c & 7];
	o.start = c & 8 ? (nod_time){1700000000 * NOD_NS_PER_S} : NOD_TIME_NONE;
	o.interval = c & 16 ? nod_seconds(1) : (nod_duration){0};
	o.invert = c & 32;
	char *column = c & 64 ? fuzz_option(&in) : NULL;
	char *time_column = c & 128 ? fuzz_option(&in) : NULL;
	o.column = column;
	o.time_column = time_column;
	FILE *file = in.left ? fmemopen((void *)(uintptr_t)in.p, in.left, "r") : NULL;
	if (file) {
		read_file(file, &o);
		fclose(file);
	}
	free(column);
	free(time_column);
	return 0;
}
