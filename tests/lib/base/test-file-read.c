/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "file-read.h"
#include "scratch.h"

static void test_a_file_is_read_whole(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct scratch s;
	size_t length = 0;

	scratch_make(&s);
	scratch_write(&s, "file", "a\0b", 3);
	char *text = nod_file_read(scratch_path(&s, "file"), 3, &length, &err);
	assert_int_equal(length, 3);
	assert_memory_equal(text, "a\0b", 3);
	free(text);
	scratch_remove(&s);
}

static void test_one_byte_more_than_allowed_tells_a_larger_one(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct scratch s;
	size_t length = 0;

	scratch_make(&s);
	scratch_puts(&s, "file", "abcdef");
	char *text = nod_file_read(scratch_path(&s, "file"), 3, &length, &err);
	assert_int_equal(length, 4);
	free(text);
	scratch_remove(&s);
}

static void test_what_cannot_be_read_is_named(void **state)
{
	(void)state;
	struct nod_error err = {""};
	size_t length = 7;

	assert_null(nod_file_read("/nowhere", 3, &length, &err));
	assert_int_equal(errno, ENOENT);
	assert_int_equal(length, 0);
	assert_non_null(strstr(err.text, "/nowhere: "));
	assert_null(nod_file_read("/tmp", 3, &length, &err));
	assert_int_equal(errno, EISDIR);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_file_is_read_whole),
		cmocka_unit_test(test_one_byte_more_than_allowed_tells_a_larger_one),
		cmocka_unit_test(test_what_cannot_be_read_is_named),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
