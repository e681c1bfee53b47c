/* SPDX-License-Identifier: MIT */
/* A measured value as a person or a logger writes it: "2.3 mV", "12,45 V",
 * "430mA", "60 ohm", "70 Ah", "120 min", "22 %".
 *
 * Values are whole millionths of the unit (uV, uA, uOhm, uAh, ...), parsed as
 * integers and never through a double. What is ambiguous is refused, not
 * guessed. */
#ifndef NOD_QUANTITY_H
#define NOD_QUANTITY_H

#include <stddef.h>
#include <stdint.h>

#include "error.h"

enum nod_unit {
	NOD_UNIT_NONE, /* the text carries no unit */
	NOD_UNIT_VOLT,
	NOD_UNIT_AMPERE,
	NOD_UNIT_OHM, /* also mV/A, the sensitivity of a clamp: 1 mV/A = 1 mOhm */
	NOD_UNIT_AMPERE_HOUR,
	NOD_UNIT_SECOND,
	NOD_UNIT_PERCENT,
	NOD_UNIT_CELSIUS,
	NOD_UNITS
};

struct nod_quantity {
	int64_t micro;      /* millionths of the unit, rounded half away from zero */
	int64_t last_digit; /* what one count of the last written digit is worth, in the
			     * same millionths (2.3 mV: 100 uV); at least 1 */
	enum nod_unit unit;
};

/* Which character may stand before the fraction. */
enum nod_decimal_mark {
	NOD_DECIMAL_ANY,   /* point, or a comma that cannot be a thousands separator:
			    * "12,45" and "0,430" are taken, "1,234" is refused */
	NOD_DECIMAL_POINT, /* a comma is refused */
	NOD_DECIMAL_COMMA  /* a point is refused; "1,234" is 1.234 */
};

/* Parses "[+-]NUMBER[EXPONENT][SPACE][UNIT]" from the first `length` bytes;
 * blanks around it are skipped, anything else is an error. Digits before the
 * decimal mark are required; thousands are separated only where that cannot be
 * misread: "1,234.5".
 * Returns 0, -EINVAL (not such a value) or -ERANGE (does not fit), with err
 * saying what was expected. */
int nod_quantity_parse(struct nod_quantity *q, const char *text, size_t length,
		       enum nod_decimal_mark mark, struct nod_error *err);

/* The same for a whole string that must be in `unit` and carry it; `what`
 * names the value in the message ("the clamp reading"). */
int nod_quantity_parse_as(struct nod_quantity *q, const char *text, enum nod_unit unit,
			  const char *what, struct nod_error *err);

/* Parses a unit alone ("mA", "mV/A", "Ohm"; also the micro and ohm signs).
 * *unit and the factor to millionths as multiplier x 10^exponent are set.
 * Returns 0 or -EINVAL. "MA" and "MV" are refused: M means mega. */
int nod_unit_parse(enum nod_unit *unit, int *exponent, int *multiplier, const char *text,
		   size_t length);

/* "V", "A", "ohm", "Ah", "s", "%", "C"; "" for none. ASCII. */
const char *nod_unit_name(enum nod_unit unit);

#define NOD_QUANTITY_TEXT 32

/* For people, three significant digits and a fitting prefix: "2.3 mV" is
 * "2.30 mV", "430 mA", "1.43 A", "0 A", "-13.0 mA". Returns buf. */
char *nod_quantity_print(char buf[NOD_QUANTITY_TEXT], int64_t micro, enum nod_unit unit);

/* Without a prefix, with `decimals` (0..6) fraction digits: "12.45 V".
 * Rounded half away from zero. Returns buf. */
char *nod_quantity_print_fixed(char buf[NOD_QUANTITY_TEXT], int64_t micro, enum nod_unit unit,
			       int decimals);

#endif
