/* SPDX-License-Identifier: MIT */
/* Lines of a candump log: wherever the quick parser takes a line, the careful
 * one takes the same, and what was read can be written and read again. */
#include "candump.h"
#include "frame-text.h"
#include "fuzz.h"

static void check_same(const struct nod_frame *a, const struct nod_frame *b)
{
	FUZZ_CHECK(a->time.ns == b->time.ns && a->id == b->id && a->length == b->length);
	FUZZ_CHECK(a->flags == b->flags && a->raw_dlc == b->raw_dlc);
	FUZZ_CHECK(a->interface == b->interface);
	FUZZ_CHECK(!memcmp(a->data, b->data, a->length > 8 ? a->length : 8));
}

static void check_bounds(const struct nod_frame *frame, const struct nod_interfaces *names)
{
	FUZZ_CHECK(frame->interface < names->count);
	FUZZ_CHECK(frame->length <= (frame->flags & NOD_FRAME_FD ? 64 : 8));
	FUZZ_CHECK(!frame->raw_dlc || (frame->raw_dlc <= 15 && frame->length == 8));
	FUZZ_CHECK((frame->id & NOD_ID_EXTENDED_MASK) <= NOD_ID_STANDARD_MASK ||
		   frame->id & (NOD_ID_EXTENDED | NOD_ID_ERROR));
}

/* What nod_frame_print() leaves out: raw DLCs and the direction. */
static void check_round_trip(const struct nod_frame *frame, struct nod_interfaces *names)
{
	struct nod_frame again = {0}, expected = *frame;
	char text[NOD_FRAME_TEXT];
	size_t length = nod_frame_print(text, frame, names->names[frame->interface]);
	struct nod_scan scan = nod_scan_line(text, length - 1);
	struct nod_candump candump;

	FUZZ_CHECK(length < sizeof(text) && text[length - 1] == '\n' && !text[length]);
	nod_candump_init(&candump, names);
	FUZZ_CHECK(nod_candump_parse(&candump, &scan, &again));
	again.raw_dlc = expected.raw_dlc;
	again.flags |= expected.flags & (NOD_FRAME_SENT | NOD_FRAME_RECEIVED);
	expected.flags |= again.flags & (NOD_FRAME_SENT | NOD_FRAME_RECEIVED);
	check_same(&again, &expected);
}

/* Returns the length of the line with its newline. */
static size_t take_line(struct nod_candump *candump, const char *text, size_t left)
{
	struct nod_candump before = *candump;
	struct nod_frame quick = {0}, careful = {0};
	const char *newline = memchr(text, '\n', left);
	size_t length = newline ? (size_t)(newline - text) : left;
	size_t used = nod_candump_parse_one_quickly(&before, text, &quick);
	struct nod_scan scan = nod_scan_line(text, length && text[length - 1] == '\r' ? length - 1
										      : length);
	bool good = nod_candump_parse(candump, &scan, &careful);

	if (used) {
		FUZZ_CHECK(newline && used == length + 1 && good);
		check_same(&quick, &careful);
	}
	if (good) {
		check_bounds(&careful, candump->table);
		check_round_trip(&careful, candump->table);
	} else {
		FUZZ_CHECK(scan.reason && scan.fault >= text && scan.fault <= text + length);
		FUZZ_CHECK(nod_scan_column(&scan) <= length + 1);
	}
	return length + (newline != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct nod_interfaces names = {.count = 0};
	struct nod_candump candump;
	char *text = malloc(size + NOD_CANDUMP_WINDOW);

	if (!text)
		abort();
	memset(text + size, 0, NOD_CANDUMP_WINDOW);
	if (size)
		memcpy(text, data, size);
	nod_candump_init(&candump, &names);
	for (size_t at = 0; at < size;)
		at += take_line(&candump, text + at, size - at);
	free(text);
	return 0;
}
