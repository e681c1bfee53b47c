/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "current-report.h"

static struct nod_current_findings at_rest(double ma, double off_ma, int64_t limit_ma)
{
	return (struct nod_current_findings){
		.quiescent_known = true,
		.quiescent_ua = ma * 1000,
		.quiescent_uncertainty_ua = off_ma * 1000,
		.within_noise = ma <= off_ma && -ma <= off_ma,
		.limit_ua = limit_ma * 1000,
		.zeroings = 1,
	};
}

static void assert_rest(struct nod_current_findings f, const char *expected)
{
	char text[400];

	nod_current_rest_sentence(text, sizeof(text), &f);
	assert_string_equal(text, expected);
}

static void test_the_current_at_rest_in_a_sentence(void **state)
{
	(void)state;
	assert_rest(at_rest(430, 20, 50),
		    "The lowest lasting current is 430 mA, give or take 20.0 mA; "
		    "that is above the limit of 50.0 mA.");
	assert_rest(at_rest(22, 20, 50),
		    "The lowest lasting current is 22.0 mA, give or take 20.0 mA; "
		    "that is below the limit of 50.0 mA.");
	assert_rest(at_rest(60, 20, 50),
		    "The lowest lasting current is 60.0 mA, give or take 20.0 mA; "
		    "that is not clearly above or below the limit of 50.0 mA.");
	assert_rest(at_rest(-8, 20, 0), "The lowest lasting current, -8.00 mA, cannot be told from "
					"zero: it may be off by 20.0 mA.");
	assert_rest((struct nod_current_findings){.limit_ua = 50000},
		    "The current at rest cannot be told: it never stayed at one level for two "
		    "minutes.");
}

static void test_pulses_in_a_sentence(void **state)
{
	(void)state;
	struct nod_current_pulse_group g = {.count = 3,
					    .height_ua = 900e3,
					    .average_ua = 12e3,
					    .duration = {40 * NOD_NS_PER_S},
					    .period = NOD_DURATION_NONE};
	char text[400];

	nod_current_pulses_sentence(text, sizeof(text), &g);
	assert_string_equal(text,
			    "3 pulses of about 900 mA for 40.0 s, without a period: 12.0 mA on "
			    "average.");
	g.count = 1;
	nod_current_pulses_sentence(text, sizeof(text), &g);
	assert_string_equal(text, "1 pulse of about 900 mA for 40.0 s: 12.0 mA on average.");
	g.count = 12;
	g.periodic = g.telemetry_like = true;
	g.height_ua = 120e3;
	g.period = nod_seconds(570);
	nod_current_pulses_sentence(text, sizeof(text), &g);
	assert_non_null(strstr(text,
			       "every 9 min 30 s: 12.0 mA on average. This is what a telematics "
			       "unit looks like"));
}

static void test_the_whole_text(void **state)
{
	(void)state;
	/* clang-format off */
	struct nod_current_level levels[] = {
		{.from = {-60 * NOD_NS_PER_S}, .to = {600 * NOD_NS_PER_S}, .ua = 4e6,
		 .uncertainty_ua = 25e3},
		{.from = {600 * NOD_NS_PER_S}, .to = {4200 * NOD_NS_PER_S}, .ua = 30e3,
		 .uncertainty_ua = 20e3},
	};
	/* clang-format on */
	struct nod_current_step steps[] = {
		{.time = {600 * NOD_NS_PER_S}, .change_ua = -3970e3, .uncertainty_ua = 3e3},
		{.time = {900 * NOD_NS_PER_S},
		 .change_ua = 14e3,
		 .uncertainty_ua = 1e3,
		 .zeroing = true},
	};
	struct nod_current_findings f = at_rest(30, 20, 50);
	char *text = NULL;
	size_t size;

	f.since.ns = 0;
	f.charge_uah = 0.7e6;
	f.mean_ua = 600e3;
	f.measured = nod_seconds(4200);
	f.not_measured = nod_seconds(300);
	f.levels = levels;
	f.level_count = 2;
	f.steps = steps;
	f.step_count = 2;
	f.out_of_order = 3;
	FILE *out = open_memstream(&text, &size);
	assert_non_null(out);
	nod_current_report_print(out, &f, true);
	fclose(out);
	assert_string_equal(
		text,
		"The lowest lasting current is 30.0 mA, give or take 20.0 mA; that is below the\n"
		"limit of 50.0 mA.\n"
		"In 1 h 10 min since the lock the car took 700 mAh, 600 mA on average.\n"
		"For another 5 min 00 s there are no samples.\n"
		"\n"
		"Levels\n"
		"     -1 min 00 s      4.00 A  +- 25.0 mA   for 11 min 00 s\n"
		"    +10 min 00 s     30.0 mA  +- 20.0 mA   for 1 h 00 min\n"
		"\n"
		"Steps\n"
		"    +10 min 00 s     -3.97 A  +- 3.00 mA\n"
		"    +15 min 00 s    +14.0 mA  +- 1.00 mA   the clamp was zeroed\n"
		"\n"
		"  - 3 samples earlier than the one before were left out.\n");
	free(text);
	json_t *object = nod_current_report_json(&f, true);
	assert_non_null(object);
	assert_int_equal(json_array_size(json_object_get(object, "levels")), 2);
	assert_true(json_real_value(json_object_get(json_object_get(object, "at_rest"), "ma")) ==
		    30);
	json_decref(object);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_current_at_rest_in_a_sentence),
		cmocka_unit_test(test_pulses_in_a_sentence),
		cmocka_unit_test(test_the_whole_text),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
