/* SPDX-License-Identifier: MIT */
/* What nodoffd says on standard error is one line without control characters. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon.h"

static void is_said_plainly(void **state)
{
	FILE *real = stderr;
	char *text = NULL;
	size_t size;

	(void)state;
	stderr = open_memstream(&text, &size);
	assert_non_null(stderr);
	nod_daemon_say("recording into %s", "/a\033[31m\nb\302\205c\r");
	fclose(stderr);
	stderr = real;
	assert_non_null(strstr(text, "Z recording into /a?[31m?b??c?\n"));
	assert_int_equal(strcspn(text, "\n"), strlen(text) - 1);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(is_said_plainly),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
