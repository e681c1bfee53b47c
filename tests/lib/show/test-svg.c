/* SPDX-License-Identifier: MIT */
/* The writers of markup and SVG: well-formed whatever comes in. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "time-axis.h"
#include "markup.h"
#include "svg.h"

static char *buffer;
static size_t length;

static FILE *start(void)
{
	free(buffer);
	buffer = NULL;
	return open_memstream(&buffer, &length);
}

static void escaped(const char *text, const char *expected)
{
	FILE *out = start();

	nod_markup_text(out, text);
	fclose(out);
	assert_string_equal(buffer, expected);
}

static void text_cannot_become_markup(void **state)
{
	(void)state;
	escaped("<script>alert('x')</script>", "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;");
	escaped("a \" onload=\"b & c", "a &quot; onload=&quot;b &amp; c");
	escaped("Tür, 20 °C, ½", "Tür, 20 °C, ½");
}

static void what_is_no_text_is_replaced(void **state)
{
	(void)state;
	escaped("a\x01\x1b[31mb\x7f", "a\xEF\xBF\xBD\xEF\xBF\xBD[31mb\xEF\xBF\xBD");
	escaped("\xFF\xC0\xAF|\xE2\x82|\xED\xA0\x80", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD|"
						      "\xEF\xBF\xBD\xEF\xBF\xBD|\xEF\xBF\xBD");
	escaped("\xE2\x80\xAE"
		"abc",
		"\xEF\xBF\xBD"
		"abc"); /* turns the text around */
	escaped("\xF0\x9F\x9A\x97", "\xF0\x9F\x9A\x97");
	escaped("\xF4\x90\x80\x80", "\xEF\xBF\xBD");
}

static void a_format_escapes_its_strings_only(void **state)
{
	FILE *out = start();

	(void)state;
	nod_markup(out, "<b title=\"%s\">%s</b> 5 %% %Z", "\"", "<i>", "<br>");
	fclose(out);
	assert_string_equal(buffer, "<b title=\"&quot;\">&lt;i&gt;</b> 5 % <br>");
}

static void numbers_are_short_and_finite(void **state)
{
	FILE *out = start();

	(void)state;
	nod_svg_line(out, -0.04, 1.26, NAN, INFINITY, "a");
	nod_svg_rect(out, 3, 4, 0.01, 7.5, "b", "t<");
	nod_svg_path_begin(out, "c");
	nod_svg_point(out, 'M', 1, -2.5);
	nod_svg_point(out, 'H', 4, 9);
	nod_svg_point(out, 'V', 9, 4);
	nod_svg_path_end(out, NULL);
	fclose(out);
	assert_string_equal(buffer, "<line class=\"a\" x1=\"0\" y1=\"1.3\" x2=\"0\" y2=\"0\"/>\n"
				    "<rect class=\"b\" x=\"3\" y=\"4\" width=\"1\" height=\"7.5\">"
				    "<title>t&lt;</title></rect>\n"
				    "<path class=\"c\" d=\"M1 -2.5H4V4\"/>\n");
}

static struct nod_axis axis_from_to(int64_t from_s, int64_t to_s)
{
	return (struct nod_axis){
		{from_s * NOD_NS_PER_S}, {to_s * NOD_NS_PER_S}, {0}, "lock", 100, 800};
}

static void an_axis_goes_both_ways(void **state)
{
	struct nod_axis a = axis_from_to(-10, 90);

	(void)state;
	assert_true(fabs(nod_axis_x(&a, (nod_time){40 * NOD_NS_PER_S}) - 500) < 1e-6);
	assert_true(fabs(nod_axis_x(&a, NOD_TIME_NONE) - 100) < 1e-6);
	assert_int_equal(nod_axis_time(&a, 500).ns, 40 * NOD_NS_PER_S);
	assert_int_equal(nod_axis_time(&a, 5000).ns, 90 * NOD_NS_PER_S);
}

static void ticks_are_times_people_count_in(void **state)
{
	struct nod_axis minute = axis_from_to(-5, 60), days = axis_from_to(-60, 3 * 86400);
	char text[NOD_TIME_TEXT];

	(void)state;
	nod_duration step = nod_axis_step(&minute, 10);
	assert_int_equal(step.ns, 10 * NOD_NS_PER_S);
	assert_int_equal(nod_axis_first_tick(&minute, step).ns, 0);
	assert_string_equal(nod_axis_tick_text(text, &minute, (nod_duration){0}, step), "lock");
	assert_string_equal(nod_axis_tick_text(text, &minute, nod_seconds(-10), step), "-10 s");
	step = nod_axis_step(&days, 10);
	assert_int_equal(step.ns, 12 * 3600 * NOD_NS_PER_S);
	assert_string_equal(nod_axis_tick_text(text, &days, nod_seconds(36 * 3600), step), "36 h");
	step = nod_axis_step(&minute, 1);
	assert_int_equal(step.ns, 120 * NOD_NS_PER_S);
	assert_string_equal(nod_axis_tick_text(text, &minute, nod_seconds(90), nod_seconds(30)),
			    "1.5 min");
}

static int release(void **state)
{
	(void)state;
	free(buffer);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(text_cannot_become_markup),
		cmocka_unit_test(what_is_no_text_is_replaced),
		cmocka_unit_test(a_format_escapes_its_strings_only),
		cmocka_unit_test(numbers_are_short_and_finite),
		cmocka_unit_test(an_axis_goes_both_ways),
		cmocka_unit_test(ticks_are_times_people_count_in),
	};

	return cmocka_run_group_tests(tests, NULL, release);
}
