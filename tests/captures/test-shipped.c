/* SPDX-License-Identifier: MIT */
/* The shipped sessions: complete, readable, listed with their origin, small. */
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "journal.h"
#include "source.h"
#include "vehicle.h"

#define MOST_BYTES (5 * 1000 * 1000)
#define PATH_ROOM 512

static char *path_of(char buf[PATH_ROOM], const char *session, const char *name)
{
	snprintf(buf, PATH_ROOM, "%s/%s/%s", CAPTURES_DIR, session, name);
	return buf;
}

static bool is_session(const char *name)
{
	char path[PATH_ROOM];
	struct stat st;

	return name[0] != '.' && !stat(path_of(path, name, "truth.txt"), &st);
}

/* Calls `check` with each session's name; returns how many there are. */
static unsigned each(void (*check)(const char *session))
{
	DIR *dir = opendir(CAPTURES_DIR);
	unsigned count = 0;

	assert_non_null(dir);
	for (struct dirent *entry; (entry = readdir(dir));) {
		if (!is_session(entry->d_name))
			continue;
		count++;
		if (check)
			check(entry->d_name);
	}
	closedir(dir);
	return count;
}

/* The truth says where the supply of a logger failed in the middle of a line. */
static unsigned has_torn_line(const char *session)
{
	char path[PATH_ROOM], line[512];
	FILE *in = fopen(path_of(path, session, "truth.txt"), "r");
	unsigned torn = 0;

	while (in && fgets(line, sizeof(line), in))
		torn += strstr(line, "its last line is torn") != NULL;
	if (in)
		fclose(in);
	return torn;
}

static void check_frames(const char *session)
{
	struct nod_interfaces names = {0};
	struct nod_error err = {""};
	struct nod_source_counts counts;
	const struct nod_event *event;
	char path[PATH_ROOM];
	struct nod_source *source = nod_source_open(path_of(path, session, "frames.log"), &names,
						    &err);

	if (!source)
		fail_msg("%s", err.text);
	while (nod_source_next(source, &event, &err) > 0)
		;
	nod_source_counts(source, &counts);
	assert_int_equal(counts.defects, has_torn_line(session));
	assert_false(counts.torn);
	assert_true(counts.frames > 0);
	nod_source_close(source);
}

static void check_journal(const char *session)
{
	char path[PATH_ROOM], line[256];
	FILE *in = fopen(path_of(path, session, "journal.log"), "r");
	struct nod_mark mark;
	unsigned column;

	assert_non_null(in);
	while (fgets(line, sizeof(line), in)) {
		line[strcspn(line, "\n")] = '\0';
		assert_true(nod_mark_parse(&mark, line, &column, NULL) >= 0);
	}
	fclose(in);
}

static void check_map(const char *session)
{
	struct nod_error err = {""};
	char path[PATH_ROOM];
	struct nod_vehicle *vehicle = nod_vehicle_load(path_of(path, session, "vehicle.yaml"),
						       &err);

	if (!vehicle)
		fail_msg("%s", err.text);
	assert_true(vehicle->module_count > 0);
	nod_vehicle_free(vehicle);
}

static void check_session(const char *session)
{
	check_frames(session);
	check_journal(session);
	check_map(session);
}

static void test_sessions_can_be_read(void **state)
{
	(void)state;
	assert_true(each(check_session) > 0);
}

/* Value of "key: value" in a session's truth.txt. */
static void truth_value(char *value, size_t size, const char *session, const char *key)
{
	char path[PATH_ROOM], line[512];
	FILE *in = fopen(path_of(path, session, "truth.txt"), "r");
	size_t length = strlen(key);

	assert_non_null(in);
	value[0] = '\0';
	while (fgets(line, sizeof(line), in)) {
		line[strcspn(line, "\n")] = '\0';
		if (!strncmp(line, key, length) && line[length] == ':')
			snprintf(value, size, "%s", line + length + 2);
	}
	fclose(in);
}

static void check_listed(const char *session)
{
	static char text[64 * 1024];
	FILE *in = fopen(CAPTURES_DIR "/PROVENANCE.md", "r");
	char seed[32], verdict[64], row[512];

	assert_non_null(in);
	text[fread(text, 1, sizeof(text) - 1, in)] = '\0';
	fclose(in);
	truth_value(seed, sizeof(seed), session, "seed");
	truth_value(verdict, sizeof(verdict), session, "verdict");
	snprintf(row, sizeof(row), "\n| %s | %s | %s: ", session, seed, verdict);
	if (!strstr(text, row))
		fail_msg("PROVENANCE.md has no row \"%s...\"", row + 1);
}

static void test_every_session_is_listed_with_its_origin(void **state)
{
	(void)state;
	assert_true(each(check_listed) > 0);
}

static uint64_t total;

static void add_sizes(const char *session)
{
	char path[PATH_ROOM];
	DIR *dir = opendir(path_of(path, session, "."));
	struct stat st;

	assert_non_null(dir);
	for (struct dirent *entry; (entry = readdir(dir));)
		if (!stat(path_of(path, session, entry->d_name), &st) && S_ISREG(st.st_mode))
			total += (uint64_t)st.st_size;
	closedir(dir);
}

static void test_all_of_them_stay_small(void **state)
{
	(void)state;
	total = 0;
	each(add_sizes);
	assert_in_range(total, 1, MOST_BYTES);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_sessions_can_be_read),
		cmocka_unit_test(test_every_session_is_listed_with_its_origin),
		cmocka_unit_test(test_all_of_them_stay_small),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
