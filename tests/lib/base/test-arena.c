/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "arena.h"

/* The sanitizer shall let the huge request below fail as malloc does. */
const char *__asan_default_options(void);
const char *__asan_default_options(void)
{
	return "allocator_may_return_null=1";
}

static void test_memory_is_zeroed_aligned_and_separate(void **state)
{
	(void)state;
	struct nod_arena arena = {0};
	unsigned char *a = nod_arena_alloc(&arena, 3), *b = nod_arena_alloc(&arena, 64);
	assert_non_null(a);
	assert_non_null(b);
	assert_int_equal((uintptr_t)b % _Alignof(max_align_t), 0);
	for (int i = 0; i < 64; i++)
		assert_int_equal(b[i], 0);
	memset(a, 0xFF, 3);
	assert_int_equal(b[0], 0);
	nod_arena_free(&arena);
	assert_null(arena.blocks);
}

static void test_strings_are_formatted_in_full(void **state)
{
	(void)state;
	struct nod_arena arena = {0};
	char line[3001];
	memset(line, 'x', 3000);
	line[3000] = 0;
	assert_int_equal(strlen(nod_arena_printf(&arena, "%s-%d", line, 42)), 3003);
	assert_int_equal(arena.failed, 0);
	nod_arena_free(&arena);
}

static void test_running_out_is_remembered(void **state)
{
	(void)state;
	struct nod_arena arena = {0};
	assert_null(nod_arena_alloc(&arena, SIZE_MAX / 2));
	assert_int_equal(arena.failed, 1);
	nod_arena_free(&arena);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_memory_is_zeroed_aligned_and_separate),
		cmocka_unit_test(test_strings_are_formatted_in_full),
		cmocka_unit_test(test_running_out_is_remembered),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
