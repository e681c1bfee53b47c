/* SPDX-License-Identifier: MIT */
/* Read by the caller, by a thread, or one event at a time: the same comes. */
#include <errno.h>
#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <unistd.h>

#include <cmocka.h>

#include "read-ahead.h"
#include "scratch.h"

#define FRAMES 20000 /* some dozens of batches */

static struct scratch scratch;

/* An invented log: now and then another interface, a comment, a line that is
 * none, a report of lost frames. */
static void write_log(const char *name, const char *end)
{
	FILE *file = fopen(scratch_path(&scratch, name), "w");

	assert_non_null(file);
	fputs("# locked: 1700000000\n", file);
	for (unsigned i = 0; i < FRAMES; i++) {
		if (i % 1777 == 5)
			fprintf(file, "# note: number %u\n", i);
		if (i % 2999 == 7)
			fprintf(file, "rubbish %u\n", i);
		if (i % 5001 == 9)
			fputs("DROPCOUNT: dropped 3 CAN frames on 'can1' socket (total drops 3)\n",
			      file);
		fprintf(file, "(%u.%06u) can%u %03X#%04X%s\n", 1700000000 + i / 700, i % 700 * 1000,
			i / 4000, i % 100, i & 0xFFFF, i % 3 ? "" : "00");
	}
	fputs(end, file);
	assert_int_equal(fclose(file), 0);
}

static void print_event(FILE *out, const struct nod_event *event)
{
	fprintf(out, "%d %" PRId64, (int)event->kind, event->time.ns);
	if (event->kind == NOD_EVENT_FRAME)
		fprintf(out, " %" PRIX32 " %u %u %02X%02X", event->frame.id, event->frame.length,
			event->frame.interface, event->frame.data[0], event->frame.data[1]);
	else if (event->kind == NOD_EVENT_HEADER)
		fprintf(out, " %s=%s", event->header.key, event->header.value);
	else if (event->kind == NOD_EVENT_DEFECT)
		fprintf(out, " %" PRIu64 " %s", event->defect.line, event->defect.reason);
	else if (event->kind == NOD_EVENT_LOSS)
		fprintf(out, " %" PRIu64 " on %u", event->loss.count, event->loss.interface);
	fputc('\n', out);
}

static void print_end(FILE *out, int status, const struct nod_error *err,
		      const struct nod_source_counts *counts, const struct nod_interfaces *table)
{
	fprintf(out, "end %d %s; %" PRIu64 " lines, %" PRIu64 " frames, %" PRIu64 " defects%s\n",
		status, err->text, counts->lines, counts->frames, counts->defects,
		counts->torn ? ", torn" : "");
	for (unsigned i = 0; i < table->count; i++)
		fprintf(out, "%s\n", table->names[i]);
}

static char *read_one_by_one(const char *path)
{
	struct nod_interfaces table = {0};
	struct nod_source_counts counts;
	struct nod_error err = {""};
	const struct nod_event *event;
	char *text;
	size_t length;
	int status;

	FILE *out = open_memstream(&text, &length);
	struct nod_source *source = nod_source_open(path, &table, &err);
	assert_non_null(source);
	while ((status = nod_source_next(source, &event, &err)) > 0)
		print_event(out, event);
	nod_source_counts(source, &counts);
	print_end(out, status, &err, &counts, &table);
	nod_source_close(source);
	fclose(out);
	return text;
}

static char *read_by(const char *path, enum nod_read_ahead_by by)
{
	struct nod_interfaces table = {0};
	struct nod_source_counts counts;
	struct nod_error err = {""};
	struct nod_batch batch;
	char *text;
	size_t length;
	int status;

	FILE *out = open_memstream(&text, &length);
	struct nod_read_ahead *ahead = nod_read_ahead_open(path, &table, by, &err);
	assert_non_null(ahead);
	while ((status = nod_read_ahead_next(ahead, &batch, &err)) > 0) {
		assert_true(batch.count || batch.event);
		for (size_t i = 0; i < batch.count; i++) {
			struct nod_event event = {.kind = NOD_EVENT_FRAME,
						  .time = batch.frames[i].time,
						  .frame = batch.frames[i]};
			assert_true(batch.frames[i].interface < table.count);
			print_event(out, &event);
		}
		if (batch.event)
			print_event(out, batch.event);
	}
	assert_int_equal(nod_read_ahead_next(ahead, &batch, &err),
			 status); /* it stays at the end */
	nod_read_ahead_counts(ahead, &counts);
	print_end(out, status, &err, &counts, &table);
	nod_read_ahead_close(ahead);
	fclose(out);
	return text;
}

static void check_all_ways(const char *name, const char *expected)
{
	char path[600];

	snprintf(path, sizeof(path), "%s", scratch_path(&scratch, name));
	char *one = read_one_by_one(path);
	char *caller = read_by(path, NOD_READ_BY_CALLER);
	char *thread = read_by(path, NOD_READ_BY_THREAD);
	char *unpacked = read_by(path, NOD_READ_UNPACKED);
	char *choice = read_by(path, NOD_READ_BY_CHOICE);
	assert_string_equal(caller, one);
	assert_string_equal(thread, one);
	assert_string_equal(unpacked, one);
	assert_string_equal(choice, one);
	assert_non_null(strstr(one, expected));
	free(one);
	free(caller);
	free(thread);
	free(unpacked);
	free(choice);
}

static void test_all_ways_are_equal(void **state)
{
	(void)state;
	write_log("whole.log", "");
	check_all_ways("whole.log", "end 0 ; 20024 lines, 20000 frames, 7 defects");
	write_log("torn.log", "(1700000028.400000) can0 12");
	check_all_ways("torn.log", "20000 frames, 8 defects, torn");
	scratch_puts(&scratch, "empty.log", "");
	check_all_ways("empty.log", "end 0 ; 0 lines, 0 frames");
}

static void pack(const char *name)
{
	char command[1300];

	snprintf(command, sizeof(command), "gzip -f %s", scratch_path(&scratch, name));
	assert_int_equal(system(command), 0);
}

static void test_what_is_packed_is_the_same_all_ways(void **state)
{
	(void)state;
	write_log("good.log", "");
	pack("good.log");
	check_all_ways("good.log.gz", "end 0 ; 20024 lines, 20000 frames, 7 defects");
	assert_int_equal(truncate(scratch_path(&scratch, "good.log.gz"), 50000), 0);
	check_all_ways("good.log.gz", ", torn");
}

static void test_damage_is_told_behind_what_was_read(void **state)
{
	struct stat st;

	(void)state;
	write_log("packed.log", "");
	pack("packed.log");
	assert_int_equal(stat(scratch_path(&scratch, "packed.log.gz"), &st), 0);
	FILE *file = fopen(scratch_path(&scratch, "packed.log.gz"), "r+");
	assert_non_null(file);
	assert_int_equal(fseek(file, (long)st.st_size / 2, SEEK_SET), 0);
	for (int i = 0; i < 64; i++)
		fputc(0xFF, file);
	assert_int_equal(fclose(file), 0);
	check_all_ways("packed.log.gz", "the packed data are damaged");
}

/* Whoever stops in the middle leaves a thread that is busy or waiting. */
static void close_in_the_middle(const char *name, enum nod_read_ahead_by by)
{
	struct nod_interfaces table = {0};
	struct nod_batch batch;

	for (int batches = 0; batches < 20; batches++) {
		struct nod_read_ahead *ahead = nod_read_ahead_open(scratch_path(&scratch, name),
								   &table, by, NULL);
		assert_non_null(ahead);
		for (int i = 0; i < batches; i++)
			assert_int_equal(nod_read_ahead_next(ahead, &batch, NULL), 1);
		nod_read_ahead_close(ahead);
	}
}

static void test_closed_in_the_middle(void **state)
{
	(void)state;
	write_log("whole.log", "");
	close_in_the_middle("whole.log", NOD_READ_BY_THREAD);
	pack("whole.log");
	close_in_the_middle("whole.log.gz", NOD_READ_UNPACKED);
	nod_read_ahead_close(NULL);
}

static void test_what_cannot_be_opened(void **state)
{
	struct nod_interfaces table = {0};
	struct nod_error err = {""};

	(void)state;
	assert_null(nod_read_ahead_open(scratch_path(&scratch, "none"), &table, NOD_READ_BY_THREAD,
					&err));
	assert_int_equal(errno, ENOENT);
	assert_non_null(strstr(err.text, "cannot be opened"));
}

static int make(void **state)
{
	(void)state;
	scratch_make(&scratch);
	return 0;
}

static int clear(void **state)
{
	(void)state;
	scratch_remove(&scratch);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_all_ways_are_equal, make, clear),
		cmocka_unit_test_setup_teardown(test_what_is_packed_is_the_same_all_ways, make,
						clear),
		cmocka_unit_test_setup_teardown(test_damage_is_told_behind_what_was_read, make,
						clear),
		cmocka_unit_test_setup_teardown(test_closed_in_the_middle, make, clear),
		cmocka_unit_test_setup_teardown(test_what_cannot_be_opened, make, clear),
	};
	return cmocka_run_group_tests_name("read-ahead", tests, NULL, NULL);
}
