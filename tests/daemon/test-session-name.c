/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "session-about.h"
#include "session-name.h"

static char directory[] = "/tmp/nod-sessions-XXXXXX";

static const char *name(const char *title)
{
	static char path[200];
	nod_time now = {INT64_C(1700002400) * NOD_NS_PER_S};

	assert_int_equal(nod_session_name(path, sizeof(path), directory, title, now), 0);
	return path + strlen(directory) + 1;
}

static void makes_names_that_are_safe(void **state)
{
	(void)state;
	assert_string_equal(name(NULL), "2023-11-14-225320");
	assert_string_equal(name("Coupe, 2nd try"), "2023-11-14-225320-Coupe-2nd-try");
	assert_string_equal(name("../../etc"), "2023-11-14-225320-etc");
	assert_string_equal(name("///"), "2023-11-14-225320");
	assert_int_equal(strlen(name("0123456789012345678901234567890123456789"
				     "0123456789012345678901234567890123456789")),
			 17 + 1 + 60);
}

static const char *text_of(const json_t *session, const char *key)
{
	return json_string_value(json_object_get(session, key));
}

/* What session.txt says of the end; marks that came later may say otherwise. */
static void tells_what_was_found_at_the_end(const char *about)
{
	const struct timespec early[2] = {{1, 0}, {1, 0}}, late[2] = {{2, 0}, {2, 0}};
	const struct nod_session_end end = {{INT64_C(1700002400) * NOD_NS_PER_S},
					    77,
					    "kept awake",
					    "roof unit keeps body awake."};
	char journal[300];
	struct nod_error err;

	strcpy(journal, about);
	*strrchr(journal, '/') = 0;
	assert_int_equal(nod_session_note_end(journal, &end), 0);
	strcat(journal, "/journal.log");
	close(open(journal, O_CREAT | O_WRONLY, 0600));
	utimensat(AT_FDCWD, about, late, 0);
	for (int changed = 0; changed < 2; changed++) {
		utimensat(AT_FDCWD, journal, changed ? late : early, 0);
		utimensat(AT_FDCWD, about, changed ? early : late, 0);
		json_t *list = nod_session_list(directory, &err), *one = json_array_get(list, 0);
		assert_string_equal(text_of(one, "verdict"), "kept awake");
		assert_string_equal(text_of(one, "sentence"), "roof unit keeps body awake.");
		assert_int_equal(json_integer_value(json_object_get(one, "frames")), 77);
		assert_int_equal(json_integer_value(json_object_get(one, "ended_ns")), end.time.ns);
		assert_true(json_is_null(json_object_get(one, "created_ns")));
		assert_int_equal(json_is_true(json_object_get(one, "changed")), changed);
		json_decref(list);
	}
	unlink(journal);
}

static void finds_a_free_name_and_lists_sessions(void **state)
{
	char path[300];
	struct nod_error err;
	json_t *list;

	(void)state;
	snprintf(path, sizeof(path), "%s/2023-11-14-225320", directory);
	mkdir(path, 0700);
	assert_string_equal(name(NULL), "2023-11-14-225320-2");
	list = nod_session_list(directory, &err);
	assert_int_equal(json_array_size(list), 0); /* an empty directory is no session */
	json_decref(list);
	strcat(path, "/session.txt");
	close(open(path, O_CREAT | O_WRONLY, 0600));
	list = nod_session_list(directory, &err);
	assert_int_equal(json_array_size(list), 1);
	assert_string_equal(json_string_value(json_object_get(json_array_get(list, 0), "name")),
			    "2023-11-14-225320");
	json_decref(list);
	tells_what_was_found_at_the_end(path);
	unlink(path);
	*strrchr(path, '/') = 0;
	rmdir(path);
	assert_null(nod_session_list("/nowhere", &err));
}

static void bounds_the_path(void **state)
{
	char path[20];

	(void)state;
	assert_int_equal(nod_session_name(path, sizeof(path), directory, "x", (nod_time){0}),
			 -ENAMETOOLONG);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(makes_names_that_are_safe),
		cmocka_unit_test(finds_a_free_name_and_lists_sessions),
		cmocka_unit_test(bounds_the_path),
	};
	int failed;

	setenv("TZ", "UTC", 1);
	tzset();
	if (!mkdtemp(directory))
		return 1;
	failed = cmocka_run_group_tests(tests, NULL, NULL);
	rmdir(directory);
	return failed;
}
