/* SPDX-License-Identifier: MIT */
#include "candump.h"

#include <string.h>

#include "candump-internal.h"
#include "hex16.h"

/* 8 characters as a 64-bit word, the first one in the lowest byte. */
static uint64_t load(const char *text)
{
	uint64_t word;
	memcpy(&word, text, sizeof(word));
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
	word = __builtin_bswap64(word);
#endif
	return word;
}

#define EACH_BYTE(value) (UINT64_C(0x0101010101010101) * (value))

/* A mask of the lowest bytes, 8 at most; by a table, as payloads of 8 bytes and shorter
 * ones come mixed. */
static uint64_t first_bytes(unsigned count)
{
	static const uint64_t masks[9] = {
		0,          0xFF,         0xFFFF,         0xFFFFFF,
		0xFFFFFFFF, 0xFFFFFFFFFF, 0xFFFFFFFFFFFF, 0xFFFFFFFFFFFFFF,
		UINT64_MAX};
	return masks[count];
}

/* Multipliers: the golden ratio, and the square root of 3, as 64-bit fractions. */
static unsigned name_slot(uint64_t low, uint64_t high)
{
	uint64_t mixed = low * UINT64_C(0x9E3779B97F4A7C15) ^ high * UINT64_C(0xBB67AE8584CAA73B);
	return (unsigned)(mixed >> 58);
}

void nod_candump_init(struct nod_candump *candump, struct nod_interfaces *table)
{
	memset(candump, 0, sizeof(*candump));
	candump->prefix_mask[0] = UINT64_MAX; /* no line begins with a zero byte */
	candump->table = table;
}

static void remember_seconds(struct nod_candump *candump, const char *text, const char *point,
			     nod_time time)
{
	char copy[16] = {0};
	unsigned length = (unsigned)(point - text) + 1;

	if (length > sizeof(copy))
		return;
	memcpy(copy, text, length);
	candump->prefix[0] = load(copy);
	candump->prefix[1] = load(copy + 8);
	candump->prefix_mask[0] = first_bytes(length < 8 ? length : 8);
	candump->prefix_mask[1] = length > 8 ? first_bytes(length - 8) : 0;
	candump->prefix_length = length;
	candump->prefix_ns = time.ns - time.ns % NOD_NS_PER_S;
}

static void remember_name(struct nod_candump *candump, const char *name, size_t length,
			  uint8_t index)
{
	char copy[16] = {0};

	memcpy(copy, name, length); /* a name that was found has 1 to 15 characters */
	copy[length] = ' '; /* with its end: a zero byte behind a name is none of its padding */
	uint64_t low = load(copy), high = load(copy + 8);
	unsigned slot = name_slot(low, high);
	candump->names[slot].key[0] = low;
	candump->names[slot].key[1] = high;
	candump->names[slot].index = index;
}

/* " R" or " T", then nothing. */
static bool parse_rest(struct nod_scan *scan, struct nod_frame *frame)
{
	if (nod_scan_blanks(scan) && scan->p < scan->end) {
		if (*scan->p == 'R' || *scan->p == 'T')
			frame->flags |= *scan->p++ == 'R' ? NOD_FRAME_RECEIVED : NOD_FRAME_SENT;
		nod_scan_blanks(scan);
	}
	if (scan->p == scan->end)
		return true;
	return nod_scan_fail(scan, "expected the end of the frame");
}

bool nod_candump_parse(struct nod_candump *candump, struct nod_scan *scan, struct nod_frame *frame)
{
	frame->length = frame->flags = frame->raw_dlc = 0;
	memset(frame->data, 0, 8);
	nod_scan_blanks(scan);
	const char *time = scan->p;
	if (!nod_scan_time(scan, &frame->time))
		return false;
	remember_seconds(candump, time, memchr(time, '.', (size_t)(scan->p - time)), frame->time);
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank behind the time");
	const char *name = scan->p;
	if (!nod_scan_interface(scan, candump->table, &frame->interface))
		return false;
	remember_name(candump, name, (size_t)(scan->p - name), frame->interface);
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank and an ID behind the interface");
	return nod_candump_parse_frame(scan, frame) && parse_rest(scan, frame);
}

/* The quick parser: the same line by whole words instead of characters. Each
 * piece returns where the next one begins, or NULL when the line is not of the
 * usual kind. */

/* Number that the 8 decimal digits of a word stand for; false when one of
 * them is something else. Two digits, four, eight: each step multiplies what is
 * in the lower half of a pair and adds the upper one. */
static inline bool decimal_word(uint64_t x, uint32_t *value)
{
	x ^= EACH_BYTE('0'); /* digits become 0..9, everything else more */
	if ((x | (x + EACH_BYTE(0x80 - 10))) & EACH_BYTE(0x80))
		return false;
	x = x * (10 << 8 | 1) >> 8 & UINT64_C(0x00FF00FF00FF00FF);
	x = x * (100 << 16 | 1) >> 16 & UINT64_C(0x0000FFFF0000FFFF);
	*value = (uint32_t)(x * (UINT64_C(10000) << 32 | 1) >> 32);
	return true;
}

/* The nine digits of nanoseconds. */
static const char *quick_nanoseconds(const char *p, int64_t *ns)
{
	unsigned last = (unsigned char)p[8] - (unsigned)'0';
	uint32_t fraction;

	if (last > 9 || p[9] != ')' || p[10] != ' ' || !decimal_word(load(p), &fraction))
		return NULL;
	*ns = (int64_t)fraction * 10 + last;
	return p + 11;
}

/* A time in the second of the line before. */
static inline const char *quick_time(const struct nod_candump *candump, const char *p,
				     nod_time *time)
{
	uint64_t differs = ((load(p) ^ candump->prefix[0]) & candump->prefix_mask[0]) |
			   ((load(p + 8) ^ candump->prefix[1]) & candump->prefix_mask[1]);
	uint32_t fraction;
	int64_t ns;

	if (differs)
		return NULL;
	p += candump->prefix_length;
	uint64_t word = load(p);
	if (word >> 48 == (')' | ' ' << 8)) { /* six digits */
		if (!decimal_word(word << 16 | ('0' | '0' << 8), &fraction))
			return NULL;
		ns = (int64_t)fraction * NOD_NS_PER_US;
		p += 8;
	} else if (!(p = quick_nanoseconds(p, &ns))) {
		return NULL;
	}
	time->ns = candump->prefix_ns + ns;
	return p;
}

/* 0x80 in the lowest byte of a word that is a blank (those above it may be
 * wrong), 0 when there is none. */
static inline uint64_t find_blank(uint64_t word)
{
	uint64_t x = word ^ EACH_BYTE(' ');
	return (x - EACH_BYTE(0x01)) & ~x & EACH_BYTE(0x80);
}

/* A mask of all bits up to the lowest one that is set. */
static inline uint64_t up_to(uint64_t bits)
{
	return bits ^ (bits - 1);
}

/* A name of 8 to 15 characters, the first 8 of them in `low`. */
static const char *quick_long_name(const struct nod_candump *candump, const char *p, uint64_t low,
				   uint8_t *index)
{
	uint64_t high = load(p + 8), blank = find_blank(high);

	if (!blank)
		return NULL;
	high &= up_to(blank);
	const struct nod_candump_name *name = &candump->names[name_slot(low, high)];
	if (name->key[0] != low || name->key[1] != high)
		return NULL;
	*index = name->index;
	return p + 8 + (unsigned)__builtin_ctzll(blank) / 8 + 1;
}

/* A known name and the blank behind it. */
static inline const char *quick_interface(const struct nod_candump *candump, const char *p,
					  uint8_t *index)
{
	uint64_t word = load(p), blank = find_blank(word);

	if (!blank)
		return quick_long_name(candump, p, word, index);
	word &= up_to(blank);
	const struct nod_candump_name *name = &candump->names[name_slot(word, 0)];
	if (name->key[0] != word)
		return NULL;
	*index = name->index;
	return p + (unsigned)__builtin_ctzll(blank) / 8 + 1;
}

/* An ID and its '#'. Standard and extended IDs come mixed, so arithmetic takes
 * the place of a branch that would be guessed wrong often. */
static inline const char *quick_id(const char *p, uint32_t *id)
{
	static const uint32_t limits[] = {NOD_ID_STANDARD_MASK, NOD_ID_EXTENDED_MASK};
	struct nod_hex16 hex = nod_hex16(p);

	if (!((1u << 3 | 1u << 8) >> hex.digits & 1) || p[hex.digits] != '#')
		return NULL;
	unsigned extended = hex.digits / 8;
	uint32_t value = __builtin_bswap32((uint32_t)hex.bytes) >> ((32 - 4 * hex.digits) & 31);
	if (value > limits[extended])
		return NULL;
	*id = value | extended * NOD_ID_EXTENDED;
	return p + hex.digits + 1;
}

/* What follows the data: maybe a direction marker, then the newline with or
 * without carriage return. */
static bool quick_end(const char *p, const char *end, struct nod_frame *frame)
{
	if (*p == ' ' && (p[1] == 'R' || p[1] == 'T')) {
		frame->flags |= p[1] == 'R' ? NOD_FRAME_RECEIVED : NOD_FRAME_SENT;
		p += 2;
	}
	p += *p == '\r';
	return p == end;
}

/* The data of hex.digits digits, zero behind them. */
static inline void store(uint8_t *data, struct nod_hex16 hex)
{
	uint64_t word = hex.bytes & first_bytes(hex.digits / 2);
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
	word = __builtin_bswap64(word);
#endif
	memcpy(data, &word, sizeof(word));
}

/* '#', flags and up to 64 bytes of a CAN FD frame; the first '#' is taken. */
static bool quick_fd(const char *p, const char *end, struct nod_frame *frame)
{
	int flags = nod_scan_hex(p[1]);
	unsigned digits = 16, length = 0;

	for (p += 2; digits == 16 && length < 64; p += digits) {
		struct nod_hex16 hex = nod_hex16(p);
		store(frame->data + length, hex);
		digits = hex.digits;
		length += digits / 2;
		if (digits % 2)
			return false;
	}
	if (flags < 0 || !nod_scan_fd_length(length))
		return false;
	frame->flags = (uint8_t)(NOD_FRAME_FD | (flags & (NOD_FRAME_BRS | NOD_FRAME_ESI)));
	frame->length = (uint8_t)length;
	return quick_end(p, end, frame);
}

/* The payload and the rest of the line, which mostly is nothing. */
static inline bool quick_data(const char *p, const char *end, struct nod_frame *frame)
{
	struct nod_hex16 hex = nod_hex16(p);

	frame->flags = frame->raw_dlc = 0;
	frame->length = (uint8_t)(hex.digits / 2);
	store(frame->data, hex);
	if (*p == '#')
		return quick_fd(p, end, frame);
	if (hex.digits % 2)
		return false;
	p += hex.digits;
	return __builtin_expect(p == end, 1) || quick_end(p, end, frame);
}

/* The newline behind p, which mostly is near. It is searched for first: so the next line can
 * be begun while this one is still being read. */
static inline const char *quick_newline(const char *p)
{
	const char *newline = nod_near_newline(p);

	return __builtin_expect(newline != NULL, 1) ? newline
						    : memchr(p + 32, '\n', NOD_CANDUMP_WINDOW - 80);
}

static inline const char *quick_line(const struct nod_candump *candump, const char *p,
				     struct nod_frame *frame)
{
	if (!(p = quick_time(candump, p, &frame->time)))
		return NULL;
	const char *end = quick_newline(p);
	for (int padding = 0; *p == ' ' && padding < 15; padding++)
		p++;
	if (!(p = quick_interface(candump, p, &frame->interface)))
		return NULL;
	if (!(p = quick_id(p, &frame->id)))
		return NULL;
	return quick_data(p, end, frame) ? end + 1 : NULL;
}

size_t nod_candump_parse_quickly(const struct nod_candump *candump, const char **text,
				 const char *end, struct nod_frame *frames, size_t room)
{
	const char *p = *text, *next;
	const struct nod_frame *enough = frames + room;
	struct nod_frame *frame = frames;

	if (end - p < (ptrdiff_t)NOD_CANDUMP_WINDOW)
		return 0;
	for (end -= NOD_CANDUMP_WINDOW; frame < enough && p <= end; frame++, p = next)
		if (!(next = quick_line(candump, p, frame)))
			break;
	*text = p;
	return (size_t)(frame - frames);
}
