/* SPDX-License-Identifier: MIT */
/* Prints the nanoseconds per frame of what the engine does to each frame. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "diagnostic.h"
#include "frame-bits.h"
#include "nm-detect.h"
#include "payload-take.h"

#define FRAMES 4096
#define IDS 64
#define ROUNDS 1000

enum style { CONSTANT, COUNTING, MEASURING, STYLES };
static const char *const style_names[STYLES] = {"constant", "counter and CRC",
						"measured value too"};

static uint64_t now_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (uint64_t)t.tv_sec * 1000000000 + (uint64_t)t.tv_nsec;
}

static uint8_t crc8(const uint8_t *data, unsigned length)
{
	uint8_t crc = 0xFF;

	while (length--) {
		crc ^= *data++;
		for (int i = 0; i < 8; i++)
			crc = (uint8_t)(crc & 0x80 ? crc << 1 ^ 0x1D : crc << 1);
	}
	return crc;
}

static void fill(struct nod_frame *frames, enum style style, bool extended)
{
	for (unsigned i = 0; i < FRAMES; i++) {
		struct nod_frame *f = &frames[i];
		memset(f, 0, sizeof(*f));
		f->id = i % IDS * 16 + 3;
		if (extended)
			f->id = 0x18FEF100 + i % IDS + NOD_ID_EXTENDED;
		f->time.ns = i * NOD_NS_PER_MS;
		f->length = 8;
		f->data[2] = (uint8_t)(i % IDS);
		if (style >= COUNTING)
			f->data[0] = (uint8_t)(i / IDS % 16);
		if (style >= MEASURING)
			f->data[4] = (uint8_t)rand();
		if (style >= COUNTING)
			f->data[7] = crc8(f->data, 7);
	}
}

static void report(const char *what, const char *with, uint64_t ns, uint64_t sum)
{
	printf("%-28s %-20s %6.1f ns/frame   (%" PRIu64 ")\n", what, with,
	       (double)ns / FRAMES / ROUNDS, sum % 1000);
}

static void time_bits(const struct nod_frame *frames, const char *with)
{
	uint64_t start = now_ns(), sum = 0;

	for (int r = 0; r < ROUNDS; r++)
		for (unsigned i = 0; i < FRAMES; i++)
			sum += nod_frame_bits(&frames[i]);
	report("frame bits", with, now_ns() - start, sum);
	struct nod_bits_head heads[IDS];
	for (unsigned i = 0; i < IDS; i++)
		heads[i] = nod_bits_head(&frames[i]);
	start = now_ns();
	for (int r = 0; r < ROUNDS; r++)
		for (unsigned i = 0; i < FRAMES; i++)
			sum += nod_bits_count(&heads[i % IDS], frames[i].data).total;
	report("frame bits, head kept", with, now_ns() - start, sum);
}

static void time_payload(const struct nod_frame *frames, const char *with)
{
	struct nod_payload *payloads = calloc(IDS, sizeof(*payloads));
	uint64_t sum = 0;

	if (!payloads)
		exit(1);
	for (unsigned i = 0; i < IDS; i++)
		nod_payload_init(&payloads[i]);
	uint64_t start = now_ns();
	for (int r = 0; r < ROUNDS; r++)
		for (unsigned i = 0; i < FRAMES; i++)
			sum += nod_payload_take_of(&payloads[i % IDS], &frames[i], NULL);
	report("payload", with, now_ns() - start, sum);
	for (unsigned i = 0; i < IDS; i++)
		nod_payload_clear(&payloads[i]);
	free(payloads);
}

static void time_diagnostic(const struct nod_frame *frames, const char *with)
{
	uint64_t start = now_ns(), sum = 0;

	for (int r = 0; r < ROUNDS; r++)
		for (unsigned i = 0; i < FRAMES; i++)
			if (nod_diagnostic_may_be(frames[i].id))
				sum += nod_diagnostic_classify(&frames[i]);
	report("diagnostic", with, now_ns() - start, sum);
}

static void time_detect(const struct nod_frame *frames, const char *with)
{
	struct nod_nm_detect *detect = nod_nm_detect_new();
	struct nod_nm_detection result;

	if (!detect)
		exit(1);
	uint64_t start = now_ns();
	for (int r = 0; r < ROUNDS; r++)
		for (unsigned i = 0; i < FRAMES; i++)
			nod_nm_detect_feed(detect, &frames[i]);
	report("network management", with, now_ns() - start, 0);
	start = now_ns();
	nod_nm_detect_result(detect, &result);
	printf("%-28s %-20s %6.1f us/result\n", "", "", (double)(now_ns() - start) / 1000);
	nod_nm_detect_free(detect);
}

int main(void)
{
	static struct nod_frame frames[FRAMES];

	for (int style = 0; style < STYLES; style++) {
		fill(frames, (enum style)style, false);
		time_bits(frames, style_names[style]);
		time_payload(frames, style_names[style]);
		time_detect(frames, style_names[style]);
	}
	fill(frames, COUNTING, true);
	time_bits(frames, "29-bit, counter, CRC");
	time_diagnostic(frames, "all");
	return 0;
}
