/* The live view's lines (cli/live-screen.c). */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "live-screen.h"

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

static void shows_the_state_at_one_glance(void **state)
{
	json_t *view = load();

	(void)state;
	nod_live_screen_render(&screen, view, 80, 24);
	assert_true(screen.count <= 22);
	assert_line("nodoff live  22:23:20  recording 10 min 00 s, 1234 frames");
	assert_line("cannot tell: body is awake and its settle deadline has not passed, so that");
	assert_line("body (can0)          awake              5 min 00 s   10 min 00 s         21.7 %");
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
	assert_line("comfort (can1)       not listening                   over by 1.0 s             ");
	assert_line("can1: not used: can1 is up and acknowledges frames");
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 1), "listening",
			    json_true());
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 1), "state",
			    json_string("nothing heard"));
	nod_live_screen_render(&screen, view, 80, 24);
	assert_line("comfort (can1)       nothing heard here              over by 1.0 s             ");
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
	json_object_set_new(view, "sentence", json_string("ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü ß ä ö ü"));
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
	nod_live_screen_changes(&screen, NULL, view);
	json_decref(view);
}

static void tells_changes_once(void **state)
{
	json_t *old = load(), *view = load();

	(void)state;
	nod_live_screen_changes(&screen, NULL, old);
	assert_line("22:23:20 body: awake, deadline in 10 min 00 s");
	assert_line("22:18:20 woken: body by key unit");
	nod_live_screen_changes(&screen, old, view);
	assert_int_equal(screen.count, 0);
	json_object_set_new(json_array_get(json_object_get(view, "networks"), 0), "state",
			    json_string("asleep"));
	nod_live_screen_changes(&screen, old, view);
	assert_int_equal(screen.count, 1);
	assert_line("22:23:20 body: asleep, deadline in 10 min 00 s");
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
		cmocka_unit_test(tells_changes_once),
	};

	setenv("TZ", "UTC", 1);
	tzset();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
