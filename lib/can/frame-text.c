/* SPDX-License-Identifier: MIT */
#include "frame-text.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static char *put_hex(char *p, uint32_t value, int digits)
{
	for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4)
		*p++ = "0123456789ABCDEF"[value >> shift & 15];
	return p;
}

/* Digits of a number that is not negative, with leading zeros. */
static char *put_decimal(char *p, uint64_t value, int digits)
{
	for (int i = digits - 1; i >= 0; i--, value /= 10)
		p[i] = (char)('0' + value % 10);
	return p + digits;
}

static char *put_time(char *p, nod_time time, int digits)
{
	if (time.ns < 0) { /* before the origin of the clock: no log has it */
		char text[NOD_TIME_TEXT];
		return p + sprintf(p, "(%s)", nod_time_print(text, time, digits ? digits : 9));
	}
	uint64_t seconds = (uint64_t)(time.ns / NOD_NS_PER_S);
	uint64_t ns = (uint64_t)(time.ns % NOD_NS_PER_S);

	*p++ = '(';
	p = put_decimal(p, seconds, 10);
	*p++ = '.';
	if (!digits)
		digits = ns % 1000 ? 9 : 6;
	p = digits == 9 ? put_decimal(p, ns, 9) : put_decimal(p, ns / 1000, 6);
	*p++ = ')';
	return p;
}

static char *put_payload(char *p, const struct nod_frame *frame)
{
	if (frame->id & NOD_ID_REMOTE) {
		*p++ = 'R';
		if (frame->length)
			*p++ = (char)('0' + frame->length);
	} else {
		if (frame->flags & NOD_FRAME_FD) {
			*p++ = '#';
			*p++ = (char)('0' + (frame->flags & (NOD_FRAME_BRS | NOD_FRAME_ESI)));
		}
		for (unsigned i = 0; i < frame->length; i++)
			p = put_hex(p, frame->data[i], 2);
	}
	if (frame->raw_dlc) {
		*p++ = '_';
		p = put_hex(p, frame->raw_dlc, 1);
	}
	return p;
}

size_t nod_frame_print(char buf[NOD_FRAME_TEXT], const struct nod_frame *frame,
		       const char *interface)
{
	return nod_frame_print_digits(buf, frame, interface, 0);
}

size_t nod_frame_print_digits(char buf[NOD_FRAME_TEXT], const struct nod_frame *frame,
			      const char *interface, int digits)
{
	bool wide = frame->id & (NOD_ID_EXTENDED | NOD_ID_ERROR);
	char *p = put_time(buf, frame->time, digits);

	*p++ = ' ';
	p = stpcpy(p, interface);
	*p++ = ' ';
	p = put_hex(p, frame->id & (NOD_ID_ERROR | NOD_ID_EXTENDED_MASK), wide ? 8 : 3);
	*p++ = '#';
	p = put_payload(p, frame);
	if (frame->flags & (NOD_FRAME_SENT | NOD_FRAME_RECEIVED))
		p = stpcpy(p, frame->flags & NOD_FRAME_SENT ? " T" : " R");
	*p++ = '\n';
	*p = '\0';
	return (size_t)(p - buf);
}
