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
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "mishap.h"
#include "session.h"

struct asking {
	struct run *run;
	int fd;
	json_t *answer; /* the last */
};

static void begin(struct asking *a)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	memset(&kernel, 0, sizeof(kernel));
	kernel.period = 10 * MS;
	kernel.next = kernel.period;
	kernel.last = 3 * S;
	*a = (struct asking){calloc(1, sizeof(*a->run)), -1, NULL};
	mishap_begin(a->run);
	mishap_go_on(a->run, 5 * S);
	strcpy(address.sun_path, a->run->socket);
	a->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_int_equal(connect(a->fd, (struct sockaddr *)&address, sizeof(address)), 0);
}

static void end(struct asking *a)
{
	json_decref(a->answer);
	close(a->fd);
	mishap_finish(a->run);
}

/* The next line that is no event. */
static json_t *receive(struct asking *a)
{
	static char text[1 << 20];
	size_t length = 0;

	for (int turn = 0; turn < 100; turn++) {
		ev_run(a->run->daemon.loop, EVRUN_NOWAIT);
		mishap_go_on(a->run, kernel.now + 1); /* a tick, and what it puts on the disk */
		ssize_t got = recv(a->fd, text + length, sizeof(text) - 1 - length, MSG_DONTWAIT);
		length += got > 0 ? (size_t)got : 0;
		text[length] = '\0';
		char *newline = strchr(text, '\n');
		if (!newline)
			continue;
		*newline = '\0';
		json_t *line = json_loads(text, 0, NULL);
		assert_non_null(line);
		if (!json_object_get(line, "event"))
			return line;
		json_decref(line);
		length -= (size_t)(newline + 1 - text);
		memmove(text, newline + 1, length + 1);
	}
	fail_msg("no answer");
	return NULL;
}

static const json_t *ask(struct asking *a, const char *request)
{
	size_t length = strlen(request);

	assert_int_equal(write(a->fd, request, length), (ssize_t)length);
	assert_int_equal(write(a->fd, "\n", 1), 1);
	json_decref(a->answer);
	a->answer = receive(a);
	return a->answer;
}

static const json_t *grant(struct asking *a, const char *request)
{
	const json_t *ok = json_object_get(ask(a, request), "ok");

	if (!json_is_true(ok))
		fail_msg("%s: %s", request, json_string_value(json_object_get(a->answer, "error")));
	return a->answer;
}

static void refuse(struct asking *a, const char *request, const char *why)
{
	const char *error = json_string_value(json_object_get(ask(a, request), "error"));

	assert_true(json_is_false(json_object_get(a->answer, "ok")));
	if (!error || !strstr(error, why))
		fail_msg("%s: \"%s\" lacks \"%s\"", request, error ? error : "", why);
}

static const char *text_of(const json_t *object, const char *key)
{
	const char *text = json_string_value(json_object_get(object, key));

	assert_non_null(text);
	return text;
}

static json_int_t number_of(const json_t *object, const char *key)
{
	assert_non_null(object);
	assert_true(json_is_integer(json_object_get(object, key)));
	return json_integer_value(json_object_get(object, key));
}

/* How often the recording has such an entry, those that were taken back left out. */
static unsigned recorded(const struct asking *a, enum nod_mark_kind kind, const char *subject)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(a->run->daemon.live.directory, &err);
	const struct nod_event *event;
	unsigned count = 0;

	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		count += event->kind == NOD_EVENT_MARK && event->mark.kind == kind &&
			 !strcmp(event->mark.subject, subject);
	nod_session_close(session);
	return count;
}

static void what_lacks_a_field_is_refused_with_the_reason(void **state)
{
	static const struct {
		const char *request, *why;
	} wrong[] = {
		{"{\"do\":\"sing\"}", "there is no request `sing`"},
		{"{\"do\":\"mark\"}", "\"kind\" must be a kind of journal entry"},
		{"{\"do\":\"mark\",\"kind\":\"gap\"}", "\"kind\" must be a kind of journal entry"},
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
		{"{\"do\":\"amend\",\"kind\":\"gap\"}", "\"kind\" must be a kind of journal entry"},
	};
	struct asking a;

	(void)state;
	begin(&a);
	for (size_t i = 0; i < sizeof(wrong) / sizeof(*wrong); i++)
		refuse(&a, wrong[i].request, wrong[i].why);
	assert_non_null(a.run->daemon.live.recorder); /* and it goes on */
	end(&a);
}

static void the_view_and_the_answer_are_of_now(void **state)
{
	struct asking a;

	(void)state;
	begin(&a);
	const json_t *network = json_array_get(
		json_object_get(grant(&a, "{\"do\":\"view\",\"id\":[1]}"), "networks"), 0);
	assert_string_equal(text_of(network, "interface"), "can0");
	assert_in_range(number_of(network, "frames"), 250, 300);
	assert_int_equal(json_array_size(json_object_get(a.answer, "id")), 1);
	const json_t *answer = json_object_get(grant(&a, "{\"do\":\"answer\",\"form\":\"json\"}"),
					       "json");
	assert_string_equal(text_of(answer, "verdict"), "cannot tell");
	assert_non_null(strstr(text_of(grant(&a, "{\"do\":\"answer\"}"), "text"), "CANNOT TELL"));
	end(&a);
}

static void an_entry_that_was_granted_is_on_the_disk(void **state)
{
	struct asking a;

	(void)state;
	begin(&a);
	grant(&a, "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\" a\\tb\\u001b \"}");
	json_int_t first = number_of(a.answer, "time_ns");
	assert_int_equal(recorded(&a, NOD_MARK_NOTE, "a b"), 1); /* cleaned, as it is read */
	grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F12\"}");
	assert_true(number_of(a.answer, "time_ns") > first);
	assert_int_equal(recorded(&a, NOD_MARK_ISOLATED, "F12"), 1);
	end(&a);
}

static void an_entry_of_the_past_is_neither_older_nor_newer_than_the_recording(void **state)
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
	begin(&a);
	for (size_t i = 0; i < sizeof(times) / sizeof(*times); i++) {
		json_int_t now = number_of(grant(&a, "{\"do\":\"view\"}"), "now_ns");
		snprintf(
			request, sizeof(request),
			"{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"n%zu\",\"time_ns\":%lld}",
			i, (long long)(now + times[i].from_now));
		if (times[i].why)
			refuse(&a, request, times[i].why);
		else
			grant(&a, request);
		snprintf(request, sizeof(request), "n%zu", i);
		assert_int_equal(recorded(&a, NOD_MARK_NOTE, request), !times[i].why);
	}
	end(&a);
}

static void undo_and_amend_take_the_entry_that_is_named(void **state)
{
	struct asking a;

	(void)state;
	begin(&a);
	grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F1\"}");
	grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F2\"}");
	const json_t *undone = json_object_get(grant(&a, "{\"do\":\"undo\"}"), "undone");
	assert_string_equal(text_of(undone, "subject"), "F2"); /* the last */
	assert_int_equal(recorded(&a, NOD_MARK_ISOLATED, "F2"), 0);
	grant(&a, "{\"do\":\"amend\",\"subject\":\"F3\"}");
	assert_string_equal(text_of(json_object_get(a.answer, "undone"), "subject"), "F1");
	assert_string_equal(text_of(json_object_get(a.answer, "entry"), "subject"), "F3");
	assert_string_equal(text_of(json_object_get(a.answer, "entry"), "kind"), "isolated");
	assert_int_equal(recorded(&a, NOD_MARK_ISOLATED, "F1"), 0);
	assert_int_equal(recorded(&a, NOD_MARK_ISOLATED, "F3"), 1);
	refuse(&a, "{\"do\":\"undo\",\"entry\":{\"kind\":\"isolated\",\"subject\":\"F9\"}}",
	       "there is no such entry to take back");
	assert_int_equal(recorded(&a, NOD_MARK_ISOLATED, "F3"), 1);
	end(&a);
}

static void one_session_at_a_time(void **state)
{
	struct asking a;
	char path[PATH_MAX];

	(void)state;
	begin(&a);
	refuse(&a, "{\"do\":\"start\",\"title\":\"another\"}", "a session is being recorded: ");
	strcpy(path, a.run->daemon.live.directory);
	assert_string_equal(text_of(grant(&a, "{\"do\":\"stop\"}"), "path"), path);
	assert_string_equal(text_of(a.answer, "verdict"), "cannot tell");
	refuse(&a, "{\"do\":\"stop\"}", "no session is being recorded");
	refuse(&a, "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":\"x\"}",
	       "no session is being recorded");
	grant(&a, "{\"do\":\"list\"}");
	assert_int_equal(json_array_size(json_object_get(a.answer, "sessions")), 1);
	assert_string_equal(text_of(a.answer, "recording"), "");
	assert_string_equal(text_of(a.answer, "directory"), a.run->scratch.path);
	end(&a);
}

static void a_reading_of_the_current_is_of_now(void **state)
{
	struct asking a;

	(void)state;
	begin(&a);
	grant(&a, "{\"do\":\"current\",\"microamps\":-123456}");
	mishap_go_on(a.run, kernel.now + 200 * MS); /* held back as frames are */
	const json_t *current = json_object_get(grant(&a, "{\"do\":\"view\"}"), "current");
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
	end(&a);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_lacks_a_field_is_refused_with_the_reason),
		cmocka_unit_test(the_view_and_the_answer_are_of_now),
		cmocka_unit_test(an_entry_that_was_granted_is_on_the_disk),
		cmocka_unit_test(
			an_entry_of_the_past_is_neither_older_nor_newer_than_the_recording),
		cmocka_unit_test(undo_and_amend_take_the_entry_that_is_named),
		cmocka_unit_test(one_session_at_a_time),
		cmocka_unit_test(a_reading_of_the_current_is_of_now),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
