/* SPDX-License-Identifier: MIT */
/* Build-time program: prints the tables of frame-bits.c. See there for what
 * they mean. */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "frame-bits-tables.h"

/* CRC-15/CAN: x^15 + x^14 + x^10 + x^8 + x^7 + x^4 + x^3 + 1, initial value 0. */
#define CRC15_POLYNOMIAL 0x4599u

static unsigned crc15_byte(unsigned crc, unsigned byte)
{
	for (int bit = 7; bit >= 0; bit--) {
		unsigned next = (byte >> bit ^ crc >> 14) & 1u;
		crc = crc << 1 & 0x7FFFu;
		if (next)
			crc ^= CRC15_POLYNOMIAL;
	}
	return crc;
}

static void print_crc(void)
{
	printf("static const uint16_t crc_slices[CRC_SLICES][256] = {\n");
	for (int slice = 0; slice < CRC_SLICES; slice++) {
		printf("\t{");
		for (unsigned byte = 0; byte < 256; byte++) {
			unsigned crc = crc15_byte(0, byte);
			for (int i = 0; i < slice; i++)
				crc = crc15_byte(crc, 0);
			printf("%s0x%04X,", byte % 12 ? " " : "\n\t\t", crc);
		}
		printf("\n\t},\n");
	}
	printf("};\n\n");
}

/* Sends the 8 bits of a byte, highest first, from a state of the stuffing. */
static unsigned step(unsigned state, unsigned byte)
{
	unsigned last = STATE_BIT(state), run = STATE_RUN(state), stuff = 0, dominant = 0;

	for (int i = 7; i >= 0; i--) {
		unsigned bit = byte >> i & 1u;
		if (run == 5) {
			last ^= 1u;
			run = 1;
			stuff++;
			dominant += !last;
		}
		run = bit == last ? run + 1 : 1;
		last = bit;
		dominant += !bit;
	}
	return STATE(last, run) | stuff << STEP_STUFF_SHIFT | dominant << STEP_DOMINANT_SHIFT;
}

static void print_steps(void)
{
	printf("static const uint16_t stuff_steps[256][STATES] = {\n");
	for (unsigned byte = 0; byte < 256; byte++) {
		printf("\t{");
		for (unsigned state = 0; state < STATES; state++)
			printf("%s0x%04X", state ? ", " : "",
			       STATE_RUN(state) >= 1 && STATE_RUN(state) <= 5 ? step(state, byte)
									      : 0);
		printf("},\n");
	}
	printf("};\n");
}

/* The fields of same_steps: 8 bits, 1 where a bit is like the one before it, from a run. */
static uint64_t same_step(unsigned run, unsigned same)
{
	uint64_t stuff = 0;

	for (int i = 7; i >= 0; i--) {
		unsigned like = same >> i & 1u;
		if (run ==
		    5) { /* the stuff bit is unlike the last: what is like that is not like it */
			stuff++;
			run = like ? 1 : 2;
		} else {
			run = like ? run + 1 : 1;
		}
	}
	return SAME_RUN(run) | stuff << SAME_STUFF_SHIFT;
}

static void print_same_steps(void)
{
	printf("static const uint64_t same_steps[256] = {\n");
	for (unsigned same = 0; same < 256; same++) {
		uint64_t fields = 0;
		for (unsigned run = 1; run <= 5; run++)
			fields |= same_step(run, same) << SAME_RUN(run);
		printf("0x%015llX,%s", (unsigned long long)fields, same % 4 == 3 ? "\n" : " ");
	}
	printf("};\n");
}

/* When a bit is like the one before it instead of unlike it, it and all behind it turn. */
static unsigned crc_of_turned(unsigned byte, unsigned same)
{
	unsigned crc = 0;

	for (unsigned bit = 0; bit < 8; bit++) {
		uint64_t turned = UINT64_MAX >> (8 * byte + 7 - bit);
		unsigned of_this = 0;
		for (unsigned i = 0; i < WINDOW; i++)
			of_this = crc15_byte(of_this, turned >> 8 * (WINDOW - 1 - i) & 0xFF);
		crc ^= same >> bit & 1u ? of_this : 0;
	}
	return crc;
}

static void print_same_crcs(void)
{
	printf("static const uint16_t same_crcs[WINDOW][256] = {\n");
	for (unsigned byte = 0; byte < WINDOW; byte++) {
		printf("{");
		for (unsigned same = 0; same < 256; same++)
			printf("0x%04X,%s", crc_of_turned(byte, same),
			       same % 12 == 11 ? "\n" : " ");
		printf("},\n");
	}
	printf("};\n");
}

int main(void)
{
	printf("/* Made by frame-bits-tables.c at build time. */\n");
	print_crc();
	print_steps();
	print_same_steps();
	print_same_crcs();
	return 0;
}
