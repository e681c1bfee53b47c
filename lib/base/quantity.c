/* SPDX-License-Identifier: MIT */
#include "quantity.h"
#include "wide-product.h"

#include <errno.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Bytes of a blank at the start of the text: space, tab, or one of the
 * no-break spaces that programs put between number and unit. */
static size_t blank(const char *text, size_t length)
{
	if (length >= 1 && (*text == ' ' || *text == '\t'))
		return 1;
	if (length >= 2 && !memcmp(text, "\xc2\xa0", 2))
		return 2;
	if (length >= 3 && !memcmp(text, "\xe2\x80\xaf", 3))
		return 3;
	return 0;
}

static void skip_blanks(const char **text, size_t *length)
{
	for (size_t n; (n = blank(*text, *length)) > 0;) {
		*text += n;
		*length -= n;
	}
	while (*length && ((*text)[*length - 1] == ' ' || (*text)[*length - 1] == '\t'))
		(*length)--;
}

/* digits x 10^exponent; magnitude only. */
struct decimal {
	uint64_t digits;
	int exponent;
	size_t whole, fraction; /* how many digits stood before and after the mark */
	bool negative, leading_zero;
	char mark; /* '.', ',' or 0 */
};

#define MAX_DIGITS 18 /* fits uint64_t with room */
#define MAX_EXPONENT 30

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* Takes digits; returns how many, or -ERANGE. */
static int take_digits(struct decimal *d, const char **text, size_t *length)
{
	int count = 0;

	for (; *length && is_digit(**text); (*text)++, (*length)--, count++) {
		if (d->digits >= UINT64_C(100000000000000000))
			return -ERANGE;
		d->digits = d->digits * 10 + (uint64_t)(**text - '0');
	}
	return count > MAX_DIGITS ? -ERANGE : count;
}

static int take_exponent(struct decimal *d, const char **text, size_t *length)
{
	const char *t = *text;
	size_t n = *length;
	int value = 0, sign = 1;

	if (n < 2 || (*t != 'e' && *t != 'E'))
		return 0;
	t++, n--;
	if (*t == '-' || *t == '+') {
		sign = *t == '-' ? -1 : 1;
		t++, n--;
	}
	if (!n || !is_digit(*t))
		return 0; /* not an exponent; the unit parser judges it */
	for (; n && is_digit(*t); t++, n--) {
		value = value * 10 + (*t - '0');
		if (value > MAX_EXPONENT)
			return -ERANGE;
	}
	d->exponent += sign * value;
	*text = t;
	*length = n;
	return 0;
}

/* How many groups of three digits, each behind the same mark, follow a number of up to three
 * digits and stand before the other mark: "1,234.5" has one, and cannot be read otherwise. */
static size_t groups_before_mark(const char *text, size_t length)
{
	char separator = length ? *text : 0, mark = separator == ',' ? '.' : ',';
	size_t groups = 0;

	if (separator != ',' && separator != '.')
		return 0;
	while (length >= 4 && *text == separator && is_digit(text[1]) && is_digit(text[2]) &&
	       is_digit(text[3]))
		text += 4, length -= 4, groups++;
	return length >= 2 && *text == mark && is_digit(text[1]) ? groups : 0;
}

/* Takes the digits before the mark, and the groups of thousands behind them. */
static int take_whole(struct decimal *d, const char **text, size_t *length)
{
	int count = take_digits(d, text, length);
	size_t groups = count > 0 && count <= 3 ? groups_before_mark(*text, *length) : 0;

	for (; count > 0 && groups; groups--) {
		(*text)++, (*length)--;
		size_t rest = *length - 3, three = 3;
		int more = take_digits(d, text, &three);
		*length = rest;
		count = more < 0 ? more : count + more;
	}
	return count;
}

static int take_number(struct decimal *d, const char **text, size_t *length)
{
	int count;

	*d = (struct decimal){0};
	if (*length && (**text == '-' || **text == '+')) {
		d->negative = **text == '-';
		(*text)++, (*length)--;
	}
	d->leading_zero = *length && **text == '0';
	count = take_whole(d, text, length);
	if (count <= 0)
		return count ? count : -EINVAL;
	d->whole = (size_t)count;
	if (*length && (**text == '.' || **text == ',')) {
		d->mark = **text;
		(*text)++, (*length)--;
		count = take_digits(d, text, length);
		if (count <= 0)
			return count ? count : -EINVAL;
		d->fraction = (size_t)count;
		d->exponent = -count;
	}
	if (*length && (**text == '.' || **text == ','))
		return -EINVAL; /* a second mark */
	return take_exponent(d, text, length);
}

static int check_mark(const struct decimal *d, enum nod_decimal_mark mark, const char *text,
		      size_t length, struct nod_error *err)
{
	int shown = (int)(length > 60 ? 60 : length);

	if (mark == NOD_DECIMAL_POINT && d->mark == ',')
		return nod_error_set(err, EINVAL, "`%.*s` has a comma where a point is expected",
				     shown, text);
	if (mark == NOD_DECIMAL_COMMA && d->mark == '.')
		return nod_error_set(err, EINVAL, "`%.*s` has a point where a comma is expected",
				     shown, text);
	if (mark == NOD_DECIMAL_ANY && d->mark == ',' && d->fraction == 3 && d->whole <= 3 &&
	    !d->leading_zero)
		return nod_error_set(err, EINVAL,
				     "`%.*s` is ambiguous: the comma may be a decimal mark or "
				     "separate thousands; write a point, or no comma",
				     shown, text);
	return 0;
}

/* Tenths that are taken off at once, below 2^63. */
#define MOST_DIVIDED UINT64_C(1000000000000000000)

/* digits x 10^exponent x multiplier as a whole number. */
static int scale(int64_t *out, uint64_t digits, int exponent, int multiplier)
{
	struct nod_quotient value;
	uint64_t divisor = 1;

	if (!digits)
		exponent = 0;
	for (; exponent < 0 && divisor < MOST_DIVIDED; exponent++)
		divisor *= 10;
	if (!nod_multiply_divide(&value, digits, (unsigned)multiplier, divisor))
		return -ERANGE;
	if (exponent == 0 && divisor > 1 && value.rest >= divisor / 2)
		value.whole++; /* only the digit next to the last one decides the rounding */
	for (; exponent < -1; exponent++)
		value.whole /= 10;
	if (exponent == -1)
		value.whole = (value.whole + 5) / 10;
	for (; exponent > 0; exponent--)
		if (__builtin_mul_overflow(value.whole, 10, &value.whole))
			return -ERANGE;
	if (value.whole > INT64_MAX)
		return -ERANGE;
	*out = (int64_t)value.whole;
	return 0;
}

static int finish(struct nod_quantity *q, const struct decimal *d, int exponent, int multiplier)
{
	int rc = scale(&q->micro, d->digits, d->exponent + exponent, multiplier);

	if (rc)
		return rc;
	if (d->negative)
		q->micro = -q->micro;
	if (scale(&q->last_digit, 1, d->exponent + exponent, multiplier))
		q->last_digit = INT64_MAX;
	if (q->last_digit < 1)
		q->last_digit = 1;
	return 0;
}

static int not_a_value(int rc, const char *text, size_t length, struct nod_error *err)
{
	int shown = (int)(length > 60 ? 60 : length);

	if (rc == -ERANGE)
		return nod_error_set(err, ERANGE, "`%.*s` is too large or too long", shown, text);
	return nod_error_set(err, EINVAL, "`%.*s` is not a number with a unit such as 2.3 mV",
			     shown, text);
}

int nod_quantity_parse(struct nod_quantity *q, const char *text, size_t length,
		       enum nod_decimal_mark mark, struct nod_error *err)
{
	struct decimal d;
	int exponent = 6, multiplier = 1, rc;

	skip_blanks(&text, &length);
	const char *rest = text;
	size_t left = length;
	rc = take_number(&d, &rest, &left);
	if (rc)
		return not_a_value(rc, text, length, err);
	rc = check_mark(&d, mark, text, length, err);
	if (rc)
		return rc;
	skip_blanks(&rest, &left);
	q->unit = NOD_UNIT_NONE;
	if (left && nod_unit_parse(&q->unit, &exponent, &multiplier, rest, left))
		return nod_error_set(err, EINVAL,
				     "`%.*s`: `%.*s` is not a unit known here "
				     "(V, mV, A, mA, ohm, mOhm, Ah, s, min, h, %%, C)",
				     (int)(length > 60 ? 60 : length), text,
				     (int)(left > 20 ? 20 : left), rest);
	rc = finish(q, &d, exponent, multiplier);
	return rc ? not_a_value(rc, text, length, err) : 0;
}

static const struct {
	const char *name, *example;
} units[NOD_UNITS] = {
	[NOD_UNIT_NONE] = {"", "5"},
	[NOD_UNIT_VOLT] = {"V", "2.3 mV"},
	[NOD_UNIT_AMPERE] = {"A", "430 mA"},
	[NOD_UNIT_OHM] = {"ohm", "60 ohm"},
	[NOD_UNIT_AMPERE_HOUR] = {"Ah", "70 Ah"},
	[NOD_UNIT_SECOND] = {"s", "120 min"},
	[NOD_UNIT_PERCENT] = {"%", "22 %"},
	[NOD_UNIT_CELSIUS] = {"C", "25 C"},
};

int nod_quantity_parse_as(struct nod_quantity *q, const char *text, enum nod_unit unit,
			  const char *what, struct nod_error *err)
{
	struct nod_error inner = {""};
	int rc = nod_quantity_parse(q, text, strlen(text), NOD_DECIMAL_ANY, &inner);

	if (rc)
		return nod_error_set(err, -rc, "%s: %s", what, inner.text);
	if (q->unit == unit)
		return 0;
	return nod_error_set(err, EINVAL, "%s: `%.60s` is %s, expected a value such as %s", what,
			     text, q->unit == NOD_UNIT_NONE ? "without a unit" : "in another unit",
			     units[unit].example);
}

const char *nod_unit_name(enum nod_unit unit)
{
	return units[unit].name;
}

char *nod_quantity_print_fixed(char buf[NOD_QUANTITY_TEXT], int64_t micro, enum nod_unit unit,
			       int decimals)
{
	uint64_t magnitude = micro < 0 ? -(uint64_t)micro : (uint64_t)micro, unit_size = 1;
	uint64_t dropped = 1;

	for (int i = decimals; i < 6; i++)
		dropped *= 10;
	for (int i = 0; i < decimals; i++)
		unit_size *= 10;
	magnitude = (magnitude + dropped / 2) / dropped;
	const char *sign = micro < 0 && magnitude ? "-" : "";
	const char *space = unit == NOD_UNIT_NONE ? "" : " ";
	if (decimals)
		snprintf(buf, NOD_QUANTITY_TEXT, "%s%" PRIu64 ".%0*" PRIu64 "%s%s", sign,
			 magnitude / unit_size, decimals, magnitude % unit_size, space,
			 nod_unit_name(unit));
	else
		snprintf(buf, NOD_QUANTITY_TEXT, "%s%" PRIu64 "%s%s", sign, magnitude, space,
			 nod_unit_name(unit));
	return buf;
}

/* Decimals that leave three significant digits of a value given in
 * thousandths of what is printed. */
static int decimals_for(uint64_t thousandths)
{
	return thousandths < 9995 ? 2 : thousandths < 99950 ? 1 : 0;
}

char *nod_quantity_print(char buf[NOD_QUANTITY_TEXT], int64_t micro, enum nod_unit unit)
{
	uint64_t magnitude = micro < 0 ? -(uint64_t)micro : (uint64_t)micro;
	const char *sign = micro < 0 ? "-" : "", *name = nod_unit_name(unit);

	if (!magnitude || unit == NOD_UNIT_NONE || unit > NOD_UNIT_AMPERE_HOUR) {
		return nod_quantity_print_fixed(buf, micro, unit,
						magnitude ? decimals_for(magnitude / 1000) : 0);
	}
	if (magnitude < 1000) {
		snprintf(buf, NOD_QUANTITY_TEXT, "%s%" PRIu64 " u%s", sign, magnitude, name);
	} else if (magnitude < 999500) { /* milli; below, magnitude is thousandths of it */
		char number[NOD_QUANTITY_TEXT];
		nod_quantity_print_fixed(number, (int64_t)(magnitude * 1000), NOD_UNIT_NONE,
					 decimals_for(magnitude));
		snprintf(buf, NOD_QUANTITY_TEXT, "%s%.20s m%s", sign, number, name);
	} else {
		nod_quantity_print_fixed(buf, micro, unit, decimals_for(magnitude / 1000));
	}
	return buf;
}
