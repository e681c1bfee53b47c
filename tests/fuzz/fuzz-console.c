/* SPDX-License-Identifier: MIT */
/* Lines of candump's screen form, and what tells the forms of text apart. */
#include "console.h"
#include "frame-text.h"
#include "fuzz.h"
#include "text-form.h"

static void take_line(struct nod_interfaces *names, const char *text, size_t length)
{
	struct nod_frame frame = {0};
	struct nod_scan scan = nod_scan_line(text, length);

	nod_console_recognise(scan);
	if (!nod_console_parse(&scan, names, &frame)) {
		FUZZ_CHECK(scan.reason && scan.fault >= text && scan.fault <= text + length);
		return;
	}
	char line[NOD_FRAME_TEXT];
	FUZZ_CHECK(frame.interface < names->count);
	FUZZ_CHECK(frame.length <= (frame.flags & NOD_FRAME_FD ? 64 : 8));
	FUZZ_CHECK(nod_frame_print(line, &frame, names->names[frame.interface]) < sizeof(line));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct nod_interfaces names = {.count = 0};
	struct nod_text_guess guess = {0};
	struct nod_console_run run = {0};
	struct nod_error err = {""};
	const char *text = (const char *)data, *end = text + size;
	bool decided = false;

	for (const char *next; text < end; text = next) {
		const char *newline = memchr(text, '\n', (size_t)(end - text));
		size_t length = (size_t)((newline ? newline : end) - text);
		struct nod_scan scan = nod_scan_line(text, length);
		enum nod_console_clock clock;
		nod_time time;

		next = newline ? newline + 1 : end;
		if (!decided)
			decided = nod_text_guess_take(&guess, text, length);
		if (nod_console_parse_time(&scan, &time, &clock))
			nod_console_run_take(&run, time);
		take_line(&names, text, length);
	}
	nod_console_run_verdict(&run);
	FUZZ_CHECK(nod_text_refuse(&guess, "capture", (const char *)data, size, &err) < 0);
	FUZZ_CHECK(err.text[0]);
	return 0;
}
