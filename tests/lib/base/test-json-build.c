/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "json-build.h"

static void test_members(void **state)
{
	json_t *o = json_object(), *a = json_array();

	(void)state;
	nod_json_append(&a, json_integer(1));
	nod_json_append(&a, nod_json_text("two"));
	nod_json_put(&o, "list", a);
	nod_json_put(&o, "nan", nod_json_number(NAN));
	nod_json_put(&o, "half", nod_json_number(0.5));
	nod_json_put(&o, "bad", nod_json_text("\xFF"));
	char *text = json_dumps(o, JSON_COMPACT | JSON_PRESERVE_ORDER);
	assert_string_equal(text, "{\"list\":[1,\"two\"],\"nan\":null,\"half\":0.5,"
				  "\"bad\":\"(not UTF-8)\"}");
	free(text);
	json_decref(o);
}

/* As memory that ran out below leaves it. */
static void test_a_member_that_is_missing(void **state)
{
	json_t *o = json_object(), *a = json_array();

	(void)state;
	nod_json_append(&a, json_integer(1));
	nod_json_append(&a, NULL);
	assert_null(a);
	nod_json_append(&a, json_integer(2));
	assert_null(a);
	nod_json_put(&o, "first", json_integer(1));
	nod_json_put(&o, "list", a);
	assert_null(o);
	nod_json_put(&o, "more", json_integer(2));
	assert_null(o);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_members),
		cmocka_unit_test(test_a_member_that_is_missing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
