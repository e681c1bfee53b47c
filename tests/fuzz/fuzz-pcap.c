/* SPDX-License-Identifier: MIT */
/* Captures of libpcap's form. The first byte chooses a header: most of what can
 * be in the header is refused at once, and the packets are what matters. */
#include "fuzz-source.h"

#define HEADER 24

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const uint8_t magics[6][4] = {{0xD4, 0xC3, 0xB2, 0xA1}, {0xA1, 0xB2, 0xC3, 0xD4},
					     {0x4D, 0x3C, 0xB2, 0xA1}, {0xA1, 0xB2, 0x3C, 0x4D},
					     {0xA1, 0xB2, 0xCD, 0x34}, {0x34, 0xCD, 0xB2, 0xA1}};
	static const uint8_t headers[2][20] = {
		{2, 0, 4, 0, [13] = 0, [14] = 4, [16] = 227}, /* lowest byte first */
		{0, 2, 0, 4, [13] = 4, [19] = 227},
	};
	uint8_t *capture;

	if (!size)
		return 0;
	if (data[0] > 3) { /* the whole file is the input's */
		for (int i = 0; size > 4 && i < 6; i++)
			if (!memcmp(data, magics[i], 4)) /* else it is text */
				fuzz_read_twice(data, size, 10000);
		return 0;
	}
	capture = malloc(HEADER + size - 1);
	if (!capture)
		abort();
	memcpy(capture, magics[data[0]], 4);
	memcpy(capture + 4, headers[data[0] % 2], 20);
	memcpy(capture + HEADER, data + 1, size - 1);
	fuzz_read_twice(capture, HEADER + size - 1, 10000);
	free(capture);
	return 0;
}
