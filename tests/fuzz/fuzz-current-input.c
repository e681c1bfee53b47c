/* SPDX-License-Identifier: MIT */
/* What a meter sends to the daemon, through a pipe and the daemon's own loop, whole or in two
 * parts: a line is a sample or it is rejected, as its parser says, and a line that is too
 * long is neither. What is taken can stand in a current log. */
#include <fcntl.h>
#include <unistd.h>

#include "current-input.h"
#include "current-log.h"
#include "fuzz.h"
#include "quantity.h"

#define LONGEST 256 /* that is a reading */

static struct ev_loop *loop;
static struct nod_current_input *input;
static int pipe_end = -1;

struct samples {
	size_t count;
	int64_t microamps[512];
};
static struct samples got;

static void take_sample(struct samples *samples, int64_t microamps)
{
	FUZZ_CHECK(samples->count < 512);
	samples->microamps[samples->count++] = microamps;
}

static void sample(void *context, int64_t microamps)
{
	nod_time time = {INT64_C(1700000000) * NOD_NS_PER_S}, read;
	struct nod_error err = {""};
	char line[NOD_CURRENT_LINE];
	unsigned column;
	int64_t again;

	take_sample(context, microamps);
	line[nod_current_print(line, time, microamps) - 1] = '\0';
	FUZZ_CHECK(nod_current_parse(&read, &again, line, &column, &err) == 1);
	FUZZ_CHECK(again == microamps);
}

static void set_up(void)
{
	struct nod_error err = {""};
	char path[64];
	int ends[2];

	FUZZ_CHECK(!pipe2(ends, O_CLOEXEC));
	snprintf(path, sizeof(path), "/proc/self/fd/%d", ends[0]);
	pipe_end = ends[1];
	loop = ev_loop_new(EVBACKEND_POLL);
	input = nod_current_input_new(loop, path, sample, &got, &err);
	FUZZ_CHECK(input);
	close(ends[0]);
}

static void expect_line(struct samples *expected, const char *line, size_t length)
{
	struct nod_quantity q;

	if (length > LONGEST || nod_quantity_parse(&q, line, length, NOD_DECIMAL_ANY, NULL))
		return;
	if ((q.unit == NOD_UNIT_AMPERE || q.unit == NOD_UNIT_NONE) && q.micro <= NOD_CURRENT_MOST &&
	    q.micro >= -NOD_CURRENT_MOST)
		take_sample(expected, q.micro);
}

static void expect(struct samples *expected, const char *text, size_t size)
{
	size_t length;

	for (size_t at = 0; at < size; at += length + 1) {
		for (length = 0; at + length < size; length++)
			if (text[at + length] == '\n' || text[at + length] == '\r')
				break;
		if (length)
			expect_line(expected, text + at, length);
	}
}

static void give(const char *bytes, size_t size)
{
	if (!size)
		return;
	FUZZ_CHECK(write(pipe_end, bytes, size) == (ssize_t)size);
	ev_run(loop, EVRUN_NOWAIT);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct samples expected;

	if (!loop)
		set_up();
	if (size < 2 || size > 512)
		return 0;
	size_t first = data[0] % size;
	char *text = fuzz_text(data + 1, size - 1);
	text[size - 1] = '\n'; /* the last line ends, so that the next input begins one */
	got.count = expected.count = 0;
	expect(&expected, text, size);
	give(text, first);
	give(text + first, size - first);
	FUZZ_CHECK(got.count == expected.count);
	FUZZ_CHECK(
		!memcmp(got.microamps, expected.microamps, got.count * sizeof(got.microamps[0])));
	free(text);
	return 0;
}
