/* SPDX-License-Identifier: MIT */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "about.h"

/* They stand in JSON that others read: short words. */
static void check_word(const char *name)
{
	assert_non_null(name);
	assert_true(*name);
	for (const char *p = name; *p; p++)
		assert_true(islower((unsigned char)*p) || *p == '-');
}

static void every_kind_of_fact_has_a_word_of_its_own(void **state)
{
	(void)state;
	for (int a = 0; a < NOD_FACTS; a++) {
		check_word(nod_fact_name((enum nod_fact)a));
		for (int b = 0; b < a; b++)
			assert_string_not_equal(nod_fact_name((enum nod_fact)a),
						nod_fact_name((enum nod_fact)b));
	}
}

static void every_kind_of_doubt_has_a_word_of_its_own(void **state)
{
	(void)state;
	for (int a = 0; a < NOD_DOUBTS; a++) {
		check_word(nod_doubt_name((enum nod_doubt)a));
		for (int b = 0; b < a; b++)
			assert_string_not_equal(nod_doubt_name((enum nod_doubt)a),
						nod_doubt_name((enum nod_doubt)b));
	}
}

/* Programs go by them: a name that is out stays. */
static void names_are_those_that_were_said(void **state)
{
	(void)state;
	assert_string_equal(nod_fact_name(NOD_FACT_IN_USE), "in-use");
	assert_string_equal(nod_fact_name(NOD_FACT_REST_CURRENT), "rest-current");
	assert_string_equal(nod_fact_name(NOD_FACT_ONLY), "only");
	assert_string_equal(nod_doubt_name(NOD_DOUBT_HOLE), "hole");
	assert_string_equal(nod_doubt_name(NOD_DOUBT_NO_LOCK), "no-lock");
	assert_string_equal(nod_doubt_name(NOD_DOUBT_GAPS), "gaps");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_kind_of_fact_has_a_word_of_its_own),
		cmocka_unit_test(every_kind_of_doubt_has_a_word_of_its_own),
		cmocka_unit_test(names_are_those_that_were_said),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
