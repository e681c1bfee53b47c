/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <errno.h>

#include <cmocka.h>

#include "own-path.h"

static char path[PATH_MAX];

static const char *where(enum nod_own own)
{
	return nod_own_path(path, own, "x") ? "nowhere" : path;
}

static void test_by_the_specification(void **state)
{
	(void)state;
	setenv("HOME", "/home/w", 1);
	unsetenv("XDG_CONFIG_HOME");
	setenv("XDG_DATA_HOME", "/data", 1);
	setenv("XDG_RUNTIME_DIR", "/run/user/7", 1);
	assert_string_equal(where(NOD_OWN_SETTINGS), "/home/w/.config/nodoff/x");
	assert_string_equal(where(NOD_OWN_DATA), "/data/nodoff/x");
	setenv("XDG_CACHE_HOME", "/cache", 1);
	assert_string_equal(where(NOD_OWN_CACHE), "/cache/nodoff/x");
	assert_string_equal(where(NOD_OWN_RUNTIME), "/run/user/7/nodoff/x");

	/* "All paths set in these environment variables must be absolute." */
	setenv("XDG_CONFIG_HOME", "etc", 1);
	setenv("XDG_DATA_HOME", "", 1);
	setenv("XDG_CACHE_HOME", "", 1);
	unsetenv("XDG_RUNTIME_DIR");
	assert_string_equal(where(NOD_OWN_SETTINGS), "/home/w/.config/nodoff/x");
	assert_string_equal(where(NOD_OWN_DATA), "/home/w/.local/share/nodoff/x");
	assert_string_equal(where(NOD_OWN_CACHE), "/home/w/.cache/nodoff/x");
	assert_string_equal(where(NOD_OWN_RUNTIME), "nowhere");

	unsetenv("HOME");
	assert_string_equal(where(NOD_OWN_DATA), "nowhere");
	assert_string_equal(path, "");
}

static void test_too_long(void **state)
{
	(void)state;
	char *home = malloc(PATH_MAX + 1);

	memset(home, '/', PATH_MAX);
	home[PATH_MAX] = '\0';
	setenv("HOME", home, 1);
	assert_int_equal(nod_own_path(path, NOD_OWN_SETTINGS, "x"), -ENAMETOOLONG);
	free(home);
}

static void test_what_holds_it_is_made(void **state)
{
	char place[] = "/tmp/own-XXXXXX";
	struct stat st;

	(void)state;
	assert_non_null(mkdtemp(place));
	snprintf(path, sizeof(path), "%s/a/b/file", place);
	assert_int_equal(nod_own_make_place(path), 0);
	assert_int_equal(nod_own_make_place(path), 0);
	*strrchr(path, '/') = '\0';
	assert_int_equal(stat(path, &st), 0);
	assert_int_equal(st.st_mode & 0777, 0700);
	assert_int_equal(rmdir(path), 0);
	*strrchr(path, '/') = '\0';
	assert_int_equal(rmdir(path), 0);
	assert_int_equal(rmdir(place), 0);
	assert_int_equal(nod_own_make_place("/proc/no/such"), -ENOENT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_by_the_specification),
		cmocka_unit_test(test_too_long),
		cmocka_unit_test(test_what_holds_it_is_made),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
