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

static void print_walks(void)
{
	printf("static const uint16_t walks[STATES * 256] = {\n");
	for (unsigned state = 0; state < STATES; state++)
		for (unsigned byte = 0; byte < 256; byte++) {
			bool exists = STATE_RUN(state) >= 1 && STATE_RUN(state) <= 5;
			unsigned to = exists ? step(state, byte) : 0;
			printf("0x%03X,%s", (to & STEP_STATE_MASK) << WALK_STATE_SHIFT |
			       (to >> STEP_STUFF_SHIFT & 3u), byte % 16 == 15 ? "\n" : " ");
		}
	printf("};\n");
}

int main(void)
{
	printf("/* Made by frame-bits-tables.c at build time. */\n");
	print_crc();
	print_steps();
	print_walks();
	return 0;
}
