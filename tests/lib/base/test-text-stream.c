/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "text-stream.h"

static void test_what_is_written_is_there(void **state)
{
	struct nod_text_stream stream;

	(void)state;
	assert_int_equal(nod_text_stream_open(&stream), 0);
	for (int i = 0; i < 10000; i++)
		fprintf(stream.out, "%05d\n", i);
	assert_int_equal(nod_text_stream_close(&stream), 0);
	assert_int_equal(stream.size, 60000);
	assert_int_equal(strlen(stream.text), 60000);
	assert_memory_equal(stream.text + 59994, "09999\n", 7);
	free(stream.text);
}

static void test_nothing_is_written(void **state)
{
	struct nod_text_stream stream;

	(void)state;
	assert_int_equal(nod_text_stream_open(&stream), 0);
	assert_int_equal(nod_text_stream_close(&stream), 0);
	assert_string_equal(stream.text, "");
	free(stream.text);
}

/* That memory runs out is tried in tests/faults. */
int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_is_written_is_there),
		cmocka_unit_test(test_nothing_is_written),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
