/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "paragraph.h"
#include "vehicle-report.h"

static char *report_of(const char *text)
{
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, strlen(text), "x", &err);
	assert_string_equal(err.text, "");
	char *all = NULL;
	size_t size;
	FILE *out = open_memstream(&all, &size);
	nod_vehicle_report(v, out);
	fclose(out);
	nod_vehicle_free(v);
	return all;
}

static void test_what_was_understood(void **state)
{
	(void)state;
	char *all = report_of(
		"vehicle: Van\n"
		"networks:\n"
		"  body: { interfaces: can0, bitrate: 500k, sleeps within: 10 min, quiet time: 2 s,\n"
		"          management: { scheme: osek, ids: 400-43F } }\n"
		"fuses:\n"
		"  F1: { family: mini, rating: 7.5 A, box: cabin, feeds: [lamp] }\n"
		"  F2: { rating: 500 mA }\n"
		"  F3: {}\n"
		"modules:\n"
		"  door: { networks: body, ids: [1, 10-1F, 300/7F0], node: 2, fuses: F1,\n"
		"          place: left, cautions: alarm }\n"
		"  hub: { gateway: yes, fuses: [F1, F2] }\n");
	assert_string_equal(
		all,
		"Van\n"
		"1 network, 3 fuses, 2 modules, 3 entries of IDs\n"
		"\n"
		"Networks\n"
		"  body    can0, 500000 bit/s, sleeps within 10 min, asleep after 2 s of\n"
		"          silence, OSEK NM 400-43F\n"
		"\n"
		"Fuses, and what hangs on them\n"
		"  F1      mini 7.5 A, cabin: door, hub, lamp\n"
		"  F2      0.5 A: hub\n"
		"  F3      -\n"
		"\n"
		"Modules\n"
		"  door    body: 1 ID, 2 ranges of IDs, node 02, F1, left, caution: alarm\n"
		"  hub     any network: F1, F2, gateway\n"
		"\n"
		"Allowed, but worth a second look\n"
		"  line 6: F1: no resistance is known for a mini fuse of 7.5 A; take the cold\n"
		"          resistance from the fuse's data sheet and give it to the fuse in the\n"
		"          vehicle file (resistance: 7.4 mOhm)\n"
		"  line 7: fuse `F2` needs family and rating to turn millivolts into milliamps\n"
		"  line 8: fuse `F3` feeds nothing\n"
		"  line 8: fuse `F3` needs family and rating to turn millivolts into milliamps\n"
		"  line 12: module `hub` has no IDs: nodoff cannot see it on the network\n");
	free(all);
}

/* Names of any width and script leave the columns straight. */
static void test_names_of_any_width(void **state)
{
	(void)state;
	char *all = report_of(
		"networks: { k\u00F6rper: { interfaces: can0 } }\n"
		"fuses: { aaaaaaaaaabbbbbbbbbbccccccccccddddddddddeeeeeeeeee: { box: b } }\n");
	assert_non_null(strstr(all, "\n  k\u00F6rper  can0"));
	assert_non_null(strstr(all, "\n  aaaaaaaaaabbbbbbbbbbccccccccccddddddddddeeeeeeeeee\n"
				    "          b\n"));
	for (char *line = strtok(all, "\n"); line; line = strtok(NULL, "\n"))
		assert_true(nod_text_columns(line) <= 80);
	free(all);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_was_understood),
		cmocka_unit_test(test_names_of_any_width),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
