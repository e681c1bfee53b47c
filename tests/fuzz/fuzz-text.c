/* SPDX-License-Identifier: MIT */
/* Captures that are text, of both forms, through the source that reads them. */
#include "fuzz-source.h"

/* True for the beginnings that nod_source_open_reader() hands to others. */
static bool is_other(const uint8_t *data, size_t size)
{
	static const uint8_t other[][4] = {
		{0x1F, 0x8B, 8}, {0x28, 0xB5, 0x2F, 0xFD}, {0x0A, 0x0D, 0x0D, 0x0A}};

	for (size_t i = 0; size >= 4 && i < 3; i++)
		if (!memcmp(data, other[i], i ? 4 : 3))
			return true;
	return size >= 4 && (data[0] & 0xF0) == 0x50 && !memcmp(data + 1, "\x2A\x4D\x18", 3);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	if (!is_other(data, size))
		fuzz_read_twice(data, size, UINT64_MAX);
	return 0;
}
