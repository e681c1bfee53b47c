/* SPDX-License-Identifier: MIT */
/* The pins of the diagnostic connector (SAE J1962): what each carries, and
 * which ones to measure for a CAN network. */
#ifndef NOD_CONNECTOR_H
#define NOD_CONNECTOR_H

#include <stdbool.h>

#define NOD_CONNECTOR_PINS 16

/* Pins every measurement at the connector needs. */
#define NOD_PIN_CHASSIS_GROUND 4
#define NOD_PIN_SIGNAL_GROUND 5
#define NOD_PIN_CANH 6
#define NOD_PIN_CANL 14
#define NOD_PIN_BATTERY 16

/* What pin 1..16 carries; NULL for another number. */
const char *nod_connector_pin(int pin);

/* True when the car's maker may use the pin for anything, CAN included. */
bool nod_connector_pin_is_discretionary(int pin);

#endif
