/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "faulty-ops.h"
#include "scratch.h"
#include "session-create.h"
#include "session.h"

static const struct nod_session_about about = {.title = "black hatchback,\ninvented",
					       .created = {1700000000 * NOD_NS_PER_S},
					       .clock = "kernel"};

static void test_what_is_made(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};

	scratch_puts(s, "car.yaml", "networks: {}\n");
	char *vehicle = strdup(scratch_path(s, "car.yaml"));
	assert_int_equal(nod_session_create(scratch_path(s, "one/"), &about, vehicle, NULL, &err),
			 0);
	free(vehicle);
	char *text = scratch_read(s, "one/session.txt", NULL);
	assert_string_equal(text, "nodoff session: 1\ntool: nodoff " NOD_VERSION
				  "\ntitle: black hatchback, invented\ncreated: 1700000000\n"
				  "clock: kernel\n");
	free(text);
	text = scratch_read(s, "one/vehicle.yaml", NULL);
	assert_string_equal(text, "networks: {}\n");
	free(text);
	assert_int_equal(scratch_entries(s), 2);

	struct nod_session *session = nod_session_open(scratch_path(s, "one"), &err);
	assert_non_null(session);
	assert_string_equal(nod_session_about(session, "title"), "black hatchback, invented");
	assert_non_null(nod_session_vehicle(session));
	nod_session_close(session);
}

static void test_refusals(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};
	const char *bad[] = {"", "/", ".", "..", "a/.."};

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(nod_session_create(bad[i], &about, NULL, NULL, &err), -EINVAL);
	scratch_puts(s, "file", "");
	assert_int_equal(nod_session_create(scratch_path(s, "file"), &about, NULL, NULL, &err),
			 -EEXIST);
	assert_int_equal(nod_session_create(scratch_path(s, "no/where"), &about, NULL, NULL, &err),
			 -ENOENT);
	assert_int_equal(nod_session_create(scratch_path(s, "x"), &about, "/nowhere", NULL, &err),
			 -ENOENT);
	assert_int_equal(scratch_entries(s), 1);
}

static void test_unfinished_names(void **state)
{
	(void)state;
	assert_true(nod_session_is_unfinished("/a/.one.unfinished-000"));
	assert_true(nod_session_is_unfinished(".one.unfinished-000/"));
	assert_false(nod_session_is_unfinished("one"));
	assert_false(nod_session_is_unfinished(".one"));
	assert_false(nod_session_is_unfinished("/a/.b.unfinished-000/one"));
	assert_false(nod_session_is_unfinished("one.unfinished-1"));
	assert_false(nod_session_is_unfinished(""));
}

/* Every call fails in turn: the session is there whole, or not at all, and
 * nothing is left open. */
static void test_every_failure(void **state)
{
	struct scratch *s = *state;
	long at = 1;
	int result;

	scratch_puts(s, "car.yaml", "networks: {}\n");
	char *vehicle = strdup(scratch_path(s, "car.yaml"));
	do {
		struct faulty faulty;
		struct nod_error err = {""};
		faulty_init(&faulty, at++, ENOSPC, 1);
		result = nod_session_create(scratch_path(s, "one"), &about, vehicle, &faulty.ops,
					    &err);
		struct stat st;
		assert_int_equal(stat(scratch_path(s, "one/session.txt"), &st) == 0, result == 0);
		assert_int_equal(faulty.open_files, 0);
		assert_int_equal(result != 0, err.text[0] != '\0');
		assert_int_equal(scratch_entries(s), result ? 1 : 2);
		if (!result && faulty.calls >= at - 1) { /* a close() without consequence */
			scratch_remove_directory(scratch_path(s, "one"));
			result = 1;
		}
	} while (result);
	free(vehicle);
	assert_true(at > 15);
}

/* A crash leaves the directory under its working name. */
static void test_what_a_crash_leaves(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};
	struct nod_session_maker *maker = nod_session_begin(scratch_path(s, "one"), &about, NULL,
							    &err);

	assert_non_null(maker);
	scratch_puts(s, ".one.unfinished-000/frames.log", "(1.000000) can0 123#\n");
	assert_null(nod_session_open(scratch_path(s, "one"), &err));
	assert_null(nod_session_open(scratch_path(s, ".one.unfinished-000"), &err));
	assert_int_equal(errno, EINVAL);
	assert_non_null(strstr(err.text, "not whole"));
	assert_int_equal(nod_session_create(scratch_path(s, "one"), &about, NULL, NULL, &err), 0);
	nod_session_abandon(maker);
	assert_int_equal(scratch_entries(s), 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_what_is_made),        SCRATCH_TEST(test_refusals),
		SCRATCH_TEST(test_unfinished_names),    SCRATCH_TEST(test_every_failure),
		SCRATCH_TEST(test_what_a_crash_leaves),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
