/* SPDX-License-Identifier: MIT */
/* The spellings of units. */
#include "quantity.h"

#include <errno.h>
#include <stdbool.h>
#include <string.h>

/* Spellings of units. A value in that unit times multiplier x 10^exponent is
 * in millionths of the base unit. Lower case is taken where nothing else is
 * written so; capital M is mega and therefore never milli. */
static const struct spelling {
	const char *text;
	enum nod_unit unit;
	int exponent, multiplier;
} spellings[] = {
	{"V", NOD_UNIT_VOLT, 6, 1},         {"v", NOD_UNIT_VOLT, 6, 1},
	{"mV", NOD_UNIT_VOLT, 3, 1},        {"mv", NOD_UNIT_VOLT, 3, 1},
	{"uV", NOD_UNIT_VOLT, 0, 1},        {"A", NOD_UNIT_AMPERE, 6, 1},
	{"a", NOD_UNIT_AMPERE, 6, 1},       {"mA", NOD_UNIT_AMPERE, 3, 1},
	{"ma", NOD_UNIT_AMPERE, 3, 1},      {"uA", NOD_UNIT_AMPERE, 0, 1},
	{"ohm", NOD_UNIT_OHM, 6, 1},        {"Ohm", NOD_UNIT_OHM, 6, 1},
	{"ohms", NOD_UNIT_OHM, 6, 1},       {"kohm", NOD_UNIT_OHM, 9, 1},
	{"kOhm", NOD_UNIT_OHM, 9, 1},       {"MOhm", NOD_UNIT_OHM, 12, 1},
	{"Mohm", NOD_UNIT_OHM, 12, 1},      {"mohm", NOD_UNIT_OHM, 3, 1},
	{"mOhm", NOD_UNIT_OHM, 3, 1},       {"uOhm", NOD_UNIT_OHM, 0, 1},
	{"V/A", NOD_UNIT_OHM, 6, 1},        {"mV/A", NOD_UNIT_OHM, 3, 1},
	{"mV/mA", NOD_UNIT_OHM, 6, 1},      {"Ah", NOD_UNIT_AMPERE_HOUR, 6, 1},
	{"ah", NOD_UNIT_AMPERE_HOUR, 6, 1}, {"mAh", NOD_UNIT_AMPERE_HOUR, 3, 1},
	{"s", NOD_UNIT_SECOND, 6, 1},       {"ms", NOD_UNIT_SECOND, 3, 1},
	{"min", NOD_UNIT_SECOND, 6, 60},    {"h", NOD_UNIT_SECOND, 6, 3600},
	{"d", NOD_UNIT_SECOND, 6, 86400},   {"%", NOD_UNIT_PERCENT, 6, 1},
	{"C", NOD_UNIT_CELSIUS, 6, 1},      {"degC", NOD_UNIT_CELSIUS, 6, 1},
};

/* Signs outside ASCII and what they stand for in the table above. */
static const struct {
	const char *sign, *ascii;
} signs[] = {
	{"\xc2\xb5", "u"},       /* micro sign */
	{"\xce\xbc", "u"},       /* Greek mu */
	{"\xe2\x84\xa6", "Ohm"}, /* ohm sign */
	{"\xce\xa9", "Ohm"},     /* Greek Omega */
	{"\xc2\xb0", "deg"},     /* degree */
};

#define UNIT_LENGTH 8

/* Copies a unit with its signs spelled in ASCII. False when it is too long. */
static bool unit_to_ascii(char out[UNIT_LENGTH], const char *text, size_t length)
{
	size_t used = 0;

	while (length) {
		const char *piece = text;
		size_t take = 1, add = 1;
		for (size_t i = 0; i < sizeof(signs) / sizeof(signs[0]); i++) {
			size_t n = strlen(signs[i].sign);
			if (length >= n && !memcmp(text, signs[i].sign, n)) {
				piece = signs[i].ascii;
				take = n;
				add = strlen(piece);
			}
		}
		if (used + add >= UNIT_LENGTH)
			return false;
		memcpy(out + used, piece, add);
		used += add;
		text += take;
		length -= take;
	}
	out[used] = '\0';
	return true;
}

int nod_unit_parse(enum nod_unit *unit, int *exponent, int *multiplier, const char *text,
		   size_t length)
{
	char name[UNIT_LENGTH];

	if (!unit_to_ascii(name, text, length))
		return -EINVAL;
	for (size_t i = 0; i < sizeof(spellings) / sizeof(spellings[0]); i++) {
		const struct spelling *s = &spellings[i];
		if (strcmp(name, s->text))
			continue;
		*unit = s->unit;
		*exponent = s->exponent;
		*multiplier = s->multiplier;
		return 0;
	}
	return -EINVAL;
}
