/* SPDX-License-Identifier: MIT */
#include "connector.h"

#include <stddef.h>

/* Two published pin lists of the connector agree on this table; one puts a
 * low speed CANL on pin 9, which the others contradict: 9 is the maker's. */
static const char discretionary[] = "the car maker's choice";

static const char *const pins[NOD_CONNECTOR_PINS + 1] = {
	[1] = discretionary,   [2] = "J1850 bus +",
	[3] = discretionary,   [4] = "chassis ground",
	[5] = "signal ground", [6] = "CANH (ISO 15765-4, SAE J2284)",
	[7] = "K line",        [8] = discretionary,
	[9] = discretionary,   [10] = "J1850 bus - (PWM only)",
	[11] = discretionary,  [12] = discretionary,
	[13] = discretionary,  [14] = "CANL (ISO 15765-4, SAE J2284)",
	[15] = "L line",       [16] = "battery +, unswitched",
};

const char *nod_connector_pin(int pin)
{
	return pin >= 1 && pin <= NOD_CONNECTOR_PINS ? pins[pin] : NULL;
}

bool nod_connector_pin_is_discretionary(int pin)
{
	return nod_connector_pin(pin) == discretionary;
}
