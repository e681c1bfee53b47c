/* SPDX-License-Identifier: MIT */
/* Reading a signal out of a payload, and its value for people. */
#ifndef NOD_SIGNAL_VALUE_H
#define NOD_SIGNAL_VALUE_H

#include "message.h"

/* One with the values that stand for "not given". */
struct nod_signal nod_signal_default(void);

/* The raw bits, the lowest one lowest. False when the payload ends before the
 * signal does. */
bool nod_signal_raw(const struct nod_signal *signal, const uint8_t *data, size_t length,
		    uint64_t *raw);

/* True when the signal is in this frame: its selector, and theirs, have values
 * that it is sent with. */
bool nod_signal_present(const struct nod_message *message, const struct nod_signal *signal,
			const uint8_t *data, size_t length);

/* As the type reads the raw bits: sign-extended where it is signed. */
int64_t nod_signal_integer(const struct nod_signal *signal, uint64_t raw);

/* raw * factor + offset. */
double nod_signal_value(const struct nod_signal *signal, uint64_t raw);

/* The text of the value table, NULL when it has none for this value. */
const char *nod_signal_text(const struct nod_signal *signal, uint64_t raw);

/* "open", or the number with its unit: "12.5 V". Returns buf. */
char *nod_signal_print(char *buf, size_t size, const struct nod_signal *signal, uint64_t raw);

/* Calls for each payload bit of the signal, lowest first: bit numbers as in
 * struct nod_signal.start; `i` counts from 0. */
unsigned nod_signal_bit(const struct nod_signal *signal, unsigned i);

/* Its bits among the first 64 of the payload, bit 0: bit 0 of byte 0. */
uint64_t nod_signal_mask(const struct nod_signal *signal);

/* The first 8 bytes of a frame as one word (byte 0 lowest) in place of a payload. */
bool nod_signal_raw_of_word(const struct nod_signal *signal, uint64_t word, unsigned length,
			    uint64_t *raw);

/* True for what a switch, a lamp or a request looks like: one bit, or a few
 * whose values have names. */
bool nod_signal_is_switch(const struct nod_signal *signal);

/* Number as short as reads back to the same double; never an exponent with a
 * decimal comma. Returns buf. */
#define NOD_NUMBER_TEXT 32
char *nod_number_print(char buf[NOD_NUMBER_TEXT], double number);

/* "[+-]12.5e-3" and nothing else, whatever the user's language. False when it is none
 * or beyond what a double holds. */
bool nod_number_parse(double *number, const char *text);

/* Frees what they own, not themselves. */
void nod_signal_clear(struct nod_signal *signal);
void nod_message_clear(struct nod_message *message);

#endif
