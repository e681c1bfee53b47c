/* SPDX-License-Identifier: MIT */
/* A frame as a line of a candump log. */
#ifndef NOD_FRAME_TEXT_H
#define NOD_FRAME_TEXT_H

#include <stddef.h>

#include "frame.h"

/* Room for the longest line: time 24, name 16, ID 9, FD 3, 64 bytes, ends. */
#define NOD_FRAME_TEXT 192

/* Writes "(1700000000.123456) can0 123#1122\n" with its terminating zero:
 * 6 digits of a second when that is exact, else 9; bytes in capitals without
 * points; CAN FD flags in the older convention (0 to 3). `interface` has at
 * most 15 characters. Returns the length. */
size_t nod_frame_print(char buf[NOD_FRAME_TEXT], const struct nod_frame *frame,
		       const char *interface);

/* The same with 6 (cut toward the past) or 9 digits of a second whatever the time is; 0: as
 * above. */
size_t nod_frame_print_digits(char buf[NOD_FRAME_TEXT], const struct nod_frame *frame,
			      const char *interface, int digits);

#endif
