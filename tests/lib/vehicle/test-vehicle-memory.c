/* SPDX-License-Identifier: MIT */
/* Memory that runs out at any one moment is reported, and nothing leaks or
 * crashes. The linker leads the library's allocations here (--wrap). */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle.h"

/* Allocations until the one that fails; negative: none does. */
static long left = -1;

static int fails(void)
{
	if (left < 0 || left-- != 0)
		return 0;
	errno = ENOMEM;
	return 1;
}

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
char *__real_strdup(const char *text);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
char *__wrap_strdup(const char *text);

void *__wrap_malloc(size_t size)
{
	return fails() ? NULL : __real_malloc(size);
}

void *__wrap_calloc(size_t count, size_t size)
{
	return fails() ? NULL : __real_calloc(count, size);
}

void *__wrap_realloc(void *old, size_t size)
{
	return fails() ? NULL : __real_realloc(old, size);
}

char *__wrap_strdup(const char *text)
{
	return fails() ? NULL : __real_strdup(text);
}

static void test_a_vehicle_file(void **state)
{
	(void)state;
	unsigned failures = 0;
	for (long n = 0;; n++) {
		struct nod_error err = {""};
		left = n;
		errno = 0;
		struct nod_vehicle *v = nod_vehicle_load(NOD_CAPTURES "/example-vehicle.yaml",
							 &err);
		int code = errno;
		bool failed = left < 0;
		left = -1;
		if (!failed) {
			assert_non_null(v);
			nod_vehicle_free(v);
			break;
		}
		assert_null(v);
		assert_int_equal(code, ENOMEM);
		assert_true(strstr(err.text, "emory") != NULL);
		failures++;
	}
	assert_true(failures > 100);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_vehicle_file),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
