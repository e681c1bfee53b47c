/* SPDX-License-Identifier: MIT */
/* Messages and signals of a vehicle file: read, refused, found, written. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle.h"

#define NETWORK "networks:\n  body: { interfaces: can0 }\n  engine: { interfaces: can1 }\n"

static const char whole[] = NETWORK
	"messages:\n"
	"  TailgateStatus:\n"
	"    id: 418\n"
	"    networks: [body]\n"
	"    length: 8\n"
	"    period: 100 ms\n"
	"    sent: cyclic\n"
	"    senders: [tailgate module, spare]\n"
	"    comment: \"of the tailgate: both\"\n"
	"    signals:\n"
	"      Temperature: { at: byte 7 bit 0, bits: 8, type: signed, unit: degC, when: { Page: [1, 4-6] } }\n"
	"      TailgateSwitch: { at: byte 4 bit 5, values: { 0: closed, 1: open } }\n"
	"      Battery voltage: { at: byte 0 bit 7, bits: 12, byte order: big, factor: 0.01, offset: -1.5, unit: V }\n"
	"      Page: { at: byte 6 bit 0, bits: 4 }\n"
	"  Same number elsewhere:\n"
	"    id: 418\n"
	"    networks: [engine]\n"
	"  Engine speed:\n"
	"    id: 00F00400/03FFFF00\n"
	"    signals:\n"
	"      Speed: { at: byte 3 bit 0, bits: 16, factor: 0.125, unit: 1/min, comment: \"not \\\"it\\\"\" }\n"
	"      Exact: { at: byte 0 bit 0, bits: 64, values: { 18446744073709551615: none } }\n"
	"      Real: { at: byte 0 bit 0, bits: 32, type: float, factor: 1.5e-07 }\n";

static struct nod_vehicle *parse(const char *text, struct nod_error *err)
{
	return nod_vehicle_parse(text, strlen(text), "car.yaml", err);
}

static void test_what_is_read(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct nod_vehicle *v = parse(whole, &err);
	assert_string_equal(err.text, "");
	assert_non_null(v);
	const struct nod_message *m = &v->messages[0];
	assert_int_equal(v->message_count, 3);
	assert_int_equal(m->id.first, 0x418);
	assert_int_equal(m->length, 8);
	assert_int_equal(m->period.ns, 100 * NOD_NS_PER_MS);
	assert_int_equal(m->sender_count, 2);
	assert_int_equal(m->signal_count, 4);
	assert_int_equal(m->signals[0].selector, 3);
	assert_int_equal(m->signals[0].selected[1].last, 6);
	assert_int_equal(m->signals[1].start, 37);
	assert_int_equal(m->signals[1].values[1].raw, 1);
	assert_true(m->signals[2].big_endian);
	assert_true(m->signals[2].offset == -1.5);
	assert_int_equal(v->messages[2].signals[1].values[0].raw, -1);
	nod_vehicle_free(v);
}

static char *written(const struct nod_vehicle *v)
{
	char *text;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	assert_int_equal(nod_vehicle_write(v, out), 0);
	assert_int_equal(fclose(out), 0);
	return text;
}

/* What is written is word for word what was read, so nothing is lost on either way. */
static void test_what_is_written(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	assert_non_null(v);
	char *text = written(v);
	assert_non_null(strstr(text, "messages:\n"));
	assert_string_equal(strstr(text, "messages:\n"), strstr(whole, "messages:\n"));
	free(text);
	nod_vehicle_free(v);
}

static void test_which_message_an_id_is(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	assert_non_null(v);
	assert_int_equal(nod_vehicle_message_of_id(v, 0, 0x418), 0);
	assert_int_equal(nod_vehicle_message_of_id(v, 1, 0x418), 1);
	assert_int_equal(nod_vehicle_message_of_id(v, NOD_NONE, 0x418), 0);
	assert_int_equal(nod_vehicle_message_of_id(v, 0, 0x417), NOD_NONE);
	/* J1939: priority and source address do not matter under that mask */
	assert_int_equal(nod_vehicle_message_of_id(v, 1, 0x18F00421 | NOD_ID_EXTENDED), 2);
	assert_int_equal(nod_vehicle_message_of_id(v, 1, 0x18F00521 | NOD_ID_EXTENDED), NOD_NONE);
	assert_int_equal(nod_vehicle_message_of_id(v, 1, 0x400), NOD_NONE);
	nod_vehicle_free(v);
}

static void test_no_network_is_needed(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse("messages:\n  A:\n    id: 100\n", NULL);
	assert_non_null(v);
	assert_int_equal(nod_vehicle_message_of_id(v, NOD_NONE, 0x100), 0);
	assert_int_equal(nod_vehicle_message_of_id(v, 5, 0x100), 0);
	char *text = written(v);
	assert_string_equal(text, "messages:\n  A:\n    id: 100\n");
	free(text);
	nod_vehicle_free(v);
	struct nod_error err = {""};
	assert_null(parse(
		"modules: { a: { ids: 1 }, b: { ids: 1 } }\nmessages: { A: { id: 100 } }\n", &err));
	assert_non_null(strstr(err.text, "ID 001 is claimed by `b`"));
}

static void refused(const char *messages, const char *place, const char *expected)
{
	struct nod_error err = {""};
	char text[400];

	snprintf(text, sizeof(text), "messages:\n  A:\n%s", messages);
	assert_null(parse(text, &err));
	if (strncmp(err.text, place, strlen(place)) || !strstr(err.text, expected))
		fail_msg("`%s`, expected `%s...%s`", err.text, place, expected);
}

#define SIGNAL(keys) "    id: 100\n    length: 2\n    signals: { S: {" keys "} }\n"

static void test_what_is_refused(void **state)
{
	(void)state;
	refused("    length: 8\n", "car.yaml:2:3: ", "message `A` has no `id`");
	refused("    id: 100-101\n", "car.yaml:3:9: ", "found a range");
	refused("    id: 100\n    length: 1786\n",
		"car.yaml:4:13: ", "from 0 to 1785, found `1786`");
	refused(SIGNAL(""), "car.yaml:5:16: ", "signal `S` has no `at`");
	refused(SIGNAL("at: byte 4"), "car.yaml:5:24: ", "such as `byte 4 bit 5`");
	refused(SIGNAL("at: byte 0 bit 8"), "car.yaml:5:24: ", "such as `byte 4 bit 5`");
	refused(SIGNAL("at: 15, bits: 2"), "car.yaml:5: ", "reaches into byte 2");
	refused(SIGNAL("at: byte 1 bit 0, bits: 2, byte order: big"),
		"car.yaml:5: ", "reaches into byte 2");
	refused(SIGNAL("at: 0, bits: 65"), "car.yaml:5:33: ", "from 1 to 64");
	refused(SIGNAL("at: 0, bits: 8, type: float"), "car.yaml:5:16: ", "32 or 64 of a float");
	refused(SIGNAL("at: 0, factor: 0.1 V"), "car.yaml:5:35: ", "a factor such as `0.01`");
	refused(SIGNAL("at: 0, values: { on: off }"), "car.yaml:5:37: ", "a whole number before");
	refused(SIGNAL("at: 0, values: { 1: a, 01: b }"), "car.yaml:5:43: ", "stands twice");
	refused(SIGNAL("at: 0, when: { T: 1 }"), "car.yaml:5:35: ", "no signal `T` in `A`");
	refused(SIGNAL("at: 0, when: { S: 1 }"), "car.yaml:5: ", "depends on itself");
	refused(SIGNAL("at: 0, when: { S: 3-1 }"), "car.yaml:5:38: ", "a range such as `4-6`");
	refused("    id: 100\n  B:\n    id: 100\n",
		"car.yaml:4: ", "has the ID 100 of `A` on line 2");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_is_read),
		cmocka_unit_test(test_what_is_written),
		cmocka_unit_test(test_which_message_an_id_is),
		cmocka_unit_test(test_no_network_is_needed),
		cmocka_unit_test(test_what_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
