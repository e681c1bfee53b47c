/* SPDX-License-Identifier: MIT */
/* Hexadecimal digits by the dozen: what the quick parser of logs lives on. */
#ifndef NOD_HEX16_H
#define NOD_HEX16_H

#include <stdint.h>
#include <string.h>

#ifdef __SSE2__
#include <emmintrin.h>
#endif

/* What the first 16 characters of a text are as hexadecimal digits. */
struct nod_hex16 {
	uint64_t bytes;  /* the byte of the first two digits lowest; past them: undefined */
	unsigned digits; /* how many of the 16 are digits, from the first on */
};

/* The same on any machine, 8 characters at a time in a 64-bit word; `text` has
 * its first character lowest. Bytes in which `other` is not 0 are no digits
 * (true of the lowest such byte at least; those above may be wrong). */
static inline uint32_t nod_hex8_word(uint64_t text, uint64_t *other)
{
	const uint64_t each = UINT64_C(0x0101010101010101), high = each * 0x80;
	uint64_t x = text & each * 0x7F, lower = x | each * 0x20;
	/* bit 7 of a byte is set when it is at least what is taken from 0x80 */
	uint64_t digit = (x + each * (0x80 - '0')) & ~(x + each * (0x80 - ('9' + 1)));
	uint64_t letter = (lower + each * (0x80 - 'a')) & ~(lower + each * (0x80 - ('f' + 1)));

	*other = (~(digit | letter) | text) & high;
	x = (x & each * 0x0F) + ((letter & high) >> 7) * 9;
	x = (x << 4 | x >> 8) & UINT64_C(0x00FF00FF00FF00FF);
	x = (x | x >> 8) & UINT64_C(0x0000FFFF0000FFFF);
	return (uint32_t)(x | x >> 16);
}

static inline struct nod_hex16 nod_hex16_portable(const char *text)
{
	uint64_t low, high, other_low, other_high;

	memcpy(&low, text, 8);
	memcpy(&high, text + 8, 8);
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
	low = __builtin_bswap64(low);
	high = __builtin_bswap64(high);
#endif
	struct nod_hex16 result = {.bytes = nod_hex8_word(low, &other_low)};
	result.bytes |= (uint64_t)nod_hex8_word(high, &other_high) << 32;
	unsigned more = other_high ? (unsigned)__builtin_ctzll(other_high) / 8 : 8;
	result.digits = other_low ? (unsigned)__builtin_ctzll(other_low) / 8 : 8 + more;
	return result;
}

#ifdef __SSE2__
/* All 16 at once; SSE2 is part of every x86-64. What is added puts the characters wanted
 * at the upper end of the signed bytes, so that one comparison finds them. */
static inline struct nod_hex16 nod_hex16(const char *text)
{
	__m128i x = _mm_loadu_si128((const __m128i *)(const void *)text);
	__m128i lower = _mm_or_si128(x, _mm_set1_epi8(0x20));
	__m128i is_digit = _mm_cmpgt_epi8(_mm_add_epi8(x, _mm_set1_epi8(INT8_MAX - '9')),
					  _mm_set1_epi8(INT8_MAX - 10));
	__m128i is_letter = _mm_cmpgt_epi8(_mm_add_epi8(lower, _mm_set1_epi8(INT8_MAX - 'f')),
					   _mm_set1_epi8(INT8_MAX - 6));
	unsigned good = (unsigned)_mm_movemask_epi8(_mm_or_si128(is_digit, is_letter));

	x = _mm_add_epi8(_mm_and_si128(x, _mm_set1_epi8(0x0F)),
			 _mm_and_si128(is_letter, _mm_set1_epi8(9)));
	x = _mm_or_si128(_mm_slli_epi16(x, 4), _mm_srli_epi16(x, 8));
	x = _mm_and_si128(x, _mm_set1_epi16(0xFF));
	return (struct nod_hex16){
		.bytes = (uint64_t)_mm_cvtsi128_si64(_mm_packus_epi16(x, x)),
		.digits = (unsigned)__builtin_ctz(~good),
	};
}

/* The first newline among 32 characters, or NULL. */
static inline const char *nod_near_newline(const char *text)
{
	__m128i a = _mm_loadu_si128((const __m128i *)(const void *)text);
	__m128i b = _mm_loadu_si128((const __m128i *)(const void *)(text + 16));
	__m128i newline = _mm_set1_epi8('\n');
	unsigned in_a = (unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(a, newline));
	unsigned in_b = (unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(b, newline));
	unsigned found = in_a | in_b << 16;

	return found ? text + (unsigned)__builtin_ctz(found) : NULL;
}
#else
static inline struct nod_hex16 nod_hex16(const char *text)
{
	return nod_hex16_portable(text);
}

static inline const char *nod_near_newline(const char *text)
{
	return memchr(text, '\n', 32);
}
#endif

#endif
