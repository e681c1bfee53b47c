/* SPDX-License-Identifier: MIT */
/* Logs of other tools. The first byte chooses the form, whose header is put in front: most of
 * what can stand there is refused at once. BLF comes as objects in one container, or as they are. */
#include "fuzz-source.h"

#define BLF_HEADER 144

static void read_behind(const void *head, size_t head_size, const uint8_t *data, size_t size)
{
	uint8_t *capture = malloc(head_size + size);

	if (!capture)
		abort();
	memcpy(capture, head, head_size);
	if (size)
		memcpy(capture + head_size, data, size);
	fuzz_read_twice(capture, head_size + size, 10000);
	free(capture);
}

static void put32(uint8_t *to, size_t value)
{
	for (unsigned i = 0; i < 4; i++)
		to[i] = (uint8_t)(value >> 8 * i);
}

static void read_blf(const uint8_t *data, size_t size, bool contained)
{
	uint8_t head[BLF_HEADER + 32] = {'L', 'O', 'G', 'G', BLF_HEADER};

	memcpy(head + BLF_HEADER, "LOBJ\x10\0\x01\0", 8);
	put32(head + BLF_HEADER + 8, size + 32);
	put32(head + BLF_HEADER + 12, 10);
	put32(head + BLF_HEADER + 24, size);
	read_behind(head, contained ? sizeof(head) : BLF_HEADER, data, size);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	/* clang-format off */
	static const char *const heads[] = {
		"", "base hex  timestamps absolute\n", "base dec timestamps relative\n", ";######\n",
		";$FILEVERSION=1.1\n", ";$FILEVERSION=1.3\n", ";$FILEVERSION=2.0\n",
		";$FILEVERSION=2.1\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n",
		"timestamp,arbitration_id,extended,remote,error,dlc,data\n",
		"Time Stamp,ID,Extended,Dir,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8\n",
		"Time (ms);CAN ID;Data\n", "t1232AABBEA5F\n", "23:59:59.75 -> t1231AA\n"};
	/* clang-format on */
	const size_t count = sizeof(heads) / sizeof(heads[0]);

	if (!size)
		return 0;
	if (data[0] < count)
		read_behind(heads[data[0]], strlen(heads[data[0]]), data + 1, size - 1);
	else
		read_blf(data + 1, size - 1, data[0] % 2);
	return 0;
}
