/* SPDX-License-Identifier: MIT */
/* A session on disk, read back: the same as in memory. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "generator.h"
#include "source.h"
#include "sim/write.h"

static const struct nod_generator_options small = {.small = true,
						   .frames = NOD_GENERATOR_SMALL_FRAMES};

static const char *path_of(char buf[256], const char *directory, const char *name)
{
	snprintf(buf, 256, "%s/%s", directory, name);
	return buf;
}

static void remove_session(const char *directory)
{
	static const char *const names[] = {"frames.log", "journal.log", "current.log",
					    "vehicle.yaml", "truth.txt"};
	char path[256];

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
		unlink(path_of(path, directory, names[i]));
	rmdir(directory);
}

static bool next_of(struct nod_generator *generator, const struct nod_event **event,
		    enum nod_event_kind a, enum nod_event_kind b)
{
	while (nod_generator_next(generator, event))
		if ((*event)->kind == a || (*event)->kind == b)
			return true;
	return false;
}

static void compare_frames(const struct nod_event *read, const struct nod_event *made,
			   const struct nod_interfaces *read_names,
			   const struct nod_interfaces *made_names)
{
	assert_int_equal(read->kind, made->kind);
	if (made->kind == NOD_EVENT_LOSS) {
		assert_true(read->loss.count == made->loss.count);
		return;
	}
	assert_true(read->time.ns == made->time.ns);
	assert_int_equal(read->frame.id, made->frame.id);
	assert_int_equal(read->frame.length, made->frame.length);
	assert_int_equal(read->frame.flags, made->frame.flags);
	assert_memory_equal(read->frame.data, made->frame.data, made->frame.length);
	assert_string_equal(read_names->names[read->frame.interface],
			    made_names->names[made->frame.interface]);
}

static void check_frames(const char *directory, struct nod_generator *generator)
{
	struct nod_interfaces names = {0};
	struct nod_error err = {""};
	char path[256];
	struct nod_source *source = nod_source_open(path_of(path, directory, "frames.log"), &names,
						    &err);
	const struct nod_event *read, *made;

	if (!source)
		fail_msg("%s", err.text);
	while (nod_source_next(source, &read, &err) > 0) {
		if (read->kind == NOD_EVENT_HEADER)
			continue;
		if (read->kind == NOD_EVENT_DEFECT) { /* a torn line, and what went on behind it */
			assert_true(next_of(generator, &made, NOD_EVENT_DEFECT, NOD_EVENT_DEFECT));
			assert_true(next_of(generator, &made, NOD_EVENT_FRAME, NOD_EVENT_FRAME));
			continue;
		}
		assert_true(next_of(generator, &made, NOD_EVENT_FRAME, NOD_EVENT_LOSS));
		compare_frames(read, made, &names, nod_generator_interfaces(generator));
	}
	assert_false(next_of(generator, &made, NOD_EVENT_FRAME, NOD_EVENT_LOSS));
	nod_source_close(source);
}

static void check_journal(const char *directory, bool adapter_lost, bool clock_set, bool foreign)
{
	char path[256], line[256];
	FILE *in = fopen(path_of(path, directory, "journal.log"), "r");
	unsigned counts[NOD_MARK_KINDS] = {0}, column;
	struct nod_mark mark;

	assert_non_null(in);
	while (fgets(line, sizeof(line), in)) {
		line[strcspn(line, "\n")] = '\0';
		int result = nod_mark_parse(&mark, line, &column, NULL);
		assert_true(result >= 0);
		counts[mark.kind] += result == 1;
	}
	fclose(in);
	assert_int_equal(counts[NOD_MARK_STARTED], !foreign);
	assert_int_equal(counts[NOD_MARK_STOPPED], 1);
	assert_int_equal(counts[NOD_MARK_GAP], adapter_lost);
	assert_int_equal(counts[NOD_MARK_CLOCK_STEP], clock_set);
}

/* Recordings of loggers that are not ours: they do not say when they began. */
static bool is_foreign(const char *situation)
{
	static const char *const names[] = {
		"power-lost", "adapter-drops", "rotation", "usb-stall",    "plug-pulled",
		"in-use",     "operator",      "bench",    "relay-master", "never-parked"};

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
		if (!strcmp(situation, names[i]))
			return true;
	return false;
}

static void check_session(const char *situation, uint64_t seed)
{
	char directory[] = "/tmp/nodoff-test-XXXXXX";
	struct nod_error err = {""};

	assert_non_null(mkdtemp(directory));
	struct nod_generator *generator = nod_generator_open(situation, seed, &small, NULL);
	assert_non_null(generator);
	assert_int_equal(sim_session_write(generator, directory, &err), 0);
	nod_generator_close(generator);
	generator = nod_generator_open(situation, seed, &small, NULL);
	check_frames(directory, generator);
	nod_generator_close(generator);
	check_journal(directory, !strcmp(situation, "lost-adapter"),
		      !strcmp(situation, "clock-step"), is_foreign(situation));
	remove_session(directory);
}

static void test_sessions_on_disk_are_those_in_memory(void **state)
{
	(void)state;
	for (size_t i = 0; nod_generator_situation(i); i++)
		check_session(nod_generator_situation(i), 4);
	check_session("frames-lost", 2);
	check_session("frames-lost", 5);
	check_session("healthy", 15);
}

static void test_a_directory_that_cannot_be_made_is_said(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct nod_generator *generator = nod_generator_open("healthy", 1, &small, NULL);

	assert_int_equal(sim_session_write(generator, "/dev/null/there", &err), -ENOTDIR);
	assert_non_null(strstr(err.text, "/dev/null/there"));
	nod_generator_close(generator);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_sessions_on_disk_are_those_in_memory),
		cmocka_unit_test(test_a_directory_that_cannot_be_made_is_said),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
