/* SPDX-License-Identifier: MIT */
/* What clients ask of a daemon that records one network, over its socket: what lacks a field
 * is refused with the reason, and what is granted is in the recording. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "asking.h"
#include "session.h"

static void what_lacks_a_field_is_refused_with_the_reason(void **state)
{
	static const struct {
		const char *request, *why;
	} wrong[] = {
		{"{\"do\":\"sing\"}", "there is no request `sing`"},
		{"{\"do\":\"mark\"}", "\"kind\" must be a kind of mark"},
		{"{\"do\":\"mark\",\"kind\":\"gap\"}", "\"kind\" must be a kind of mark"},
		{"{\"do\":\"mark\",\"kind\":7}", "\"kind\" must be a string"},
		{"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":[]}",
		 "\"subject\" must be a string"},
		{"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"x\",\"time_ns\":\"now\"}",
		 "\"time_ns\" must be an integer"},
		{"{\"do\":\"mark\",\"kind\":\"isolated\"}", "isolated"},
		{"{\"do\":\"current\"}", "\"microamps\" must be an integer"},
		{"{\"do\":\"current\",\"microamps\":0.5}", "\"microamps\" must be an integer"},
		{"{\"do\":\"current\",\"microamps\":9000000000000000000}",
		 "beyond a million amperes"},
		{"{\"do\":\"answer\",\"form\":\"xml\"}", "\"form\" must be \"text\" or \"json\""},
		{"{\"do\":\"answer\",\"form\":1}", "\"form\" must be"},
		{"{\"do\":\"amend\",\"kind\":\"gap\"}", "\"kind\" must be a kind of mark"},
	};
	struct asking a;

	(void)state;
	asking_begin(&a);
	for (size_t i = 0; i < sizeof(wrong) / sizeof(*wrong); i++)
		asking_refuse(&a, wrong[i].request, wrong[i].why);
	assert_non_null(a.run->daemon.live.recorder); /* and it goes on */
	asking_end(&a);
}

static void the_view_and_the_answer_are_of_now(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	const json_t *network = json_array_get(
		json_object_get(asking_grant(&a, "{\"do\":\"view\",\"id\":[1]}"), "networks"), 0);
	assert_string_equal(asking_text(network, "interface"), "can0");
	assert_in_range(asking_number(network, "frames"), 250, 300);
	assert_int_equal(json_array_size(json_object_get(a.answer, "id")), 1);
	const json_t *answer = json_object_get(
		asking_grant(&a, "{\"do\":\"answer\",\"form\":\"json\"}"), "json");
	assert_string_equal(asking_text(answer, "verdict"), "cannot tell");
	assert_non_null(strstr(asking_text(asking_grant(&a, "{\"do\":\"answer\"}"), "text"),
			       "CANNOT TELL"));
	asking_end(&a);
}

static void a_mark_that_was_granted_is_on_the_disk(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\" a\\tb\\u001b \"}");
	json_int_t first = asking_number(a.answer, "time_ns");
	assert_int_equal(asking_recorded(&a, NOD_MARK_NOTE, "a b"), 1); /* cleaned, as it is read */
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F12\"}");
	assert_true(asking_number(a.answer, "time_ns") > first);
	assert_int_equal(asking_recorded(&a, NOD_MARK_ISOLATED, "F12"), 1);
	asking_end(&a);
}

static void no_two_marks_have_one_time(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	nod_time last = nod_daemon_mark_time(&a.run->daemon);
	for (int i = 0; i < 10; i++) { /* three of them in each microsecond */
		nod_time next = nod_daemon_mark_time(&a.run->daemon);
		assert_true(next.ns > last.ns);
		last = next;
	}
	asking_end(&a);
}

static void a_mark_of_the_past_is_neither_older_nor_newer_than_the_recording(void **state)
{
	struct asking a;
	char request[256];
	static const struct {
		int64_t from_now;
		const char *why; /* NULL: granted */
	} times[] = {{-2 * S, NULL},
		     {S, NULL},
		     {-3600 * S, "before the recording began"},
		     {60 * S, "still to come"}};

	(void)state;
	asking_begin(&a);
	for (size_t i = 0; i < sizeof(times) / sizeof(*times); i++) {
		json_int_t now = asking_number(asking_grant(&a, "{\"do\":\"view\"}"), "now_ns");
		snprintf(
			request, sizeof(request),
			"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"n%zu\",\"time_ns\":%lld}",
			i, (long long)(now + times[i].from_now));
		if (times[i].why)
			asking_refuse(&a, request, times[i].why);
		else
			asking_grant(&a, request);
		snprintf(request, sizeof(request), "n%zu", i);
		assert_int_equal(asking_recorded(&a, NOD_MARK_NOTE, request), !times[i].why);
	}
	asking_end(&a);
}

static void undo_and_amend_take_the_mark_that_is_named(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F1\"}");
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F2\"}");
	const json_t *undone = json_object_get(asking_grant(&a, "{\"do\":\"undo\"}"), "undone");
	assert_string_equal(asking_text(undone, "subject"), "F2"); /* the last */
	assert_int_equal(asking_recorded(&a, NOD_MARK_ISOLATED, "F2"), 0);
	asking_grant(&a, "{\"do\":\"amend\",\"subject\":\"F3\"}");
	assert_string_equal(asking_text(json_object_get(a.answer, "undone"), "subject"), "F1");
	assert_string_equal(asking_text(json_object_get(a.answer, "entry"), "subject"), "F3");
	assert_string_equal(asking_text(json_object_get(a.answer, "entry"), "kind"), "isolated");
	assert_int_equal(asking_recorded(&a, NOD_MARK_ISOLATED, "F1"), 0);
	assert_int_equal(asking_recorded(&a, NOD_MARK_ISOLATED, "F3"), 1);
	asking_refuse(&a, "{\"do\":\"undo\",\"entry\":{\"kind\":\"isolated\",\"subject\":\"F9\"}}",
		      "there is no such mark to take back");
	assert_int_equal(asking_recorded(&a, NOD_MARK_ISOLATED, "F3"), 1);
	asking_end(&a);
}

static void one_session_at_a_time(void **state)
{
	struct asking a;
	char path[PATH_MAX];

	(void)state;
	asking_begin(&a);
	asking_refuse(&a, "{\"do\":\"start\",\"title\":\"another\"}",
		      "a session is being recorded: ");
	strcpy(path, a.run->daemon.live.directory);
	assert_string_equal(asking_text(asking_grant(&a, "{\"do\":\"stop\"}"), "path"), path);
	assert_string_equal(asking_text(a.answer, "verdict"), "cannot tell");
	asking_refuse(&a, "{\"do\":\"stop\"}", "no session is being recorded");
	asking_refuse(&a, "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"x\"}",
		      "no session is being recorded");
	asking_grant(&a, "{\"do\":\"list\"}");
	assert_int_equal(json_array_size(json_object_get(a.answer, "sessions")), 1);
	assert_string_equal(asking_text(a.answer, "recording"), "");
	assert_string_equal(asking_text(a.answer, "directory"), a.run->scratch.path);
	asking_end(&a);
}

static void a_reading_of_the_current_is_of_now(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	asking_grant(&a, "{\"do\":\"current\",\"microamps\":-123456}");
	mishap_go_on(a.run, kernel.now + 200 * MS); /* held back as frames are */
	const json_t *current = json_object_get(asking_grant(&a, "{\"do\":\"view\"}"), "current");
	assert_non_null(current);
	nod_pump_flush(a.run->daemon.pump);
	struct nod_error err;
	struct nod_session *session;
	const struct nod_event *event;
	unsigned found = 0;
	assert_int_equal(nod_live_tick(&a.run->daemon.live, (nod_time){kernel.now}), 0);
	session = nod_session_open(a.run->daemon.live.directory, &err);
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		found += event->kind == NOD_EVENT_CURRENT && event->current.microamps == -123456;
	nod_session_close(session);
	assert_int_equal(found, 1);
	asking_end(&a);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_lacks_a_field_is_refused_with_the_reason),
		cmocka_unit_test(the_view_and_the_answer_are_of_now),
		cmocka_unit_test(a_mark_that_was_granted_is_on_the_disk),
		cmocka_unit_test(no_two_marks_have_one_time),
		cmocka_unit_test(a_mark_of_the_past_is_neither_older_nor_newer_than_the_recording),
		cmocka_unit_test(undo_and_amend_take_the_mark_that_is_named),
		cmocka_unit_test(one_session_at_a_time),
		cmocka_unit_test(a_reading_of_the_current_is_of_now),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
