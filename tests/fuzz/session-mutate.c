/* SPDX-License-Identifier: MIT */
/* Changes the input of fuzz-session as what it is: files of lines, with times and numbers in
 * them. Half of the changes are libFuzzer's own; the others take a line and repeat, move or drop
 * it, put another kind of line beside it, or put another number for one of its own: small, huge,
 * or one that stands elsewhere in the input, so that times of different files meet. */
#include "fuzz.h"

size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t max_size);
size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t max_size, unsigned seed);

/* Where sums, products and conversions end: int64 in nanoseconds, in microseconds, in seconds; a
 * century; and what is plausible. */
static const char *const numbers[] = {"0",
				      "1",
				      "-1",
				      "+1",
				      "0.000001",
				      "0.25",
				      "2.5",
				      "60",
				      "300",
				      "3600",
				      "86400",
				      "4294967295",
				      "4294967296",
				      "2147483648",
				      "9223372036",
				      "-9223372036",
				      "9223372036.854775807",
				      "9223372037",
				      "9223372036854775807",
				      "-9223372036854775808",
				      "18446744073709551616",
				      "1700000000.000000",
				      "1700000000.000001",
				      "1699999999.999999",
				      "1700003600.000000",
				      "4611686018.427387",
				      "99999999999999999999",
				      "1e308",
				      "nan",
				      "3153600000"};

/* Of each file of a session; `T` becomes a time of the input. */
static const char *const lines[] = {
	"(T) can0 123#1122334455667788",
	"(T) can1 123#00",
	"(T) can0 500#0102",
	"(T) can0 18FEF100#FF",
	"(T) can0 7FF#R",
	"(T) can0 123##1AABBCC",
	"(T) can0 20000004#0004000000000000",
	"(T) can0 200000C0#0000000000000000",
	"DROPCOUNT: dropped 5 CAN frames on 'can0' socket (total drops 5)",
	"# clock-step: +3600 s",
	"# clock-step: -9223372036 s",
	"# ended: T",
	"# started: T",
	"(T) locked",
	"(T) unlocked",
	"(T) ignition on",
	"(T) ignition off",
	"(T) door opened",
	"(T) isolated F1",
	"(T) refitted F1",
	"(T) touched F1",
	"(T) reading 2.3 mV across F1",
	"(T) note x",
	"(T) gap all 9223372036 s",
	"(T) gap can0 12.5 s",
	"(T) gap all T s",
	"(T) not listening can0",
	"(T) clock step +3600 s",
	"(T) clock step -9223372036 s",
	"(T) clock step T s",
	"(T) zeroed",
	"(T) tester on",
	"(T) tester off",
	"(T) nothing done",
	"(T) 0.020000 A",
	"(T) -0.5 A",
	"(T) 9223372036854.775807 A",
	"(T) 5 A",
	"networks:",
	"  b: { interfaces: [can0], sleeps within: 10 s, quiet time: 1 s }",
	"modules:",
	"  m: { networks: [b], ids: [\"123\"], fuses: [F1] }",
	"fuses:",
	"  F1: { rating: 10 A, feeds: [m] }",
	"locked: T",
	"=0",
	"=1",
	"=2",
	"=3",
	"=4",
	"=5",
	"=6"};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define TEXT_MAX 256

/* The input while it is changed. */
struct text {
	uint8_t *bytes;
	size_t size, room;
	unsigned random;
};

static size_t below(struct text *text, size_t limit)
{
	text->random = text->random * 1664525 + 1013904223;
	return limit ? (text->random >> 8) % limit : 0;
}

/* Puts `size` bytes for `gone` of those at `at`. */
static void replace(struct text *text, size_t at, size_t gone, const char *bytes, size_t size)
{
	if (text->size - gone + size > text->room)
		return;
	memmove(text->bytes + at + size, text->bytes + at + gone, text->size - at - gone);
	memcpy(text->bytes + at, bytes, size);
	text->size = text->size - gone + size;
}

/* Beginning and length (with its end) of a line. */
static size_t any_line(struct text *text, size_t *length)
{
	size_t at = below(text, text->size), end = at;

	while (at && text->bytes[at - 1] != '\n')
		at--;
	while (end < text->size && text->bytes[end++] != '\n')
		continue;
	*length = end - at;
	return at;
}

static bool in_number(uint8_t c)
{
	return (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '+';
}

/* The first number behind some place of the input; length 0: none. */
static size_t any_number(struct text *text, size_t *length)
{
	size_t at = below(text, text->size), end;

	while (at < text->size && !in_number(text->bytes[at]))
		at++;
	for (end = at; end < text->size && in_number(text->bytes[end]);)
		end++;
	*length = end - at;
	return at;
}

/* One of the table, or one that stands in the input. */
static size_t choose_number(struct text *text, char number[TEXT_MAX])
{
	size_t length, at = any_number(text, &length);

	if (below(text, 3) && length && length < TEXT_MAX) {
		memcpy(number, text->bytes + at, length);
		return length;
	}
	return (size_t)snprintf(number, TEXT_MAX, "%s", numbers[below(text, COUNT(numbers))]);
}

static void change_number(struct text *text)
{
	char number[TEXT_MAX];
	size_t size = choose_number(text, number), length, at = any_number(text, &length);

	replace(text, at, length, number, size);
}

static void add_line(struct text *text)
{
	char line[TEXT_MAX * 2] = "";
	const char *form = lines[below(text, COUNT(lines))];
	size_t length, size = 0, at = any_line(text, &length);

	for (; *form && size < TEXT_MAX; form++) {
		if (*form == 'T')
			size += choose_number(text, line + size);
		else
			line[size++] = *form;
	}
	line[size++] = '\n';
	replace(text, at, 0, line, size);
}

/* A line again elsewhere, or there instead of here. */
static void copy_line(struct text *text, bool move)
{
	char line[TEXT_MAX];
	size_t length, other, at = any_line(text, &length);

	if (length > sizeof(line))
		return;
	memcpy(line, text->bytes + at, length);
	if (move)
		replace(text, at, length, "", 0);
	at = any_line(text, &other);
	replace(text, at, 0, line, length);
}

static void drop_line(struct text *text)
{
	size_t length, at = any_line(text, &length);

	replace(text, at, length, "", 0);
}

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t max_size, unsigned seed)
{
	struct text text = {data, size, max_size, seed};

	if (!size || seed % 2)
		return LLVMFuzzerMutate(data, size, max_size);
	for (size_t changes = 1 + below(&text, 4); changes && text.size; changes--) {
		switch (below(&text, 8)) {
		case 0:
			drop_line(&text);
			break;
		case 1:
			copy_line(&text, true);
			break;
		case 2:
			copy_line(&text, false);
			break;
		case 3:
		case 4:
			add_line(&text);
			break;
		default:
			change_number(&text);
		}
	}
	return text.size ? text.size : LLVMFuzzerMutate(data, size, max_size);
}
