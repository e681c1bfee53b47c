/* SPDX-License-Identifier: MIT */
#include "signal-value.h"

#include <inttypes.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* More states than this are a measured value whose table only names a few of
 * them ("invalid"). Chosen: on/off/error/not available and a door's positions fit. */
#define SWITCH_BITS_MAX 3

struct nod_signal nod_signal_default(void)
{
	return (struct nod_signal){.bits = 1, .factor = 1, .selector = -1};
}

/* Little byte order counts up through bits and bytes. In big byte order the highest
 * bit stands at start, then down to bit 0 of its byte, then from bit 7 of the
 * next one; numbered so that bits follow each other, byte b bit n is 8 b + 7 - n. */
unsigned nod_signal_bit(const struct nod_signal *signal, unsigned i)
{
	if (!signal->big_endian)
		return signal->start + i;
	unsigned highest = (signal->start & ~7u) + 7 - (signal->start & 7);
	unsigned place = highest + signal->bits - 1 - i;
	return (place & ~7u) + 7 - (place & 7);
}

static unsigned last_byte(const struct nod_signal *signal)
{
	return nod_signal_bit(signal, signal->big_endian ? 0 : signal->bits - 1) / 8;
}

bool nod_signal_raw(const struct nod_signal *signal, const uint8_t *data, size_t length,
		    uint64_t *raw)
{
	uint64_t value = 0;

	if (last_byte(signal) >= length)
		return false;
	for (unsigned i = 0; i < signal->bits; i++) {
		unsigned bit = nod_signal_bit(signal, i);
		value |= (uint64_t)(data[bit / 8] >> bit % 8 & 1) << i;
	}
	*raw = value;
	return true;
}

bool nod_signal_raw_of_word(const struct nod_signal *signal, uint64_t word, unsigned length,
			    uint64_t *raw)
{
	uint8_t data[8];

	for (unsigned i = 0; i < 8; i++)
		data[i] = (uint8_t)(word >> 8 * i);
	return nod_signal_raw(signal, data, length < 8 ? length : 8, raw);
}

static bool is_selected(const struct nod_signal *signal, uint64_t raw)
{
	for (size_t i = 0; i < signal->selected_count; i++)
		if (raw >= signal->selected[i].first && raw <= signal->selected[i].last)
			return true;
	return false;
}

bool nod_signal_present(const struct nod_message *message, const struct nod_signal *signal,
			const uint8_t *data, size_t length)
{
	uint64_t raw;

	for (size_t depth = 0; signal->selector >= 0; depth++) {
		const struct nod_signal *selector = &message->signals[signal->selector];
		if (depth > message->signal_count ||
		    !nod_signal_raw(selector, data, length, &raw) || !is_selected(signal, raw))
			return false;
		signal = selector;
	}
	return true;
}

int64_t nod_signal_integer(const struct nod_signal *signal, uint64_t raw)
{
	uint64_t sign = UINT64_C(1) << (signal->bits - 1);

	if (signal->type == NOD_SIGNAL_SIGNED && raw & sign)
		raw |= ~(sign - 1);
	return (int64_t)raw;
}

static double as_float(const struct nod_signal *signal, uint64_t raw)
{
	uint32_t half = (uint32_t)raw;
	float single;
	double number;

	if (signal->bits == 32) {
		memcpy(&single, &half, sizeof(single));
		return (double)single;
	}
	memcpy(&number, &raw, sizeof(number));
	return number;
}

double nod_signal_value(const struct nod_signal *signal, uint64_t raw)
{
	double number = signal->type == NOD_SIGNAL_FLOAT ? as_float(signal, raw)
			: signal->type == NOD_SIGNAL_SIGNED
				? (double)nod_signal_integer(signal, raw)
				: (double)raw;

	return number * signal->factor + signal->offset;
}

const char *nod_signal_text(const struct nod_signal *signal, uint64_t raw)
{
	int64_t number = nod_signal_integer(signal, raw);

	for (size_t i = 0; i < signal->value_count; i++)
		if (signal->values[i].raw == number)
			return signal->values[i].text;
	return NULL;
}

/* Whole numbers as they are: a double would lose digits of 64 bits. */
static bool is_plain(const struct nod_signal *signal)
{
	return signal->type != NOD_SIGNAL_FLOAT && signal->factor == 1 && signal->offset == 0;
}

char *nod_signal_print(char *buf, size_t size, const struct nod_signal *signal, uint64_t raw)
{
	const char *text = nod_signal_text(signal, raw), *unit = signal->unit ? signal->unit : "";
	char number[NOD_NUMBER_TEXT];

	if (text) {
		snprintf(buf, size, "%s", text);
		return buf;
	}
	if (is_plain(signal) && signal->type == NOD_SIGNAL_SIGNED)
		snprintf(number, sizeof(number), "%" PRId64, nod_signal_integer(signal, raw));
	else if (is_plain(signal))
		snprintf(number, sizeof(number), "%" PRIu64, raw);
	else /* twelve digits: beyond what any sensor measures, and free of 0.1 + 0.2 */
		snprintf(number, sizeof(number), "%.12g", nod_signal_value(signal, raw));
	snprintf(buf, size, "%s%s%s", number, *unit ? " " : "", unit);
	return buf;
}

uint64_t nod_signal_mask(const struct nod_signal *signal)
{
	uint64_t mask = 0;

	for (unsigned i = 0; i < signal->bits; i++) {
		unsigned bit = nod_signal_bit(signal, i);
		mask |= bit < 64 ? UINT64_C(1) << bit : 0;
	}
	return mask;
}

bool nod_signal_is_switch(const struct nod_signal *signal)
{
	return signal->type != NOD_SIGNAL_FLOAT &&
	       (signal->bits == 1 || (signal->bits <= SWITCH_BITS_MAX && signal->value_count));
}

/* Whole numbers below are written without an exponent: a double holds them exactly. */
#define WHOLE_MOST 1e15

char *nod_number_print(char buf[NOD_NUMBER_TEXT], double number)
{
	if (fabs(number) < WHOLE_MOST && number == floor(number)) {
		snprintf(buf, NOD_NUMBER_TEXT, "%.0f", number == 0 ? 0.0 : number);
		return buf;
	}
	for (int digits = 1; digits <= 17; digits++) {
		snprintf(buf, NOD_NUMBER_TEXT, "%.*g", digits, number);
		if (strtod(buf, NULL) == number)
			break;
	}
	for (char *c = buf; *c; c++)
		*c = *c == ',' ? '.' : *c; /* the point of the user's language */
	return buf;
}

static const char *skip_digits(const char *text, bool *found)
{
	size_t digits = strspn(text, "0123456789");

	*found |= digits > 0;
	return text + digits;
}

static bool looks_like_number(const char *text)
{
	bool digits = false, exponent = false;

	text += *text == '+' || *text == '-';
	text = skip_digits(text, &digits);
	if (*text == '.')
		text = skip_digits(text + 1, &digits);
	if (digits && (*text == 'e' || *text == 'E')) {
		text++;
		text += *text == '+' || *text == '-';
		text = skip_digits(text, &exponent);
		digits = exponent;
	}
	return digits && !*text;
}

bool nod_number_parse(double *number, const char *text)
{
	char copy[3 * NOD_NUMBER_TEXT];
	char *point;

	if (!looks_like_number(text) || strlen(text) >= sizeof(copy))
		return false;
	strcpy(copy, text);
	point = strchr(copy, '.');
	if (point)
		*point = localeconv()->decimal_point[0];
	*number = strtod(copy, NULL);
	return isfinite(*number);
}
