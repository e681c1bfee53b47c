/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "current-csv.h"
#include "zone.h"

#define US(s) ((int64_t)((s)*1000000))
#define START 1700000000 /* 2023-11-14 22:13:20 UTC */

struct taken {
	size_t count;
	int64_t time_us[20], ua[20];
	size_t defects;
	uint64_t defect_line;
	unsigned defect_column;
	char reason[80];
	struct nod_csv_plan plan;
	struct nod_error err;
};

static int take(void *context, nod_time time, int64_t microamps)
{
	struct taken *t = context;

	if (t->count < 20) {
		t->time_us[t->count] = time.ns / 1000;
		t->ua[t->count] = microamps;
	}
	t->count++;
	return 0;
}

static void note_defect(void *context, uint64_t line, unsigned column, const char *reason)
{
	struct taken *t = context;

	if (!t->defects++) {
		t->defect_line = line;
		t->defect_column = column;
		snprintf(t->reason, sizeof(t->reason), "%s", reason);
	}
}

static int import_bytes(struct taken *t, const char *text, size_t length,
			const struct nod_csv_options *options)
{
	struct nod_csv_result result;
	FILE *in = fmemopen((void *)(uintptr_t)text, length, "r");

	assert_non_null(in);
	memset(t, 0, sizeof(*t));
	int rc = nod_csv_understand(&t->plan, in, "log.csv", options, &t->err);
	assert_int_equal(rc < 0, t->err.text[0] != '\0');
	if (!rc) {
		rc = nod_csv_read(&result, in, &t->plan, options, take, note_defect, t);
		assert_int_equal(result.samples, t->count);
		assert_int_equal(result.defects, t->defects);
	}
	fclose(in);
	return rc;
}

static int import(struct taken *t, const char *text, const struct nod_csv_options *options)
{
	return import_bytes(t, text, strlen(text), options);
}

/* Imports and compares; times in seconds, values in milliamps. */
static void assert_taken(struct taken *t, const char *text, const struct nod_csv_options *o,
			 size_t count, const double *times, const double *ma)
{
	if (import(t, text, o))
		fail_msg("%s", t->err.text);
	assert_int_equal(t->count, count);
	for (size_t i = 0; i < count; i++) {
		assert_int_equal(t->time_us[i], US(times[i]));
		assert_int_equal(t->ua[i], (int64_t)(ma[i] * 1000 + (ma[i] < 0 ? -0.5 : 0.5)));
	}
}

static void assert_refused(const char *text, const struct nod_csv_options *o, const char *says)
{
	struct taken t;

	assert_int_equal(import(&t, text, o), -EINVAL);
	if (!strstr(t.err.text, says) || strncmp(t.err.text, "log.csv: ", 9))
		fail_msg("`%s` does not say `%s`", t.err.text, says);
}

static struct nod_csv_options none, started;

static int setup(void **state)
{
	(void)state;
	none = started = nod_csv_options_none();
	started.start.ns = START * NOD_NS_PER_S;
	return 0;
}

static void test_shapes(void **state)
{
	(void)state;
	struct taken t;
	const double epoch[] = {START, START + 1.5, START + 3}, ma[] = {31, 31.5, 1240};

	assert_taken(&t, "1700000000,0.031 A\n1700000001.5,0.0315 A\n1700000003,1.24 A\n", &none, 3,
		     epoch, ma);
	assert_taken(&t, "time,current (mA)\n1700000000,31\n1700000001.5,31.5\n1700000003,1240\n",
		     &none, 3, epoch, ma);
	assert_taken(&t,
		     "Zeit;Strom [A]\r\n1700000000;0,031\r\n1700000001,5;0,0315\r\n"
		     "1700000003;1,24\r\n",
		     &none, 3, epoch, ma);
	assert_taken(&t,
		     "t_ms\tI/mA\n1700000000000\t31\n1700000001500\t31.5\n1700000003000\t1240\n",
		     &none, 3, epoch, ma);
	assert_taken(&t,
		     "# time current_mA\n  1700000000   31\n1700000001.5 31.5\n1700000003 1240\n",
		     &none, 3, epoch, ma);
	assert_taken(&t,
		     "\xef\xbb\xbf\"Time\";\"Current\"\n\"s\";\"mA\"\n\"0\";\"31,0\"\n"
		     "\"1,5\";\"31,5\"\n\"3\";\"1240\"\n",
		     &started, 3, epoch, ma);
	assert_taken(&t,
		     "Logger: invented\nSerial: 12\n\nTime (s),Amps (A)\n0,0.031\n1.5,0.0315\n"
		     "3,1.24\n",
		     &started, 3, epoch, ma);
	assert_int_equal(t.plan.table.skipped, 3);
	assert_taken(&t, "0 s 31 mA\n1.5 s 31.5 mA\n3 s 1240 mA\n", &started, 3, epoch, ma);
}

/* UTC by `date -u -d @1686823200`, +2 h in summer, and @1700000000, +1 h in winter. */
static void test_a_zone_by_its_name(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options berlin = none;
	const double times[] = {1686823200, START}, ma[] = {31, -32};

	if (!nod_zone_is_known("Europe/Berlin"))
		skip();
	berlin.zone = "Europe/Berlin";
	assert_taken(&t, "time,mA\n2023-06-15 12:00:00,31\n2023-11-14 23:13:20,-32\n", &berlin, 2,
		     times, ma);
	/* In the night of 2023-10-29 the clocks showed 02:00 to 03:00 twice. */
	const double twice[] = {1698541199, 1698548400};
	assert_taken(&t,
		     "time,mA\n2023-10-29 02:59:59 +02:00,31\n2023-10-29 02:30:00,7\n"
		     "2023-10-29 04:00:00,-32\n",
		     &berlin, 2, twice, ma);
	assert_int_equal(t.defects, 1);
}

static void test_dates_and_zones(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options cet = none, dated = none;
	const double times[] = {START, START + 1.25}, ma[] = {31, -32};

	cet.zone = "+01:00";
	dated = cet;
	dated.date = "2023-11-14";
	assert_taken(&t, "time,mA\n2023-11-14T22:13:20Z,31\n2023-11-14T22:13:21.25Z,-32\n", &none,
		     2, times, ma);
	assert_taken(&t, "time,mA\n2023-11-14 23:13:20,31\n2023-11-14 23:13:21.25,-32\n", &cet, 2,
		     times, ma);
	assert_taken(&t,
		     "Datum;Uhrzeit;Strom in mA\n14.11.2023;23:13:20;31,0\n"
		     "14.11.2023;23:13:21,25;-32,0\n",
		     &cet, 2, times, ma);
	assert_taken(&t, "2023-11-14 23:13:20 31 mA\n2023-11-14 23:13:21.25 -32 mA\n", &cet, 2,
		     times, ma);
	assert_taken(&t, "time,mA\n23:13:20,31\n23:13:21.25,-32\n", &dated, 2, times, ma);
	assert_taken(&t, "elapsed,mA\n00:00:00,31\n00:00:01.25,-32\n", &started, 2, times, ma);
	const double midnight[] = {1700002799, 1700002801}; /* 00:00:01 local is the next day */
	assert_taken(&t, "time,mA\n23:59:59,31\n00:00:01,-32\n", &dated, 2, midnight, ma);
	assert_refused("time,mA\n2023-11-14 23:13:20,31\n2023-11-14 23:13:21,32\n", &none,
		       "--zone");
	assert_refused("time,mA\n23:13:20,31\n23:13:21,32\n", &cet, "--date");
	assert_refused("time,mA\n5/6/2023 10:00:00,31\n5/6/2023 10:00:01,32\n", &cet,
		       "--date-order");
	struct nod_csv_options dmy = cet;
	dmy.order = NOD_DATE_DMY;
	const double june[] = {1685955600, 1685955601}, steady[] = {31, 32};
	assert_taken(&t, "time,mA\n5/6/2023 10:00:00,31\n5/6/2023 10:00:01,32\n", &dmy, 2, june,
		     steady);
	/* one date that can only be read one way settles the others */
	assert_int_equal(
		import(&t, "time,mA\n12/11/2023 23:00:00,1\n14/11/2023 23:13:20,2\n", &cet), 0);
	assert_int_equal(t.time_us[1], US((int64_t)START));
	assert_int_equal(t.time_us[0], US((int64_t)START - 2 * 86400 - 800));
	assert_refused("time,mA\n14/11/2023 23:00:00,1\n11/15/2023 23:13:20,2\n", &cet, "others");
}

static void test_commas_that_may_be_two_things(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options comma = started, columns = started, point = none, every = started;
	const double seconds[] = {START + 1, START + 2}, ma[] = {31, 28};

	/* two columns, or one with a decimal comma */
	assert_refused("1,31\n2,28\n3,30\n", &started, "--separator");
	columns.separator = ',';
	columns.unit = "mA";
	columns.time_unit = "s";
	assert_taken(&t, "1,31\n2,28\n", &columns, 2, seconds, ma);
	every.decimal = ',';
	every.unit = "mA";
	every.interval = nod_seconds(1);
	const double from[] = {START, START + 1}, decimals[] = {1.31, 2.28};
	assert_taken(&t, "1,31\n2,28\n", &every, 2, from, decimals);
	/* 1,234: thousands or not */
	comma.decimal = ',';
	assert_refused("s;mA\n0;1,234\n1;2,345\n", &started, "--decimal");
	assert_refused("s;mA\n0;1.234\n1;2.345\n", &started, "--decimal");
	const double plain[] = {1.234, 2.345};
	assert_taken(&t, "s;mA\n0;1,234\n1;2,345\n", &comma, 2, from, plain);
	assert_taken(&t, "s;mA\n0;1,234\n1;0,345\n", &started, 2, from, (double[]){1.234, 0.345});
	assert_taken(&t, "s,mA\n0,1.234\n1,2.345\n", &started, 2, from, plain);
	assert_refused("s;mA\n0;1,5\n1;2.5\n", &started, "--decimal");
	point.decimal = '.';
	point.start = started.start;
	assert_int_equal(import(&t, "s;mA\n0;1.5\n1;2,5\n2;2.5\n", &point), 0);
	assert_int_equal(t.count, 2);
	assert_true(t.defects == 1 && t.defect_line == 3 && t.defect_column == 3);
	/* the comma does both: nobody can read that back */
	assert_refused("time,current\n0,0,31,5\n1,0,32,5\n2,0,33,5\n", &started, "both");
}

static void test_units_and_clamps(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options clamp = started, unit = started;
	const double times[] = {START, START + 1}, ma[] = {31, -320};

	clamp.clamp_uohm = 100000; /* 100 mV/A */
	assert_taken(&t, "s,mV\n0,3.1\n1,-32\n", &clamp, 2, times, ma);
	clamp.clamp_uohm = 1000000; /* 1 mV/mA */
	assert_taken(&t, "s,clamp (V)\n0,0.031\n1,-0.32\n", &clamp, 2, times, ma);
	clamp.invert = true;
	assert_taken(&t, "s,clamp (V)\n0,-0.031\n1,0.32\n", &clamp, 2, times, ma);
	assert_refused("s,mV\n0,3.1\n1,-32\n", &started, "--clamp");
	assert_refused("s,current\n0,3.1\n1,-32\n", &started, "--unit");
	assert_refused("s,current (C)\n0,3.1\n1,-32\n", &started, "no current");
	assert_refused("s,mA\n0,3.1\n1,-32\n", &clamp, "--clamp");
	unit.unit = "mA";
	assert_taken(&t, "s,current\n0,31\n1,-320\n", &unit, 2, times, ma);
	/* cells may say their own unit */
	assert_taken(&t, "s,current (mA)\n0,31\n1,-0.32 A\n", &started, 2, times, ma);
	assert_taken(&t,
		     "s;\xb5"
		     "A\n0;31000\n1;-320000\n",
		     &started, 2, times, ma);
}

static void test_columns(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options named = started, numbered = started;
	const double times[] = {START, START + 1}, ma[] = {31, 32};
	const char *two = "s,Battery (A),Lamp (A),Volts (V)\n0,0.031,1,12\n1,0.032,2,12\n";

	assert_refused(two, &started, "--column");
	named.column = "battery";
	assert_taken(&t, two, &named, 2, times, ma);
	numbered.column = "2";
	assert_taken(&t, two, &numbered, 2, times, ma);
	numbered.column = "9";
	assert_refused(two, &numbered, "no such column");
	named.column = "(A)";
	assert_refused(two, &named, "several");
	/* the only one in amps among others */
	assert_taken(&t, "s,U (V),I (A),T (C)\n0,12,0.031,20\n1,12,0.032,20\n", &started, 2, times,
		     ma);
	assert_string_equal(t.plan.understood[1], "current: column 3 `I (A)`, in A");
}

static void test_times_that_are_missing_or_unclear(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options every = started;

	assert_refused("mA\n31\n32\n33\n", &started, "--interval");
	every.interval = nod_milliseconds(100);
	const double times[] = {START, START + 0.1, START + 0.2}, ma[] = {31, 32, 33};
	assert_taken(&t, "mA\n31\n32\n33\n", &every, 3, times, ma);
	assert_refused("time,mA\n0,31\n1,32\n", &started, "--time-unit");
	assert_refused("time (s),mA\n0,31\n1,32\n", &none, "--start");
	assert_refused("x,y (mA)\n0,31\n1,32\n2,33\n", &started, "--time-column");
}

static void test_defects_are_told_with_their_place(void **state)
{
	(void)state;
	struct taken t;
	char line[6000];

	assert_int_equal(
		import(&t, "s;mA\n0;31\n1;OL\n2;33\n3;\n4\n1;35\n# remark\n5;36\n", &started), 0);
	assert_int_equal(t.count, 3);
	assert_int_equal(t.defects, 4);
	assert_int_equal(t.defect_line, 3);
	assert_int_equal(t.defect_column, 3);
	assert_string_equal(t.reason, "not a number");
	memset(line, '1', sizeof(line));
	memcpy(line, "s;mA\n0;31\n1;32\n2;", 17);
	memcpy(line + sizeof(line) - 6, "\n3;33", 6);
	assert_int_equal(import(&t, line, &started), 0);
	assert_int_equal(t.count, 3);
	assert_string_equal(t.reason, "a line that is too long");
}

static void test_what_is_no_table_is_refused(void **state)
{
	(void)state;
	struct taken t;

	assert_refused("hello\nthis is\na letter\n", &none, "no table");
	assert_refused("\n", &none, "empty");
	assert_int_equal(import_bytes(&t, "\xff\xfes\0;\0m\0A\0\n\0", 12, &none), -EINVAL);
	assert_non_null(strstr(t.err.text, "UTF-16"));
}

static void test_it_says_what_it_understood(void **state)
{
	(void)state;
	struct taken t;
	struct nod_csv_options o = started;

	o.clamp_uohm = 10000;
	o.offset = nod_seconds(-3600);
	assert_int_equal(import(&t, "Zeit (s);Zange (mV)\n0;0,31\n1;0,32\n", &o), 0);
	assert_int_equal(t.time_us[0], US((int64_t)START - 3600));
	assert_string_equal(
		t.plan.understood[0],
		"table: 2 columns, separator semicolon, decimal comma, headings in line 1, "
		"data from line 2 (2 rows)");
	assert_string_equal(t.plan.understood[1],
			    "current: column 2 `Zange (mV)`, in mV, of a clamp with 10 mV/A");
	assert_string_equal(t.plan.understood[2],
			    "time: column 1 `Zeit (s)`, in units of 1.0 s, counted from 2023-11-14 "
			    "22:13:20 UTC");
	assert_string_equal(t.plan.understood[3], "clock: -1 h 00 min added to every time");
	assert_string_equal(t.plan.understood[4], "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_shapes),
		cmocka_unit_test(test_dates_and_zones),
		cmocka_unit_test(test_a_zone_by_its_name),
		cmocka_unit_test(test_commas_that_may_be_two_things),
		cmocka_unit_test(test_units_and_clamps),
		cmocka_unit_test(test_columns),
		cmocka_unit_test(test_times_that_are_missing_or_unclear),
		cmocka_unit_test(test_defects_are_told_with_their_place),
		cmocka_unit_test(test_what_is_no_table_is_refused),
		cmocka_unit_test(test_it_says_what_it_understood),
	};
	return cmocka_run_group_tests(tests, setup, NULL);
}
