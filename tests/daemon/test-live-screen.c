/* SPDX-License-Identifier: MIT */
/* The live view's lines and events (cli/live-screen.c, cli/live-events.c). */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "live-events.h"
#include "live-screen.h"
#include "plain-text.h"

static struct nod_live_screen screen;

#define S "000000000" /* seconds to nanoseconds */

static const char view_text[] =
	"{\"now_ns\": 1700000600" S ", \"verdict\": \"cannot tell\","
	"\"sentence\": \"body is awake and its settle deadline has not passed, so that nobody can"
	" know yet whether it would have gone to sleep by itself.\", \"next\": \"Wait.\","
	"\"session\": {\"recording\": true, \"started_ns\": 1700000000" S ", \"frames\": 1234,"
	" \"problem\": \"\"},"
	"\"taps\": [{\"interface\": \"can0\", \"state\": \"listening\", \"listening\": true,"
	" \"note\": \"\", \"frames\": 1234, \"lost\": 0},"
	" {\"interface\": \"can1\", \"state\": \"not used\", \"listening\": false,"
	" \"note\": \"can1 is up and acknowledges frames\", \"frames\": 0, \"lost\": 0}],"
	"\"networks\": [{\"name\": \"body\", \"interface\": \"can0\", \"listening\": true,"
	" \"state\": \"awake\", \"since_ns\": 1700000300" S ", \"deadline_ns\": 1700001200" S ","
	" \"load\": 0.217},"
	" {\"name\": \"comfort\", \"interface\": \"can1\", \"listening\": false,"
	" \"state\": \"asleep\", \"since_ns\": null, \"deadline_ns\": 1700000599" S ","
	" \"load\": -1}],"
	"\"current\": {\"time_ns\": 1700000600" S ", \"microamps\": 431000},"
	"\"suspects\": [{\"name\": \"roof unit\", \"role\": \"holder\", \"probability\": 0.63}],"
	"\"wake\": {\"time_ns\": 1700000300" S ", \"network\": \"body\", \"who\": \"key unit\","
	" \"cause\": \"door\", \"count\": 1},"
	"\"marks\": [{\"time_ns\": 1700000001" S ", \"kind\": \"locked\", \"subject\": \"\"}]}";

static json_t *load(void)
{
	json_error_t error;
	json_t *view = json_loads(view_text, 0, &error);

	if (!view)
		fail_msg("%s at %d", error.text, error.column);
	return view;
}

static void assert_line(const char *text)
{
	for (int i = 0; i < screen.count; i++)
		if (!strcmp(screen.lines[i], text))
			return;
	for (int i = 0; i < screen.count; i++)
		print_message("%s|\n", screen.lines[i]);
	fail_msg("no line `%s`", text);
}

static char *events(const json_t *old, const json_t *view, bool as_json)
{
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	assert_non_null(out);
	nod_live_events_print(out, old, view, as_json);
	assert_int_equal(fclose(out), 0);
	return text;
}

static void shows_the_state_at_one_glance(void **state)
{
	json_t *view = load();

	(void)state;
	nod_live_screen_render(&screen, view, 80, 24);
	assert_true(screen.count <= 22);
	assert_line("nodoff live  22:23:20  recording 10 min 00 s, 1234 frames");
	assert_line("cannot tell: body is awake and its settle deadline has not passed, so that");
	assert_line(
		"body (can0)          awake              5 min 00 s   10 min 00 s         21.7 %");
	assert_line("current: 0.431 A");
	assert_line("suspects: settling, wait 10 min 00 s");
	assert_line("last wake-up: 22:18:20 body by key unit (door)");
	assert_line("next: Wait.");
	assert_line("journal: 22:13:21 locked ");
	json_decref(view);
}

static void does_not_call_an_unheard_network_asleep(void **state)
{
	json_t *view = load();

	(void)state;
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line(
		"comfort (can1)       not listening                   over by 1.0 s             ");
	assert_line("can1: not used: can1 is up and acknowledges frames");
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 1), "listening",
			    json_true());
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 1), "state",
			    json_string("nothing heard"));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line(
		"comfort (can1)       nothing heard here              over by 1.0 s             ");
	json_decref(view);
}

static void names_suspects_after_the_deadline(void **state)
{
	json_t *view = load();

	(void)state;
	json_object_set_new(view, "now_ns", json_integer(INT64_C(1700001300000000000)));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line("suspects:  63 %  roof unit, holder");
	assert_line("current: 0.431 A, 11 min 40 s old");
	json_decref(view);
}

static void fits_every_size_and_any_content(void **state)
{
	json_t *view = load();

	(void)state;
	json_object_set_new(view, "sentence",
			    json_string("ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü"));
	for (int width = 0; width < 200; width += 7) {
		for (int height = 0; height < 80; height += 3) {
			nod_live_screen_render(&screen, view, width, height);
			assert_true(screen.count <= (height < 10 ? 10 : height) - 2);
			for (int i = 0; i < screen.count; i++) {
				int columns = 0;
				for (const char *p = screen.lines[i]; *p; p++)
					columns += ((unsigned char)*p & 0xC0) != 0x80;
				assert_true(columns <= (width < 40 ? 40 : width));
			}
		}
	}
	json_decref(view);
	view = json_object(); /* nothing of what was expected */
	nod_live_screen_render(&screen, view, 80, 24);
	free(events(NULL, view, false));
	json_decref(view);
}

/* The moment that counts while a fuse is out; older advice gives way. */
static void says_how_long_to_wait(void **state)
{
	json_t *view = load(), *out;
	json_t *network = json_array_get(json_object_get(view, "networks"), 0);

	(void)state;
	out = json_pack("[{s:s, s:I, s:I, s:s, s:s, s:s}]", "subject", "F02", "since_ns",
			(json_int_t)1700000500 * 1000000000, "until_ns",
			(json_int_t)1700000740 * 1000000000, "network", "body", "result",
			"undecided", "text", "");
	json_object_set_new(view, "waits", out);
	nod_live_screen_render(&screen, view, 80, 24);
	assert_string_equal(screen.lines[1], "F02 is out since 22:21:40: wait until 22:25:40");
	for (int i = 0; i < screen.count; i++)
		assert_null(strstr(screen.lines[i], "next:"));
	json_object_set_new(network, "state", json_string("asleep"));
	json_object_set_new(network, "since_ns", json_integer((json_int_t)1700000524 * 1000000000));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line("body sleeps since 22:22:04, 24.0 s after F02 was pulled.");
	bool next = false; /* what that shows, and that it is to be put back */
	for (int i = 0; i < screen.count; i++)
		next |= !strncmp(screen.lines[i], "next:", 5);
	assert_true(next);
	json_decref(view);
}

static void asks_what_nobody_noted(void **state)
{
	json_t *view = load();

	(void)state;
	json_object_set_new(view, "questions",
			    json_pack("[{s:I, s:s, s:s, s:s}]", "time_ns",
				      (json_int_t)1700000500 * 1000000000, "kind", "isolated",
				      "subject", "F12", "text",
				      "7 messages of 2 modules stopped at once: F12?"));
	json_object_set_new(view, "sentence", json_string("Cannot tell: body is awake."));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line("? 22:21:40 7 messages of 2 modules stopped at once: F12?");
	assert_line("  y: yes   o: another   x: nothing was done");
	assert_line("Cannot tell: body is awake."); /* not doubled */
	json_decref(view);
}

/* Names of the map, marks and notes may hold what a terminal acts on. */
static void shows_no_control_character(void **state)
{
	json_t *view = load();

	(void)state;
	json_object_set_new(view, "sentence",
			    json_string("Cannot tell: \033[2J\nred\tcold\302\233m \177 \303\274"));
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 0), "name",
			    json_string("b\033]0;x\007y"));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line("Cannot tell: ?[2J?red?cold??m ? \303\274");
	for (int i = 0; i < screen.count; i++)
		for (const char *p = screen.lines[i]; *p; p++)
			assert_int_equal(nod_control_length(p), 0);
	json_decref(view);
}

static void tells_changes_once(void **state)
{
	json_t *old = load(), *view = load();
	char *text = events(NULL, old, false);

	(void)state;
	assert_non_null(strstr(text, "22:18:20 body: awake, deadline in 10 min 00 s\n"));
	assert_non_null(strstr(text, "22:18:20 body: woken by key unit\n"));
	free(text);
	text = events(old, view, false);
	assert_string_equal(text, "");
	free(text);
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 0), "state",
			    json_string("asleep"));
	text = events(old, view, true);
	assert_string_equal(
		text, "{\"nodoff\":1,\"time_ns\":1700000300000000000,\"what\":\"state\",\"about\":"
		      "\"body\",\"text\":\"asleep\"}\n");
	free(text);
	json_object_set_new(view, "marks",
			    json_pack("[{s:I, s:s, s:s}]", "time_ns",
				      (json_int_t)1700000001 * 1000000000, "kind", "locked",
				      "subject", "again"));
	text = events(old, view, false);
	assert_non_null(strstr(text,
			       "22:13:21 journal: locked again\n22:13:21 journal: taken back: "
			       "locked \n"));
	free(text);
	json_decref(old);
	json_decref(view);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(shows_the_state_at_one_glance),
		cmocka_unit_test(does_not_call_an_unheard_network_asleep),
		cmocka_unit_test(names_suspects_after_the_deadline),
		cmocka_unit_test(fits_every_size_and_any_content),
		cmocka_unit_test(says_how_long_to_wait),
		cmocka_unit_test(asks_what_nobody_noted),
		cmocka_unit_test(shows_no_control_character),
		cmocka_unit_test(tells_changes_once),
	};

	setenv("TZ", "UTC", 1);
	tzset();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
