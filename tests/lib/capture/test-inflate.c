/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>
#include <zstd.h>

#include <cmocka.h>

#include "inflate.h"
#include "memory-reader.h"

#define TEXT_SIZE ((size_t)300000)

static char *text; /* not easily packed */

static int set_up(void **state)
{
	(void)state;
	uint64_t random = 42;
	text = malloc(TEXT_SIZE);
	for (size_t i = 0; i < TEXT_SIZE; i++) {
		random = random * UINT64_C(6364136223846793005) + 1442695040888963407u;
		text[i] = "0123456789ABCDEF"[random >> 60];
	}
	return 0;
}

static int tear_down(void **state)
{
	(void)state;
	free(text);
	return 0;
}

static size_t gzip(unsigned char *out, size_t room, size_t from, size_t length)
{
	z_stream z = {0};
	assert_int_equal(deflateInit2(&z, 6, Z_DEFLATED, 31, 8, Z_DEFAULT_STRATEGY), Z_OK);
	z.next_in = (unsigned char *)text + from;
	z.avail_in = (uInt)length;
	z.next_out = out;
	z.avail_out = (uInt)room;
	assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
	deflateEnd(&z);
	return room - z.avail_out;
}

static size_t zstd(unsigned char *out, size_t room, size_t from, size_t length)
{
	size_t n = ZSTD_compress(out, room, text + from, length, 3);
	assert_false(ZSTD_isError(n));
	return n;
}

/* Unpacks; returns bytes got, all of which must be those of the text. */
static size_t unpacked(const void *bytes, size_t length, size_t piece, size_t ask, int *status,
		       bool *torn)
{
	struct memory_reader reader = {bytes, length, 0, piece, piece ? 7 : 0, 0};
	char *out = malloc(TEXT_SIZE + 1);
	size_t got = 0;
	ptrdiff_t n = 0;

	struct nod_inflate *in = nod_inflate_new(memory_read, &reader, status);
	assert_non_null(in);
	while (got <= TEXT_SIZE &&
	       (n = nod_inflate_read(in, out + got,
				     ask < TEXT_SIZE + 1 - got ? ask : TEXT_SIZE + 1 - got)) > 0)
		got += (size_t)n;
	assert_true(got <= TEXT_SIZE);
	assert_memory_equal(out, text, got);
	*status = (int)n;
	*torn = nod_inflate_torn(in);
	nod_inflate_free(in);
	free(out);
	return got;
}

static void whole(const void *bytes, size_t length)
{
	static const size_t pieces[] = {0, 1, 3, 1000, 200000}, asks[] = {1, 37, 4096, 1000000};
	int status;
	bool torn;

	for (size_t p = 0; p < 5; p++)
		for (size_t a = 0; a < 4; a++) {
			assert_int_equal(
				unpacked(bytes, length, pieces[p], asks[a], &status, &torn),
				TEXT_SIZE);
			assert_int_equal(status, 0);
			assert_false(torn);
		}
}

static void test_plain(void **state)
{
	(void)state;
	whole(text, TEXT_SIZE);
}

static void test_gzip_members(void **state)
{
	(void)state;
	unsigned char *out = malloc(2 * TEXT_SIZE);
	size_t n = gzip(out, 2 * TEXT_SIZE, 0, 1000);
	n += gzip(out + n, 2 * TEXT_SIZE - n, 1000, 0);
	n += gzip(out + n, 2 * TEXT_SIZE - n, 1000, TEXT_SIZE - 1000);
	whole(out, n);
	memset(out + n, 0, 512); /* padded to a block */
	whole(out, n + 512);
	free(out);
}

static void test_zstd_frames(void **state)
{
	(void)state;
	static const unsigned char skippable[] = {0x5A, 0x2A, 0x4D, 0x18, 3, 0, 0, 0, 1, 2, 3};
	unsigned char *out = malloc(2 * TEXT_SIZE);
	size_t n = sizeof(skippable);
	memcpy(out, skippable, n);
	n += zstd(out + n, 2 * TEXT_SIZE - n, 0, 100000);
	memcpy(out + n, skippable, sizeof(skippable));
	n += sizeof(skippable);
	n += zstd(out + n, 2 * TEXT_SIZE - n, 100000, TEXT_SIZE - 100000);
	whole(out, n);
	free(out);
}

static void torn_anywhere(const unsigned char *bytes, size_t length, size_t first)
{
	size_t before = 0;
	int status;
	bool torn;

	for (size_t cut = first; cut < length; cut += 1 + length / 50) {
		size_t got = unpacked(bytes, cut, 0, 4096, &status, &torn);
		assert_int_equal(status, 0);
		assert_true(torn);
		assert_true(got >= before && got <= TEXT_SIZE);
		before = got;
	}
	assert_true(before > TEXT_SIZE / 2);
}

static void test_a_torn_tail_gives_what_can_be_read(void **state)
{
	(void)state;
	unsigned char *out = malloc(2 * TEXT_SIZE);
	torn_anywhere(out, gzip(out, 2 * TEXT_SIZE, 0, TEXT_SIZE), 4);
	torn_anywhere(out, zstd(out, 2 * TEXT_SIZE, 0, TEXT_SIZE), 5);
	free(out);
}

static void test_garbage_behind_gzip_is_a_torn_end(void **state)
{
	(void)state;
	unsigned char *out = malloc(2 * TEXT_SIZE);
	size_t n = gzip(out, 2 * TEXT_SIZE, 0, TEXT_SIZE);
	int status;
	bool torn;
	memcpy(out + n, "garbage", 7);
	assert_int_equal(unpacked(out, n + 7, 0, 4096, &status, &torn), TEXT_SIZE);
	assert_int_equal(status, 0);
	assert_true(torn);
	free(out);
}

static void test_damage_is_an_error_behind_what_could_be_read(void **state)
{
	(void)state;
	unsigned char *out = malloc(2 * TEXT_SIZE);
	int status;
	bool torn;
	size_t n = gzip(out, 2 * TEXT_SIZE, 0, TEXT_SIZE);
	out[n - 6] ^= 1; /* in the check value, RFC 1952 section 2.3.1 */
	assert_int_equal(unpacked(out, n, 0, 4096, &status, &torn), TEXT_SIZE);
	assert_int_equal(status, -EBADMSG);
	n = zstd(out, 2 * TEXT_SIZE, 0, 200000);
	memset(out + n, 0xFF, 8);
	assert_int_equal(unpacked(out, n + 8, 0, 4096, &status, &torn), 200000);
	assert_int_equal(status, -EBADMSG);
	free(out);
}

/* Several blocks in one frame, and room for all of them in one call. */
static void test_blocks_before_the_damage_are_delivered(void **state)
{
	(void)state;
	unsigned char *out = malloc(2 * TEXT_SIZE);
	ZSTD_CCtx *context = ZSTD_createCCtx();
	int status;
	bool torn;

	ZSTD_CCtx_setParameter(context, ZSTD_c_checksumFlag, 1);
	size_t n = ZSTD_compress2(context, out, 2 * TEXT_SIZE, text, TEXT_SIZE);
	ZSTD_freeCCtx(context);
	assert_false(ZSTD_isError(n));
	whole(out, n);
	out[n - 1] ^= 1; /* in the check value, RFC 8878 section 3.1.1 */
	assert_int_equal(unpacked(out, n, 0, 1000000, &status, &torn), TEXT_SIZE);
	assert_int_equal(status, -EBADMSG);
	assert_int_equal(unpacked(out, n, 7, 37, &status, &torn), TEXT_SIZE);
	assert_int_equal(status, -EBADMSG);
	free(out);
}

/* The header promises 49 bytes, the only block holds 15 of them, unpacked. That it was the
 * last one is noticed with its last byte, however the bytes come in. */
static void test_a_frame_of_wrong_size_is_the_same_in_pieces(void **state)
{
	(void)state;
	unsigned char in[24] = {0x28, 0xB5, 0x2F, 0xFD, 0x20, 49, 15 << 3 | 1, 0, 0};
	int status;
	bool torn;

	memcpy(in + 9, text, 15);
	for (size_t piece = 0; piece < sizeof(in); piece++)
		for (size_t ask = 1; ask < sizeof(in); ask++) {
			assert_int_equal(unpacked(in, sizeof(in), piece, ask, &status, &torn), 14);
			assert_int_equal(status, -EBADMSG);
			assert_false(torn);
		}
}

/* Behind a good frame of 5 bytes, a header that promises 1 byte and a block of more:
 * nothing of it is delivered. */
static void test_a_block_beyond_its_frame_is_the_same_in_pieces(void **state)
{
	(void)state;
	unsigned char in[44] = {0x28, 0xB5,        0x2F, 0xFD,    0x20, 5,    5 << 3 | 1, 0,
				0,    [14] = 0x28, 0xB5, 0x2F,    0xFD, 0x84, 0x58,       1,
				0,    0,           0,    20 << 3, 0,    0};
	int status;
	bool torn;

	memcpy(in + 9, text, 5);
	memcpy(in + 27, text + 5, 17);
	for (size_t piece = 0; piece < sizeof(in); piece++)
		for (size_t ask = 1; ask < sizeof(in); ask++) {
			assert_int_equal(unpacked(in, sizeof(in), piece, ask, &status, &torn), 5);
			assert_int_equal(status, -EBADMSG);
		}
}

static void test_the_head_is_delivered_as_well(void **state)
{
	(void)state;
	struct memory_reader reader = {text, TEXT_SIZE, 0, 1, 0, 0};
	int code;
	size_t length;
	char first[20];
	struct nod_inflate *in = nod_inflate_new(memory_read, &reader, &code);
	assert_memory_equal(nod_inflate_head(in, &length), text, NOD_INFLATE_HEAD);
	assert_int_equal(length, NOD_INFLATE_HEAD);
	for (size_t i = 0; i < 20; i++)
		assert_int_equal(nod_inflate_read(in, first + i, 1), 1);
	assert_memory_equal(first, text, 20);
	assert_string_equal(nod_inflate_form(in), "");
	nod_inflate_free(in);
}

static void test_short_streams(void **state)
{
	(void)state;
	int status;
	bool torn;
	assert_int_equal(unpacked("", 0, 0, 10, &status, &torn), 0);
	assert_false(torn);
	assert_int_equal(unpacked(text, 1, 0, 10, &status, &torn), 1);
	assert_int_equal(unpacked(text, 3, 1, 10, &status, &torn), 3);
	/* only a magic number */
	assert_int_equal(unpacked("\x1F\x8B\x08", 3, 0, 10, &status, &torn), 0);
	assert_true(torn);
}

static void test_a_failing_read_is_told(void **state)
{
	(void)state;
	struct memory_reader reader = {"", 0, 0, 0, 0, -EIO};
	int code = 0;
	assert_null(nod_inflate_new(memory_read, &reader, &code));
	assert_int_equal(code, -EIO);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_plain),
		cmocka_unit_test(test_gzip_members),
		cmocka_unit_test(test_zstd_frames),
		cmocka_unit_test(test_a_torn_tail_gives_what_can_be_read),
		cmocka_unit_test(test_garbage_behind_gzip_is_a_torn_end),
		cmocka_unit_test(test_damage_is_an_error_behind_what_could_be_read),
		cmocka_unit_test(test_blocks_before_the_damage_are_delivered),
		cmocka_unit_test(test_a_frame_of_wrong_size_is_the_same_in_pieces),
		cmocka_unit_test(test_a_block_beyond_its_frame_is_the_same_in_pieces),
		cmocka_unit_test(test_the_head_is_delivered_as_well),
		cmocka_unit_test(test_short_streams),
		cmocka_unit_test(test_a_failing_read_is_told),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
