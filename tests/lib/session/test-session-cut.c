/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "scratch.h"
#include "session-cut.h"

#define S NOD_NS_PER_S

static struct nod_survey survey;

static void write_session(struct scratch *s)
{
	assert_int_equal(mkdir(scratch_path(s, "old"), 0700), 0);
	scratch_puts(s, "old/frames.log",
		     "# isolated: 250.0 F3\n(10.000000) can0 101#\n(200.000000001) can0 102#11\n"
		     "(300.000000) can0 103#\n(400.000000) can1 104#\n");
	scratch_puts(s, "old/journal.log",
		     "(5.0) started\n(100.0) locked\n(150.0) door\n(350.0) gap can0 100 s\n"
		     "(420.0) stopped\n");
}

static int cut_scrubbed(struct scratch *s, int64_t from, int64_t to, enum nod_scrub_kind scrub,
			struct nod_session_cut_result *result, struct nod_error *err)
{
	struct nod_session_cut cut = {
		.from = {from * S}, .to = {to * S}, .scrub = scrub, .title = "a piece"};
	char *old = strdup(scratch_path(s, "old"));
	struct nod_session *session = nod_session_open(old, err);

	assert_int_equal(nod_survey_session(&survey, session, err), 0);
	nod_session_close(session);
	int status = nod_session_cut(old, &survey, scratch_path(s, "new"), &cut, result, err);
	free(old);
	return status;
}

static int cut(struct scratch *s, int64_t from, int64_t to, struct nod_session_cut_result *result,
	       struct nod_error *err)
{
	return cut_scrubbed(s, from, to, NOD_SCRUB_NOTHING, result, err);
}

static void check_journal(struct scratch *s, const char *expected)
{
	char *text = scratch_read(s, "new/journal.log", NULL);

	assert_string_equal(text, expected);
	free(text);
}

static void test_a_piece(void **state)
{
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};

	write_session(s);
	assert_int_equal(cut(s, 160, 320, &result, &err), 0);
	assert_int_equal(result.frames, 2);
	assert_true(result.lock_outside);
	assert_false(result.lock_assumed);
	assert_int_equal(result.marks_left_out, 1); /* the door; the gap reaches in */
	check_journal(s, "(100.000000) locked\n(160.000000) started\n(160.000000) gap all 60 s\n"
			 "(250.000000) isolated F3\n(320.000000) gap can0 70 s\n"
			 "(320.000000) stopped\n");

	struct nod_session *session = nod_session_open(scratch_path(s, "new"), &err);
	assert_int_equal(nod_survey_session(&survey, session, &err), 0);
	assert_int_equal(survey.all.frames, 2);
	assert_int_equal(survey.interfaces[0].first.ns, 200 * S + 1);
	assert_int_equal(survey.end.ns, 320 * S); /* listened to its end */
	assert_int_equal(survey.defects, 0);
	assert_string_equal(nod_session_about(session, "title"), "a piece");
	assert_string_equal(nod_session_about(session, "cut from"), "160.000000");
	nod_session_close(session);
}

static void test_before_the_lock(void **state)
{
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};

	write_session(s);
	assert_int_equal(cut(s, 0, 60, &result, &err), 0);
	assert_int_equal(result.frames, 1);
	check_journal(s, "(100.000000) locked\n(5.000000) started\n(60.000000) stopped\n"
			 "(100.000000) gap all 40 s\n");
}

static void test_the_whole(void **state)
{
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};

	write_session(s);
	assert_int_equal(cut(s, 0, 1000, &result, &err), 0);
	assert_int_equal(result.frames, 4);
	assert_int_equal(result.marks_left_out, 0);
	assert_false(result.lock_outside);
	check_journal(s, "(100.000000) locked\n(5.000000) started\n(150.000000) door\n"
			 "(250.000000) isolated F3\n(350.000000) gap can0 100 s\n"
			 "(420.000000) stopped\n");
}

static bool stop_after_three(void *context, nod_time time)
{
	(void)time;
	return ++*(int *)context > 3;
}

static void test_stopped(void **state)
{
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};
	int steps = 0;
	struct nod_session_cut cut_all = {
		.to = {1000 * S}, .step = stop_after_three, .context = &steps};

	write_session(s);
	assert_int_equal(cut(s, 500, 600, &result, &err), -ERANGE); /* surveys it */
	char *old = strdup(scratch_path(s, "old"));
	assert_int_equal(
		nod_session_cut(old, &survey, scratch_path(s, "new"), &cut_all, &result, &err),
		-EINTR);
	free(old);
	assert_int_equal(scratch_entries(s), 1);
}

/* The number of a vehicle (invented) in its map and in an answer to a tester (ISO 15765-2 and SAE
 * J1979, mode 09). */
static void test_a_vehicles_number(void **state)
{
	static const char map[] =
		"# ZZZAB12C0XK004711\nnetworks: { body: { interfaces: [can0] } }\n";
	static const enum nod_scrub_kind kinds[] = {NOD_SCRUB_NOTHING, NOD_SCRUB_VIN};
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};

	write_session(s);
	scratch_puts(s, "old/vehicle.yaml", map);
	scratch_puts(
		s, "old/frames.log",
		"(10.000000) can0 7E0#0209020000000000\n(10.010000) can0 7E8#10144902015A5A5A\n"
		"(10.020000) can0 7E0#3000000000000000\n(10.030000) can0 7E8#2141423132433058\n"
		"(10.040000) can0 7E8#224B303034373131\n");
	for (int i = 0; i < 2; i++) {
		if (cut_scrubbed(s, 0, 500, kinds[i], &result, &err))
			fail_msg("%s", err.text);
		char *text = scratch_read(s, "new/vehicle.yaml", NULL);
		assert_int_equal(!strstr(text, "4711"), i);
		assert_int_equal(strlen(text), strlen(map));
		free(text);
		assert_int_equal(result.scrubbed > 0, i);
		scratch_remove_directory(scratch_path(s, "new"));
	}
}

static void test_refusals(void **state)
{
	struct scratch *s = *state;
	struct nod_session_cut_result result;
	struct nod_error err = {""};

	write_session(s);
	assert_int_equal(cut(s, 500, 600, &result, &err), -ERANGE);
	assert_int_equal(cut(s, 0, 4, &result, &err), -ERANGE);
	scratch_puts(s, "new", "");
	assert_int_equal(cut(s, 0, 400, &result, &err), -EEXIST);
	assert_non_null(strstr(err.text, "there already"));
	assert_int_equal(scratch_entries(s), 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_a_piece),   SCRATCH_TEST(test_before_the_lock),
		SCRATCH_TEST(test_the_whole), SCRATCH_TEST(test_stopped),
		SCRATCH_TEST(test_refusals),  SCRATCH_TEST(test_a_vehicles_number),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
