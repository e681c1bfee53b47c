/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "scratch.h"
#include "session-survey.h"

static struct nod_survey survey;

static void look(struct scratch *s)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(s->path, &err);

	assert_non_null(session);
	assert_int_equal(nod_survey_session(&survey, session, &err), 0);
	nod_session_close(session);
}

static void test_figures(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "frames.log",
		     "# locked: 3.0\n(2.000000) can0 101#\n(3.000000) can1 102#\nrubbish\n"
		     "DROPCOUNT: dropped 5 CAN frames on 'can1' socket (total drops 5)\n"
		     "(4.000000) can1 20000080#0000000000000000\n(5.000000) can0 101#\n"
		     "# ended: 9.5\n");
	scratch_puts(s, "journal.log",
		     "(1.0) started\n(8.0) gap can0 2 s\n(9.0) gap all 500 ms\n"
		     "(6.0) clock step +1 s\n");
	scratch_puts(s, "current.log", "(1.5) 1 A\n(6.5) 1 A\n");
	look(s);
	assert_int_equal(survey.all.frames, 3);
	assert_int_equal(survey.all.errors, 1);
	assert_int_equal(survey.all.lost, 5);
	assert_int_equal(survey.all.gaps, 1);
	assert_int_equal(survey.interfaces[0].frames, 2);
	assert_int_equal(survey.interfaces[0].first.ns, 2 * NOD_NS_PER_S);
	assert_int_equal(survey.interfaces[0].last.ns, 5 * NOD_NS_PER_S);
	assert_int_equal(survey.interfaces[0].gap_length.ns, 2 * NOD_NS_PER_S);
	assert_int_equal(survey.interfaces[1].losses, 1);
	assert_int_equal(survey.samples, 2);
	assert_int_equal(survey.marks, 4);
	assert_int_equal(survey.defects, 1);
	assert_int_equal(survey.clock_steps, 1);
	assert_int_equal(survey.first.ns, 1500 * NOD_NS_PER_MS);
	assert_int_equal(survey.last.ns, 6500 * NOD_NS_PER_MS);
	assert_int_equal(survey.end.ns, 9500 * NOD_NS_PER_MS);
	assert_int_equal(survey.lock.time.ns, 3 * NOD_NS_PER_S);
	assert_int_equal(survey.lock.source, NOD_LOCK_FROM_HEADER);
	assert_int_equal(survey.lock.start.ns, 1 * NOD_NS_PER_S);
}

static void test_nothing(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "frames.log", "");
	look(s);
	assert_int_equal(survey.all.frames, 0);
	assert_false(nod_time_is_set(survey.end));
	assert_false(nod_time_is_set(survey.lock.time));
}

static int set_up(void **state)
{
	static struct scratch scratch;

	scratch_make(&scratch);
	*state = &scratch;
	return 0;
}

static int tear_down(void **state)
{
	scratch_remove(*state);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_figures, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_nothing, set_up, tear_down),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
