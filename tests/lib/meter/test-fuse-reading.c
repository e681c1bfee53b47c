/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "fuse-reading.h"

/* An invented car with one fuse, F12. */
static char fuse_name[] = "F12", family[] = "mini";
static struct nod_fuse fuses[] = {{.name = fuse_name, .family = family, .rating_ma = 10000}};
static struct nod_vehicle vehicle = {.fuses = fuses, .fuse_count = 1};

static int parse(struct nod_fuse_reading *r, const char *text, struct nod_arena *arena)
{
	struct nod_error err = {""};
	int rc = nod_fuse_reading_parse(r, text, -1, &vehicle, arena, &err);

	assert_int_equal(rc < 0, err.text[0] != '\0');
	return rc;
}

static void test_readings_as_people_write_them(void **state)
{
	(void)state;
	static const struct {
		const char *text, *name, *family;
		int fuse;
		int64_t rating_ma, uv, uncertainty_uv;
	} cases[] = {
		{"F12=2.3mV", "F12", NULL, 0, 0, 2300, 100},
		{"f12 2,30 mV", "f12", NULL, 0, 0, 2300, 10},
		{"mini:10A=1.0mV", "mini:10A", "mini", NOD_NONE, 10000, 1000, 100},
		{"F7:ato:7.5A=-0.2 mV", "F7", "ato", NOD_NONE, 7500, -200, 100},
		{"F12\t2.3 mV", "F12", NULL, 0, 0, 2300, 100},
		{"fuse 12 2.3 mV", "fuse 12", NULL, NOD_NONE, 0, 2300, 100},
	};
	struct nod_arena arena = {0};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_fuse_reading r;
		assert_int_equal(parse(&r, cases[i].text, &arena), 0);
		assert_string_equal(r.name, cases[i].name);
		assert_int_equal(r.fuse, cases[i].fuse);
		assert_int_equal(r.rating_ma, cases[i].rating_ma);
		assert_int_equal(r.uv, cases[i].uv);
		assert_int_equal(r.uncertainty_uv, cases[i].uncertainty_uv);
		assert_int_equal(!r.family, !cases[i].family);
		if (r.family)
			assert_string_equal(r.family, cases[i].family);
	}
	nod_arena_free(&arena);
}

static void test_a_stated_uncertainty_wins(void **state)
{
	(void)state;
	struct nod_arena arena = {0};
	struct nod_fuse_reading r;

	assert_int_equal(nod_fuse_reading_parse(&r, "F12=2.30mV", 300, &vehicle, &arena, NULL), 0);
	assert_int_equal(r.uncertainty_uv, 300);
	nod_arena_free(&arena);
}

static void test_only_a_type_is_no_name(void **state)
{
	(void)state;
	struct nod_arena arena = {0};
	struct nod_fuse_reading r;

	assert_int_equal(parse(&r, "mini:10A=1mV", &arena), 0);
	assert_true(r.unnamed);
	assert_int_equal(parse(&r, "F7:mini:10A=1mV", &arena), 0);
	assert_false(r.unnamed);
	nod_arena_free(&arena);
}

static void test_what_is_no_reading_is_refused(void **state)
{
	(void)state;
	static const char *const bad[] = {
		"",        "F12",       "F12=",     "F12=2.3",      "F12=2.3mA",   "=2.3mV",
		"F12 2.3", "mini:=1mV", ":10A=1mV", "mini:ten=1mV", "mini:0A=1mV", "F12=1,234mV"};
	struct nod_arena arena = {0};
	struct nod_fuse_reading r;

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(parse(&r, bad[i], &arena), -EINVAL);
	nod_arena_free(&arena);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_readings_as_people_write_them),
		cmocka_unit_test(test_a_stated_uncertainty_wins),
		cmocka_unit_test(test_only_a_type_is_no_name),
		cmocka_unit_test(test_what_is_no_reading_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
