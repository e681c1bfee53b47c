/* SPDX-License-Identifier: MIT */
#include "inflate.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>
#include <zstd.h>
#include <zstd_errors.h>

#include "bytes-ahead.h"

enum packing { PLAIN, GZIP, ZSTANDARD };

/* Packed bytes asked for at once. Chosen: enough that the read calls do not
 * show, small beside the memory of the unpackers. */
#define INPUT_SIZE ((size_t)128 * 1024)

struct nod_inflate {
	nod_read_function *read;
	void *context;
	enum packing packing;
	int failure;       /* negative errno, to be told after what was unpacked */
	bool input_ended;  /* read() has said 0 */
	bool member_ended; /* between two members: a good place to end */
	bool pending;      /* the unpacker may hold output although it has no input */
	bool torn;
	z_stream gzip;
	ZSTD_DStream *zstd;
	size_t zstd_first, zstd_next;  /* bytes it asks for: of a new frame, next */
	struct nod_bytes_ahead *ahead; /* NULL: unpacked when it is asked for */
	unsigned char head[NOD_INFLATE_HEAD];
	size_t head_begin, head_end;
	size_t begin, end; /* unused bytes of input */
	unsigned char input[INPUT_SIZE];
};

/* Appends to the input. Returns bytes added, 0 at the end, negative errno. */
static ptrdiff_t read_input(struct nod_inflate *in)
{
	in->end -= in->begin;
	memmove(in->input, in->input + in->begin, in->end);
	in->begin = 0;
	if (in->input_ended)
		return 0;
	ptrdiff_t n = in->read(in->context, in->input + in->end, INPUT_SIZE - in->end);
	if (n > 0)
		in->end += (size_t)n;
	else if (n == 0)
		in->input_ended = true;
	return n;
}

static ptrdiff_t read_plain(struct nod_inflate *in, void *buf, size_t size)
{
	size_t available = in->end - in->begin;

	if (!available)
		return in->input_ended ? 0 : in->read(in->context, buf, size);
	if (available > size)
		available = size;
	memcpy(buf, in->input + in->begin, available);
	in->begin += available;
	return (ptrdiff_t)available;
}

/* True when a further gzip member begins at the input. Zero bytes that pad
 * the file (tapes, block devices) are skipped; anything else is a torn end. */
static bool begin_member(struct nod_inflate *in)
{
	while (in->begin < in->end && !in->input[in->begin])
		in->begin++;
	if (in->begin == in->end)
		return false;
	if (in->input[in->begin] != 0x1F || inflateReset(&in->gzip) != Z_OK) {
		in->torn = in->input_ended = true;
		in->begin = in->end;
		return false;
	}
	in->member_ended = false;
	return true;
}

/* One call of the unpacker. Returns bytes put into buf, maybe 0. */
static size_t step_gzip(struct nod_inflate *in, void *buf, size_t size)
{
	if (in->member_ended && !begin_member(in))
		return 0;
	in->gzip.next_in = in->input + in->begin;
	in->gzip.avail_in = (uInt)(in->end - in->begin);
	in->gzip.next_out = buf;
	in->gzip.avail_out = size > UINT32_MAX ? UINT32_MAX : (uInt)size;
	uInt room = in->gzip.avail_out;
	int status = inflate(&in->gzip, Z_NO_FLUSH);
	in->begin = in->end - in->gzip.avail_in;
	in->member_ended = status == Z_STREAM_END;
	in->pending = !in->member_ended && !in->gzip.avail_out;
	if (status != Z_OK && status != Z_STREAM_END && status != Z_BUF_ERROR)
		in->failure = status == Z_MEM_ERROR ? -ENOMEM : -EBADMSG;
	return room - in->gzip.avail_out;
}

/* What the unpacker asks for is a block and the header of the next one, RFC 8878
 * section 3.1.1.2. */
#define ZSTD_BLOCK_HEADER 3

/* Bytes of input for the next call. A call that fails delivers nothing, not even what
 * came before the damage; so it gets exactly one block or one header, and the end of a last
 * block (which no header follows, and which may fail) byte by byte. What is delivered
 * then depends on the stream, not on how read() cuts it. */
static size_t zstd_share(const struct nod_inflate *in)
{
	size_t share = 1;

	if (in->zstd_next > ZSTD_BLOCK_HEADER)
		share = in->zstd_next - ZSTD_BLOCK_HEADER;
	return share < INPUT_SIZE ? share : INPUT_SIZE; /* more only to be skipped */
}

static size_t step_zstd(struct nod_inflate *in, void *buf, size_t size)
{
	size_t available = in->end - in->begin, share = zstd_share(in);

	if (share > available)
		share = available;
	ZSTD_inBuffer packed = {in->input + in->begin, in->pending ? 0 : share, 0};
	ZSTD_outBuffer out = {buf, size, 0};
	size_t status = ZSTD_decompressStream(in->zstd, &out, &packed);

	in->begin += packed.pos;
	in->zstd_next = status ? status : in->zstd_first;
	in->member_ended = status == 0;
	in->pending = status && out.pos == out.size;
	if (ZSTD_isError(status))
		in->failure = ZSTD_getErrorCode(status) == ZSTD_error_memory_allocation ? -ENOMEM
											: -EBADMSG;
	return out.pos;
}

static bool lacks_input(const struct nod_inflate *in)
{
	size_t available = in->end - in->begin;

	if (in->pending)
		return false;
	return !available ||
	       (in->packing == ZSTANDARD && !in->input_ended && available < zstd_share(in));
}

static ptrdiff_t read_packed(struct nod_inflate *in, void *buf, size_t size)
{
	size_t got = 0;

	while (!got) {
		if (in->failure)
			return in->failure;
		while (lacks_input(in)) {
			ptrdiff_t n = read_input(in);
			if (n < 0)
				return n;
			if (n == 0 && in->begin == in->end) {
				in->torn = in->torn || !in->member_ended;
				return 0;
			}
		}
		got = in->packing == GZIP ? step_gzip(in, buf, size) : step_zstd(in, buf, size);
	}
	return (ptrdiff_t)got;
}

static ptrdiff_t read_body(struct nod_inflate *in, void *buf, size_t size)
{
	return in->packing == PLAIN ? read_plain(in, buf, size) : read_packed(in, buf, size);
}

ptrdiff_t nod_inflate_read(void *inflate, void *buf, size_t size)
{
	struct nod_inflate *in = inflate;
	size_t available = in->head_end - in->head_begin;

	if (!size)
		return 0;
	if (!available)
		return in->ahead ? nod_bytes_ahead_read(in->ahead, buf, size)
				 : read_body(in, buf, size);
	if (available > size)
		available = size;
	memcpy(buf, in->head + in->head_begin, available);
	in->head_begin += available;
	return (ptrdiff_t)available;
}

static ptrdiff_t unpack_ahead(void *inflate, void *buf, size_t size)
{
	return read_packed(inflate, buf, size);
}

bool nod_inflate_ahead(struct nod_inflate *in)
{
	if (in->packing != PLAIN && !in->ahead)
		in->ahead = nod_bytes_ahead_new(unpack_ahead, in);
	return in->ahead;
}

/* gzip: RFC 1952 section 2.3.1. zstd: RFC 8878 section 3.1.1 (a frame) and
 * 3.1.2 (a skippable frame). */
static enum packing packing_of(const unsigned char *p, size_t length)
{
	if (length >= 3 && p[0] == 0x1F && p[1] == 0x8B && p[2] == 8)
		return GZIP;
	if (length >= 4 && p[0] == 0x28 && p[1] == 0xB5 && p[2] == 0x2F && p[3] == 0xFD)
		return ZSTANDARD;
	if (length >= 4 && (p[0] & 0xF0) == 0x50 && p[1] == 0x2A && p[2] == 0x4D && p[3] == 0x18)
		return ZSTANDARD;
	return PLAIN;
}

static int start_unpacker(struct nod_inflate *in)
{
	if (in->packing == GZIP && inflateInit2(&in->gzip, 16 + MAX_WBITS) != Z_OK)
		return -ENOMEM;
	if (in->packing == ZSTANDARD) {
		if (!(in->zstd = ZSTD_createDStream()))
			return -ENOMEM;
		in->zstd_first = in->zstd_next = ZSTD_initDStream(in->zstd);
	}
	return 0;
}

static int start(struct nod_inflate *in)
{
	while (in->end < 4 && !in->input_ended) {
		ptrdiff_t n = read_input(in);
		if (n < 0)
			return (int)n;
	}
	enum packing packing = packing_of(in->input, in->end);
	in->packing = packing;
	int status = start_unpacker(in);
	if (status) {
		in->packing = PLAIN;
		return status;
	}
	while (in->head_end < NOD_INFLATE_HEAD) {
		ptrdiff_t n = read_body(in, in->head + in->head_end,
					NOD_INFLATE_HEAD - in->head_end);
		if (n < 0)
			in->failure = (int)n;
		if (n <= 0)
			break;
		in->head_end += (size_t)n;
	}
	return in->head_end ? 0 : in->failure;
}

struct nod_inflate *nod_inflate_new(nod_read_function *read, void *context, int *code)
{
	struct nod_inflate *in = malloc(sizeof(*in));

	*code = -ENOMEM;
	if (!in)
		return NULL;
	memset(in, 0, offsetof(struct nod_inflate, input));
	in->read = read;
	in->context = context;
	*code = start(in);
	if (*code) {
		nod_inflate_free(in);
		return NULL;
	}
	return in;
}

void nod_inflate_free(struct nod_inflate *in)
{
	if (!in)
		return;
	nod_bytes_ahead_free(in->ahead);
	if (in->packing == GZIP)
		inflateEnd(&in->gzip);
	ZSTD_freeDStream(in->zstd);
	free(in);
}

const unsigned char *nod_inflate_head(const struct nod_inflate *in, size_t *length)
{
	*length = in->head_end;
	return in->head;
}

bool nod_inflate_torn(const struct nod_inflate *in)
{
	return in->torn;
}

const char *nod_inflate_form(const struct nod_inflate *in)
{
	return in->packing == GZIP ? ", gzip" : in->packing == ZSTANDARD ? ", zstd" : "";
}
