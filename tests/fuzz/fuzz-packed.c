/* SPDX-License-Identifier: MIT */
/* Packed streams. The first byte chooses: the rest as it stands, with a magic number
 * put in front, or packed by us (whole, or damaged at one place) so that the
 * checks inside the forms are passed. */
#include <zlib.h>
#include <zstd.h>

#include "../lib/memory-reader.h"
#include "fuzz.h"
#include "inflate.h"

/* Bytes taken out of one stream. Chosen: larger than the buffers inside. */
#define MOST ((size_t)300 * 1024)

struct unpacked {
	ptrdiff_t status; /* of the last read, or of opening */
	size_t length;
	bool torn;
	uint8_t bytes[MOST];
};

static void unpack(struct unpacked *u, const uint8_t *data, size_t size, size_t piece, size_t step)
{
	struct memory_reader reader = {data, size, 0, piece, piece ? 88172645463325252 : 0, 0};
	size_t head_length;
	int code = 0;
	struct nod_inflate *in = nod_inflate_new(memory_read, &reader, &code);

	u->length = 0;
	u->torn = false;
	u->status = code;
	FUZZ_CHECK(!in == (code < 0));
	if (!in)
		return;
	const unsigned char *head = nod_inflate_head(in, &head_length);
	FUZZ_CHECK(head_length <= NOD_INFLATE_HEAD);
	while (u->length < MOST) {
		size_t room = MOST - u->length < step ? MOST - u->length : step;
		u->status = nod_inflate_read(in, u->bytes + u->length, room);
		if (u->status <= 0)
			break;
		FUZZ_CHECK((size_t)u->status <= room);
		u->length += (size_t)u->status;
	}
	FUZZ_CHECK(u->length >= head_length && !memcmp(head, u->bytes, head_length));
	u->torn = nod_inflate_torn(in);
	nod_inflate_free(in);
}

static void check_pieces(const uint8_t *data, size_t size, const struct unpacked *whole)
{
	static struct unpacked pieces;

	unpack(&pieces, data, size, 7, 4093);
	FUZZ_CHECK(pieces.length == whole->length && pieces.torn == whole->torn);
	FUZZ_CHECK(!memcmp(pieces.bytes, whole->bytes, whole->length));
	FUZZ_CHECK((pieces.status > 0) == (whole->status > 0) || whole->length == MOST);
	FUZZ_CHECK((pieces.status < 0) == (whole->status < 0));
}

static size_t pack_gzip(uint8_t *out, size_t room, const uint8_t *data, size_t size)
{
	z_stream z = {0};

	if (deflateInit2(&z, 1, Z_DEFLATED, 16 + 9, 1, Z_DEFAULT_STRATEGY) != Z_OK)
		abort();
	z.next_in = (Bytef *)(uintptr_t)data;
	z.avail_in = (uInt)size;
	z.next_out = out;
	z.avail_out = (uInt)room;
	FUZZ_CHECK(deflate(&z, Z_FINISH) == Z_STREAM_END);
	deflateEnd(&z);
	return z.total_out;
}

static size_t pack_zstd(uint8_t *out, size_t room, const uint8_t *data, size_t size)
{
	static ZSTD_CCtx *context;

	if (!context && !(context = ZSTD_createCCtx()))
		abort();
	size_t length = ZSTD_compressCCtx(context, out, room, data, size, 1);
	FUZZ_CHECK(!ZSTD_isError(length));
	return length;
}

/* The input as two members or frames; it comes back as it was, or a beginning of it when
 * the packed bytes are damaged or cut. */
static void round_trip(struct fuzz_input in, bool gzip)
{
	static struct unpacked out;
	size_t place = (size_t)fuzz_number(&in, 2), change = fuzz_byte(&in), first = fuzz_byte(&in);
	size_t room = in.left + in.left / 4 + 1024;
	uint8_t *packed = malloc(room);
	size_t (*pack)(uint8_t *, size_t, const uint8_t *, size_t) = gzip ? pack_gzip : pack_zstd;

	if (!packed)
		abort();
	first = in.left ? first % in.left : 0;
	size_t length = pack(packed, room, in.p, first);
	length += pack(packed + length, room - length, in.p + first, in.left - first);
	place %= length;
	packed[place] ^= (uint8_t)change;
	if (place % 4 == 3)
		length = place; /* cut instead */
	unpack(&out, packed, length, 0, MOST);
	if (!change && place % 4 != 3)
		FUZZ_CHECK(out.length == in.left && !out.torn && !out.status &&
			   (!in.left || !memcmp(out.bytes, in.p, in.left)));
	else if (!change && length >= 4) /* shorter, it is not known to be packed */
		FUZZ_CHECK(out.length <= in.left &&
			   (!out.length || !memcmp(out.bytes, in.p, out.length)));
	free(packed);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct unpacked whole;
	struct fuzz_input in = {data, size};
	unsigned choice = fuzz_byte(&in) % 4;

	if (in.left > 65535)
		return 0;
	if (choice >= 2) {
		round_trip(in, choice == 2);
		return 0;
	}
	unpack(&whole, in.p, in.left, 0, MOST);
	if (choice)
		check_pieces(in.p, in.left, &whole);
	return 0;
}
