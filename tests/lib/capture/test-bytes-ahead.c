/* SPDX-License-Identifier: MIT */
/* Bytes through another thread: the same come, and the same end. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "bytes-ahead.h"

/* Gives `left` bytes that count up, in pieces of any size, and then `end` for ever. */
struct giver {
	size_t given, left, calls;
	ptrdiff_t end;
	bool ended; /* set just before the end is told */
};

static ptrdiff_t give(void *context, void *buf, size_t size)
{
	struct giver *giver = context;
	size_t n = 1 + giver->calls++ * 7919 % 50000;
	unsigned char *bytes = buf;

	if (n > giver->left)
		n = giver->left;
	if (n > size)
		n = size;
	if (!n) {
		giver->ended = true;
		return giver->end;
	}
	for (size_t i = 0; i < n; i++)
		bytes[i] = (unsigned char)((giver->given + i) * 31 >> 3);
	giver->given += n;
	giver->left -= n;
	return (ptrdiff_t)n;
}

static void read_all(size_t length, ptrdiff_t end, size_t piece)
{
	struct giver giver = {.left = length, .end = end};
	struct nod_bytes_ahead *ahead = nod_bytes_ahead_new(give, &giver);
	unsigned char bytes[70000];
	size_t at = 0;
	ptrdiff_t n;

	assert_non_null(ahead);
	while ((n = nod_bytes_ahead_read(ahead, bytes, piece)) > 0) {
		assert_true((size_t)n <= piece);
		for (ptrdiff_t i = 0; i < n; i++)
			assert_int_equal(bytes[i], (unsigned char)((at + (size_t)i) * 31 >> 3));
		at += (size_t)n;
	}
	assert_int_equal(n, end);
	assert_int_equal(at, length);
	assert_true(giver.ended);
	assert_int_equal(nod_bytes_ahead_read(ahead, bytes, piece), end); /* it stays at the end */
	nod_bytes_ahead_free(ahead);
}

static void test_all_bytes_come_in_order(void **state)
{
	(void)state;
	read_all(5000000, 0, 70000);
	read_all(300000, 0, 13);
	read_all(131072, 0, 65536);
	read_all(1, 0, 1);
	read_all(0, 0, 100);
}

static void test_a_failure_is_told_behind_what_came(void **state)
{
	(void)state;
	read_all(1000000, -EIO, 4096);
	read_all(0, -EBADMSG, 100);
}

/* The thread is busy, waits for room, or has ended. */
static void test_freed_at_any_time(void **state)
{
	unsigned char bytes[1000];

	(void)state;
	for (int reads = 0; reads < 40; reads++) {
		struct giver giver = {.left = reads % 2 ? 2000 : 3000000};
		struct nod_bytes_ahead *ahead = nod_bytes_ahead_new(give, &giver);
		assert_non_null(ahead);
		for (int i = 0; i < reads; i++)
			assert_true(nod_bytes_ahead_read(ahead, bytes, sizeof(bytes)) >= 0);
		nod_bytes_ahead_free(ahead);
	}
	nod_bytes_ahead_free(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_all_bytes_come_in_order),
		cmocka_unit_test(test_a_failure_is_told_behind_what_came),
		cmocka_unit_test(test_freed_at_any_time),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
