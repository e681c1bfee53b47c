/* SPDX-License-Identifier: MIT */
/* A bitrate as people write it: "500000", "500k", "33.3k", "500 kbit/s", "1M". */
#ifndef NOD_BITRATE_H
#define NOD_BITRATE_H

#include <stdbool.h>
#include <stdint.h>

/* Bit/s of the whole text. False when it is none. */
bool nod_bitrate_parse(uint64_t *bitrate, const char *text);

#endif
