/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "digest.h"
#include "scratch.h"

/* NIST, "Examples with Intermediate Values: SHA-256" for FIPS 180-4: one block
 * ("abc"), two blocks; the empty message: NIST CAVP SHA256ShortMsg, Len = 0. */
static void test_published_digests(void **state)
{
	(void)state;
	static const char *const cases[][2] = {
		{"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
		 "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
	};
	struct scratch s;

	scratch_make(&s);
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char text[NOD_DIGEST_TEXT];
		scratch_puts(&s, "file", cases[i][0]);
		assert_int_equal(nod_digest_file(text, scratch_path(&s, "file"), NULL), 0);
		assert_string_equal(text, cases[i][1]);
	}
	scratch_remove(&s);
}

static void test_what_cannot_be_read(void **state)
{
	(void)state;
	char text[NOD_DIGEST_TEXT];
	struct nod_error err = {""};

	assert_int_equal(nod_digest_file(text, "/nowhere", &err), -ENOENT);
	assert_non_null(strstr(err.text, "/nowhere"));
	assert_int_equal(nod_digest_file(text, "/tmp", &err), -EISDIR);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published_digests),
		cmocka_unit_test(test_what_cannot_be_read),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
