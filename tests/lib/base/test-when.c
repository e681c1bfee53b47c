#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "when.h"

#define S NOD_NS_PER_S

static const struct nod_when_base base = {{1000 * S}, {400 * S}, {9000 * S}};

static void test_times(void **state)
{
	(void)state;
	/* The epoch seconds of the dates: `date -u -d DATE +%s` of GNU coreutils. */
	static const struct {
		const char *text;
		int64_t ns;
	} cases[] = {
		{"1700000000.5", 1700000000 * S + S / 2},
		{"303", 303 * S},
		{"2023-11-14T22:13:20Z", 1700000000 * S},
		{"2023-11-14 22:13:20.123456789z", 1700000000 * S + 123456789},
		{"2023-11-14T23:13+01:00", 1699999980 * S},
		{"2023-11-14T17:13:20-0500", 1700000000 * S},
		{"2023-11-15T00:13:20+02", 1700000000 * S},
		{"2024-02-29T00:00:00Z", 1709164800 * S},
		{"lock", 1000 * S},
		{"start", 400 * S},
		{"end", 9000 * S},
		{"+35 min", 3100 * S},
		{"-2 min", 880 * S},
		{" +2", 1002 * S},
		{"lock+12min", 1720 * S},
		{"start + 1 h 5 min", 4300 * S},
		{"end-30s", 8970 * S},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		nod_time t = NOD_TIME_NONE;
		assert_int_equal(nod_when_parse(&t, cases[i].text, &base, &err), 0);
		assert_string_equal(err.text, "");
		assert_int_equal(t.ns, cases[i].ns);
	}
}

static void test_refusals(void **state)
{
	(void)state;
	static const char *const cases[] = {
		"", "12 min", "yesterday", "locked", "+", "+min", "lock 5 min", "12:30",
		"2023-11-14", "2023-02-30T00:00:00Z", "2023-11-14T24:30:00Z", "2023-11-14T22:13:20Q",
		"2023-11-14T22:13:20+1", "2023-11-14T22:13:20Zx", "2023-11-14T22:1320Z", "1e9",
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		nod_time t;
		assert_int_equal(nod_when_parse(&t, cases[i], &base, &err), -EINVAL);
		assert_non_null(strstr(err.text, "expected"));
	}
}

static void test_what_is_missing_is_named(void **state)
{
	(void)state;
	struct nod_error err;
	nod_time t;

	assert_int_equal(nod_when_parse(&t, "2023-11-14T22:13:20", &base, &err), -EINVAL);
	assert_non_null(strstr(err.text, "zone"));
	assert_int_equal(nod_when_parse(&t, "+1 min", NULL, &err), -EINVAL);
	assert_non_null(strstr(err.text, "lock time is not known"));
	assert_int_equal(nod_when_parse(&t, "end", NULL, &err), -EINVAL);
	assert_non_null(strstr(err.text, "end of the recording is not known"));
	assert_int_equal(nod_when_parse(&t, "9999-01-01T00:00:00Z", NULL, &err), -ERANGE);
	assert_int_equal(nod_when_parse(&t, "1700000000", NULL, &err), 0);
}

static void test_printing(void **state)
{
	(void)state;
	char buf[NOD_WHEN_TEXT];

	assert_string_equal(nod_when_print(buf, (nod_time){1700000000 * S + S / 2}),
			    "2023-11-14 22:13:20Z");
	assert_string_equal(nod_when_print(buf, (nod_time){303 * S + 4 * NOD_NS_PER_MS}),
			    "303.004 s");
	assert_string_equal(nod_when_print(buf, NOD_TIME_NONE), "not known");
}

static void test_time_of_day(void **state)
{
	(void)state;
	struct nod_error err = {""};
	const nod_time latest = {1700000000 * S + 5}; /* 22:13:20 UTC */
	nod_time t;

	assert_int_equal(nod_when_parse_of_day(&t, "22:13:20", latest, 0, &err), 0);
	assert_int_equal(t.ns, 1700000000 * S);
	assert_int_equal(nod_when_parse_of_day(&t, "22:13", latest, 0, &err), 0);
	assert_int_equal(t.ns, 1699999980 * S);
	assert_int_equal(nod_when_parse_of_day(&t, "22:13:21", latest, 0, &err), 0);
	assert_int_equal(t.ns, 1700000001 * S - 86400 * S); /* yesterday's */
	assert_int_equal(nod_when_parse_of_day(&t, "00:13:20", latest, 120, &err), 0);
	assert_int_equal(t.ns, 1700000000 * S);
	assert_int_equal(nod_when_parse_of_day(&t, "14:13:20", latest, -480, &err), 0);
	assert_int_equal(t.ns, 1700000000 * S);
	const char *bad[] = {"", "22", "25:00:00", "now", "2023-11-14 22:13:20", "22:13:20Z"};
	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(nod_when_parse_of_day(&t, bad[i], latest, 0, &err), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_times),
		cmocka_unit_test(test_refusals),
		cmocka_unit_test(test_what_is_missing_is_named),
		cmocka_unit_test(test_printing),
		cmocka_unit_test(test_time_of_day),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
