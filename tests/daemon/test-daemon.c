/* SPDX-License-Identifier: MIT */
/* Recordings follow each other, a second brings what is heard to the disk and to who watches, a
 * disk that is full is said, and a signal ends it all. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "asking.h"
#include "daemon-internal.h"
#include "session.h"

/* ---- what it says ---- */

static int error_output = -1;

static void begin_hearing(FILE **said)
{
	*said = tmpfile();
	assert_non_null(*said);
	fflush(stderr);
	error_output = dup(STDERR_FILENO);
	assert_true(dup2(fileno(*said), STDERR_FILENO) >= 0);
}

static const char *end_hearing(FILE *said)
{
	static char text[4096];

	fflush(stderr);
	assert_true(dup2(error_output, STDERR_FILENO) >= 0);
	close(error_output);
	rewind(said);
	text[fread(text, 1, sizeof(text) - 1, said)] = '\0';
	fclose(said);
	return text;
}

static unsigned count(const char *text, const char *part)
{
	unsigned found = 0;

	for (; (text = strstr(text, part)); text += strlen(part))
		found++;
	return found;
}

static void what_is_said_has_the_time_and_moves_no_terminal(void **state)
{
	FILE *said;

	(void)state;
	begin_hearing(&said);
	nod_daemon_say("the title \"%s\"", "a\033[2Jb\n");
	assert_non_null(strstr(end_hearing(said), " the title \"a?[2Jb?\"\n"));
}

/* ---- recordings ---- */

struct recorded {
	uint64_t frames;
	unsigned gaps, started, stopped;
	char title[80];
};

static struct recorded read_again(const char *path)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);
	const struct nod_event *event;
	struct recorded r = {0};

	assert_non_null(session);
	snprintf(r.title, sizeof(r.title), "%s", nod_session_about(session, "title"));
	while (nod_session_next(session, &event, &err) > 0) {
		r.frames += event->kind == NOD_EVENT_FRAME;
		r.gaps += event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_GAP;
		r.started += event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_STARTED;
		r.stopped += event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_STOPPED;
	}
	nod_session_close(session);
	return r;
}

/* From now on frames come again for so long. */
static void let_frames_come(struct asking *a, int64_t length)
{
	kernel.next = kernel.now + kernel.period;
	kernel.last = kernel.now + length;
	mishap_go_on(a->run, kernel.last + S);
}

static void one_recording_after_the_other_has_what_came_meanwhile(void **state)
{
	struct asking a;
	char first[PATH_MAX], second[PATH_MAX];

	(void)state;
	asking_begin(&a);
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F1\"}");
	strcpy(first, asking_text(asking_grant(&a, "{\"do\":\"stop\"}"), "path"));
	let_frames_come(&a, S); /* belongs to no recording */
	assert_string_equal(
		asking_text(json_object_get(asking_grant(&a, "{\"do\":\"view\"}"), "session"),
			    "path"),
		"");
	strcpy(second, asking_text(asking_grant(&a, "{\"do\":\"start\",\"title\":\"b\"}"), "path"));
	assert_string_not_equal(first, second);
	let_frames_come(&a, 2 * S);
	asking_refuse(&a, "{\"do\":\"undo\"}", "there is no mark to take back"); /* of the first */
	asking_grant(&a, "{\"do\":\"stop\"}");

	struct recorded one = read_again(first), two = read_again(second);
	assert_string_equal(one.title, "clock");
	assert_string_equal(two.title, "b");
	assert_in_range(one.frames, 298, 300);
	assert_in_range(two.frames, 198, 200);
	assert_int_equal(one.started + one.stopped, 2);
	assert_int_equal(two.started + two.stopped, 2);
	assert_int_equal(two.gaps, 0); /* before its start there is nothing that it missed */
	asking_end(&a);
}

static void the_end_of_a_recording_gives_its_answer(void **state)
{
	struct asking a;
	struct nod_error err = {""};
	json_t *answer = NULL;

	(void)state;
	asking_begin(&a);
	assert_int_equal(nod_daemon_end_record(&a.run->daemon, &answer, &err), 0);
	assert_string_equal(asking_text(answer, "verdict"), "cannot tell");
	assert_non_null(strstr(asking_text(answer, "sentence"), "can0"));
	assert_non_null(strstr(asking_text(answer, "text"), "299 frames in 5.0 s"));
	json_decref(answer);
	answer = NULL;
	assert_true(nod_daemon_end_record(&a.run->daemon, &answer, &err) < 0);
	assert_null(answer);
	assert_string_equal(err.text, "no session is being recorded");
	assert_non_null(a.run->daemon.live.engine); /* it listens on */
	asking_end(&a);
}

/* ---- time goes on ---- */

static void who_watches_is_told_every_second(void **state)
{
	struct asking a;

	(void)state;
	asking_begin(&a);
	asking_grant(&a, "{\"do\":\"view\"}");
	mishap_go_on(a.run, kernel.now + 3 * S);
	asking_grant(&a, "{\"do\":\"view\"}");
	assert_int_equal(a.views, 0); /* not asked for */
	asking_grant(&a, "{\"do\":\"watch\"}");
	unsigned before = a.views;
	mishap_go_on(a.run, kernel.now + 8 * S); /* ten times 0.8 s */
	asking_grant(&a, "{\"do\":\"view\"}");
	assert_in_range(a.views - before, 9, 13);
	asking_end(&a);
}

static void a_full_disk_is_said_once_and_so_is_its_end(void **state)
{
	struct asking a;
	struct rlimit unlimited, full = {200, RLIM_INFINITY};
	FILE *said;

	(void)state;
	asking_begin(&a);
	signal(SIGXFSZ, SIG_IGN);
	assert_int_equal(getrlimit(RLIMIT_FSIZE, &unlimited), 0);
	full.rlim_max = unlimited.rlim_max;
	begin_hearing(&said);
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &full), 0);
	let_frames_come(&a, 3 * S);
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &unlimited), 0);
	mishap_go_on(a.run, kernel.now + 30 * S);
	const char *text = end_hearing(said);
	assert_int_equal(count(text, "the recording cannot be written: File too large"), 1);
	assert_int_equal(count(text, "the recording is written again"), 1);
	assert_int_equal(a.run->daemon.recording_error, 0);
	asking_end(&a);
}

static void an_entry_that_found_no_room_cannot_be_taken_back(void **state)
{
	struct asking a;
	struct rlimit unlimited, full = {1, RLIM_INFINITY};

	(void)state;
	asking_begin(&a);
	signal(SIGXFSZ, SIG_IGN);
	assert_int_equal(getrlimit(RLIMIT_FSIZE, &unlimited), 0);
	full.rlim_max = unlimited.rlim_max;
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &full), 0);
	asking_refuse(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F9\"}",
		      "File too large");
	assert_int_equal(setrlimit(RLIMIT_FSIZE, &unlimited), 0);
	asking_grant(&a, "{\"do\":\"undo\"}");
	assert_int_equal(asking_recorded(&a, NOD_MARK_LOCKED, ""),
			 0); /* the last one that there was */
	asking_end(&a);
}

static void the_start_moves_with_the_clock(void **state)
{
	struct asking a;
	json_int_t before;

	(void)state;
	asking_begin(&a);
	before = asking_number(json_object_get(asking_grant(&a, "{\"do\":\"view\"}"), "session"),
			       "started_ns");
	kernel.jumps[0] = (struct jump){.at = kernel.now + S, .set = 3600 * S};
	mishap_go_on(a.run, kernel.now + 3 * S);
	json_int_t after = asking_number(
		json_object_get(asking_grant(&a, "{\"do\":\"view\"}"), "session"), "started_ns");
	assert_in_range(after - before, 3600 * S - MS, 3600 * S + MS);
	asking_end(&a);
}

static void after_a_correction_the_analysis_follows(void **state)
{
	struct asking a;
	struct nod_daemon *daemon;

	(void)state;
	asking_begin(&a);
	daemon = &a.run->daemon;
	asking_grant(&a, "{\"do\":\"mark\",\"kind\":\"isolated\",\"subject\":\"F1\"}");
	asking_grant(&a, "{\"do\":\"undo\"}");
	assert_true(ev_is_active(&daemon->follow));
	for (int i = 0; i < 10 && ev_is_active(&daemon->follow); i++) {
		ev_feed_event(daemon->loop, &daemon->follow, EV_TIMER);
		ev_invoke_pending(daemon->loop);
	}
	assert_false(ev_is_active(&daemon->follow));
	const json_t *view = asking_grant(&a, "{\"do\":\"view\"}");
	assert_int_equal(json_array_size(json_object_get(view, "out")), 0);
	asking_end(&a);
}

static void a_signal_ends_the_loop_and_the_recording_is_whole(void **state)
{
	struct asking a;
	char path[PATH_MAX];

	(void)state;
	asking_begin(&a);
	strcpy(path, a.run->daemon.live.directory);
	raise(SIGTERM);
	ev_run(a.run->daemon.loop, 0); /* would never return */
	kernel.next = kernel.now - 50 * MS;
	kernel.last = kernel.now; /* came just before, and is held back */
	nod_daemon_flush(&a.run->daemon);
	nod_live_close(&a.run->daemon.live, (nod_time){nod_daemon_now().ns});
	struct recorded r = read_again(path);
	assert_int_equal(r.stopped, 1);
	assert_in_range(r.frames, 303, 305);
	asking_end(&a);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_said_has_the_time_and_moves_no_terminal),
		cmocka_unit_test(one_recording_after_the_other_has_what_came_meanwhile),
		cmocka_unit_test(the_end_of_a_recording_gives_its_answer),
		cmocka_unit_test(who_watches_is_told_every_second),
		cmocka_unit_test(a_full_disk_is_said_once_and_so_is_its_end),
		cmocka_unit_test(an_entry_that_found_no_room_cannot_be_taken_back),
		cmocka_unit_test(the_start_moves_with_the_clock),
		cmocka_unit_test(after_a_correction_the_analysis_follows),
		cmocka_unit_test(a_signal_ends_the_loop_and_the_recording_is_whole),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
