/* SPDX-License-Identifier: MIT */
/* Captures in pcapng form; a section header is put in front of what does not
 * begin with one. */
#include "fuzz-source.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const uint8_t section[28] = {0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0,    0,    0x4D, 0x3C,
					    0x2B, 0x1A, 1,    0,    0,  0, 0xFF, 0xFF, 0xFF, 0xFF,
					    0xFF, 0xFF, 0xFF, 0xFF, 28, 0, 0,    0};
	uint8_t *capture;

	if (size >= 4 && !memcmp(data, section, 4)) {
		fuzz_read_twice(data, size, 10000);
		return 0;
	}
	capture = malloc(sizeof(section) + size);
	if (!capture)
		abort();
	memcpy(capture, section, sizeof(section));
	if (size)
		memcpy(capture + sizeof(section), data, size);
	fuzz_read_twice(capture, sizeof(section) + size, 10000);
	free(capture);
	return 0;
}
