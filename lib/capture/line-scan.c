/* SPDX-License-Identifier: MIT */
#include "line-scan.h"

#include <errno.h>
#include <string.h>

bool nod_scan_fail(struct nod_scan *scan, const char *reason)
{
	scan->fault = scan->p;
	scan->reason = reason;
	return false;
}

unsigned nod_scan_column(const struct nod_scan *scan)
{
	return (unsigned)(scan->fault - scan->begin) + 1;
}

size_t nod_scan_blanks(struct nod_scan *scan)
{
	const char *start = scan->p;
	while (scan->p < scan->end && (*scan->p == ' ' || *scan->p == '\t'))
		scan->p++;
	return (size_t)(scan->p - start);
}

bool nod_scan_char(struct nod_scan *scan, char c, const char *reason)
{
	if (scan->p == scan->end || *scan->p != c)
		return nod_scan_fail(scan, reason);
	scan->p++;
	return true;
}

bool nod_scan_text(struct nod_scan *scan, const char *text)
{
	size_t length = strlen(text);
	if ((size_t)(scan->end - scan->p) < length || memcmp(scan->p, text, length))
		return false;
	scan->p += length;
	return true;
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

bool nod_scan_number(struct nod_scan *scan, uint64_t limit, uint64_t *value, const char *reason)
{
	const char *p = scan->p;
	uint64_t sum = 0;

	for (; p < scan->end && is_digit(*p); p++)
		if (__builtin_mul_overflow(sum, 10, &sum) ||
		    __builtin_add_overflow(sum, (uint64_t)(*p - '0'), &sum) || sum > limit)
			return nod_scan_fail(scan, reason);
	if (p == scan->p)
		return nod_scan_fail(scan, reason);
	scan->p = p;
	*value = sum;
	return true;
}

bool nod_scan_fraction(struct nod_scan *scan, int64_t *ns)
{
	int64_t sum = 0;
	int digits = 0;

	if (!nod_scan_char(scan, '.', "expected a point and 1 to 9 digits of a second"))
		return false;
	for (; digits < 9 && is_digit(nod_scan_peek(scan)); digits++)
		sum = sum * 10 + (*scan->p++ - '0');
	if (!digits)
		return nod_scan_fail(scan, "expected 1 to 9 digits of a second");
	for (; digits < 9; digits++)
		sum *= 10;
	*ns = sum;
	return true;
}

/* Whole seconds that fit a nod_time whatever the fraction. */
#define SECONDS_LIMIT ((uint64_t)(INT64_MAX / NOD_NS_PER_S - 1))

bool nod_scan_time(struct nod_scan *scan, nod_time *time)
{
	uint64_t seconds;
	int64_t ns;

	if (!nod_scan_char(scan, '(', "expected a time in parentheses"))
		return false;
	nod_scan_blanks(scan); /* some loggers pad the seconds */
	if (!nod_scan_number(scan, SECONDS_LIMIT, &seconds,
			     "expected seconds, at most 9223372035") ||
	    !nod_scan_fraction(scan, &ns) ||
	    !nod_scan_char(scan, ')', "expected ')' behind 1 to 9 digits of a second"))
		return false;
	time->ns = (int64_t)seconds * NOD_NS_PER_S + ns;
	return true;
}

bool nod_scan_interface(struct nod_scan *scan, struct nod_interfaces *table, uint8_t *index)
{
	const char *p = scan->p;
	while (p < scan->end && *p != ' ' && *p != '\t')
		p++;
	int found = nod_interfaces_index(table, scan->p, (size_t)(p - scan->p));
	if (found == -ENOSPC)
		return nod_scan_fail(scan,
				     "more than " NOD_INTERFACES_TEXT " different interface names");
	if (found < 0)
		return nod_scan_fail(scan,
				     "expected an interface name of 1 to 15 printable characters");
	*index = (uint8_t)found;
	scan->p = p;
	return true;
}

int nod_scan_hex(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	c = (char)(c | 0x20);
	return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool nod_scan_id(struct nod_scan *scan, uint32_t *id)
{
	uint32_t value = 0;
	int digits = 0;

	for (; digits < 9 && nod_scan_hex(nod_scan_peek(scan)) >= 0; digits++, scan->p++)
		value = value << 4 | (uint32_t)nod_scan_hex(*scan->p);
	if (digits != 3 && digits != 8)
		return nod_scan_fail(scan, "expected an ID of 3 or 8 hexadecimal digits");
	bool error = digits == 8 && value & NOD_ID_ERROR;
	uint32_t limit = digits == 3 ? NOD_ID_STANDARD_MASK : NOD_ID_EXTENDED_MASK;
	if (value > (error ? NOD_ID_ERROR | NOD_ID_EXTENDED_MASK : limit)) {
		scan->p -= digits;
		return nod_scan_fail(scan, digits == 3 ? "a standard ID is at most 7FF"
						       : "an extended ID is at most 1FFFFFFF");
	}
	*id = digits == 8 && !error ? value | NOD_ID_EXTENDED : value;
	return true;
}

bool nod_scan_byte(struct nod_scan *scan, uint8_t *byte)
{
	int high = nod_scan_hex(nod_scan_peek(scan));
	if (high < 0)
		return nod_scan_fail(scan, "expected a hexadecimal digit");
	scan->p++;
	int low = nod_scan_hex(nod_scan_peek(scan));
	if (low < 0)
		return nod_scan_fail(scan, "expected the second digit of a byte");
	scan->p++;
	*byte = (uint8_t)(high << 4 | low);
	return true;
}

bool nod_scan_fd_length(unsigned length)
{
	return length <= 8 || length == 12 || length == 16 || length == 20 || length == 24 ||
	       length == 32 || length == 48 || length == 64;
}
