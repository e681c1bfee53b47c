/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "pins.h"

#define HS NOD_PINS_HIGH_SPEED
#define FT NOD_PINS_FAULT_TOLERANT
#define ANY NOD_PINS_ANY_LAYER
#define NONE NOD_NOT_MEASURED

static struct nod_pins_input readings(enum nod_pins_layer layer, int canh_mv, int canl_mv)
{
	return (struct nod_pins_input){.layer = layer,
				       .canh_uv = canh_mv * INT64_C(1000),
				       .canl_uv = canl_mv * INT64_C(1000),
				       .count_uv = 10000,
				       .ohms_uohm = NONE,
				       .battery_uv = NONE,
				       .load_ppm = NONE,
				       .dominant_ppm = NONE};
}

static struct nod_pins_input ohms(enum nod_pins_layer layer, int value, enum nod_pins_power power)
{
	struct nod_pins_input in = readings(layer, 0, 0);

	in.canh_uv = in.canl_uv = NONE;
	in.ohms_uohm = value * INT64_C(1000000);
	in.power = power;
	return in;
}

static struct nod_pins *judged(struct nod_pins_input in)
{
	struct nod_error err = {""};
	struct nod_pins *p = nod_pins_judge(&in, &err);

	if (!p)
		print_error("%s\n", err.text);
	assert_non_null(p);
	for (size_t i = 0; i < p->finding_count; i++)
		assert_true(strlen(p->findings[i].text) > 20);
	return p;
}

static void assert_state(struct nod_pins_input in, enum nod_pins_state state, const char *says)
{
	struct nod_pins *p = judged(in);

	if (p->finding_count != 1 || p->findings[0].state != state)
		print_error("%s: %s\n", nod_pins_state_name(p->findings[0].state),
			    p->findings[0].text);
	assert_int_equal(p->finding_count, 1);
	assert_int_equal(p->findings[0].state, state);
	assert_non_null(strstr(p->findings[0].text, says));
	nod_pins_free(p);
}

static void test_high_speed_voltages(void **state)
{
	(void)state;
	static const struct {
		int canh, canl;
		enum nod_pins_state state;
		const char *says;
	} cases[] = {
		/* Data sheet: -0.1 .. 0.1 V with the bias off. */
		{0, 0, NOD_PINS_ASLEEP, "Asleep"},
		{100, -100, NOD_PINS_ASLEEP, "Asleep"},
		/* Published: 2.5 V per line at rest. */
		{2500, 2500, NOD_PINS_QUIET, "need not be silent"},
		{2620, 2380, NOD_PINS_BUSY, "Dominant 12 % of the time"},
		/* Published readings of a running machine: 2.7-3.3 and 1.7-2.3 V. */
		{2700, 2300, NOD_PINS_BUSY, "with traffic"},
		{3300, 1700, NOD_PINS_BUSY, "with traffic"},
		{3500, 1500, NOD_PINS_HELD, "Held dominant"},
		{2380, 2620, NOD_PINS_SWAPPED, "exchanged"},
		{12400, 12100, NOD_PINS_TO_BATTERY, "CANH is shorted to battery"},
		{11900, 12400, NOD_PINS_TO_BATTERY, "CANL is shorted to battery"},
		{12400, 12400, NOD_PINS_TO_BATTERY, "which of them it is does not show"},
		{2600, 0, NOD_PINS_OPEN, "CANL does not reach"},
		{0, 2400, NOD_PINS_OPEN, "CANH does not reach"},
		{300, 0, NOD_PINS_TO_GROUND, "CANL is shorted to ground"},
		{0, 300, NOD_PINS_TO_GROUND, "CANH is shorted to ground"},
		{1200, 1200, NOD_PINS_BETWEEN, "again and again"},
		{4900, 4800, NOD_PINS_TO_BATTERY, "pulls them up"},
		{-2500, -2500, NOD_PINS_UNTRUSTED, "not on ground"},
		{0, 5000, NOD_PINS_CONTRADICTORY, "do not occur together"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_state(readings(HS, cases[i].canh, cases[i].canl), cases[i].state,
			     cases[i].says);
}

static void test_fault_tolerant_voltages(void **state)
{
	(void)state;
	static const struct {
		int canh, canl;
		enum nod_pins_state state;
		const char *says;
	} cases[] = {
		/* Data sheet: CANL biased to battery voltage in sleep. */
		{0, 12400, NOD_PINS_ASLEEP, "Asleep"},
		/* Data sheets: CANH <= 0.2 V, CANL >= supply - 0.2 V recessive. */
		{200, 4800, NOD_PINS_QUIET, "need not be silent"},
		{430, 4570, NOD_PINS_BUSY, "Dominant 10 % of the time"},
		{4000, 1000, NOD_PINS_HELD, "Held dominant"},
		{5000, 0, NOD_PINS_SWAPPED, "exchanged"},
		{12400, 12400, NOD_PINS_TO_BATTERY, "CANH is shorted to battery"},
		{600, 12400, NOD_PINS_TO_BATTERY, "CANL to battery"},
		{0, 0, NOD_PINS_TO_GROUND, "CANL is shorted to ground"},
		{2400, 2400, NOD_PINS_TOGETHER, "shorted together"},
		{0, 4000, NOD_PINS_OPEN, "CANH stays at ground"},
		{900, 5000, NOD_PINS_OPEN, "CANL stays at 5 V"},
		{4500, 3000, NOD_PINS_CONTRADICTORY, "do not occur together"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_state(readings(FT, cases[i].canh, cases[i].canl), cases[i].state,
			     cases[i].says);
}

static void test_battery_voltage_decides_what_is_near_it(void **state)
{
	(void)state;
	struct nod_pins_input in = readings(FT, 0, 7000);

	assert_state(in, NOD_PINS_ASLEEP, "Asleep"); /* an unknown, perhaps flat battery */
	in.battery_uv = 12500000;
	assert_state(in, NOD_PINS_TO_BATTERY, "not sleep");
}

static void test_terminators(void **state)
{
	(void)state;
	static const struct {
		int ohms;
		enum nod_pins_state state;
		const char *says;
	} cases[] = {
		/* 2 x 120 ohm: 60; one: 120; three: 40; a short: 0. */
		{60, NOD_PINS_TERMINATED, "does not prove"},
		{120, NOD_PINS_ONE_TERMINATOR, "missing"},
		{40, NOD_PINS_EXTRA_TERMINATOR, "adapter's own"},
		{0, NOD_PINS_TOGETHER, "shorted together"},
		{30, NOD_PINS_ODD_RESISTANCE, "four terminators"},
		{48, NOD_PINS_ODD_RESISTANCE, "leak"},
		{85, NOD_PINS_ODD_RESISTANCE, "poor contact"},
		{300, NOD_PINS_ODD_RESISTANCE, "poor contact"},
		{20000, NOD_PINS_OPEN, "No terminator"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_state(ohms(HS, cases[i].ohms, NOD_PINS_UNPOWERED), cases[i].state,
			     cases[i].says);
	assert_state(ohms(FT, 2000, NOD_PINS_UNPOWERED), NOD_PINS_ODD_RESISTANCE, "say little");
	assert_state(ohms(HS, 60, NOD_PINS_POWER_UNKNOWN), NOD_PINS_TERMINATED,
		     "If the pair was without supply");
}

static void test_ohms_on_a_live_bus_are_not_trusted(void **state)
{
	(void)state;
	assert_state(ohms(HS, 60, NOD_PINS_LIVE), NOD_PINS_UNTRUSTED, "live bus");
	struct nod_pins_input in = readings(HS, 2500, 2500);
	in.ohms_uohm = 60000000; /* nobody said how; the volts say it was awake */
	struct nod_pins *p = judged(in);
	assert_int_equal(p->finding_count, 2);
	assert_int_equal(p->findings[1].state, NOD_PINS_UNTRUSTED);
	nod_pins_free(p);
}

static void test_an_unknown_layer_is_judged_for_both(void **state)
{
	(void)state;
	struct nod_pins *p = judged(readings(ANY, 0, 12400));

	assert_int_equal(p->finding_count, 2);
	assert_int_equal(p->findings[0].state, NOD_PINS_ASLEEP);
	assert_int_equal(p->findings[0].layer, FT);
	assert_false(p->findings[0].fault);
	assert_int_equal(p->findings[1].state, NOD_PINS_TO_BATTERY);
	assert_int_equal(p->findings[1].layer, HS);
	assert_true(p->findings[1].fault);
	assert_non_null(strstr(p->next[0], "60 ohm"));
	nod_pins_free(p);

	/* Resting at 0 V and 5 V is fault-tolerant and nothing else. */
	p = judged(readings(ANY, 100, 5000));
	assert_int_equal(p->finding_count, 1);
	assert_int_equal(p->findings[0].layer, FT);
	nod_pins_free(p);

	/* Two terminators, measured without supply, are high speed and nothing else. */
	struct nod_pins_input in = readings(ANY, 2500, 2500);
	in.ohms_uohm = 60000000;
	in.power = NOD_PINS_UNPOWERED;
	p = judged(in);
	assert_int_equal(p->finding_count, 2);
	assert_int_equal(p->findings[0].state, NOD_PINS_QUIET);
	assert_int_equal(p->findings[0].layer, HS);
	assert_int_equal(p->findings[1].state, NOD_PINS_TERMINATED);
	nod_pins_free(p);
}

static void test_a_recording_predicts_the_reading(void **state)
{
	(void)state;
	struct nod_pins_input in = readings(HS, 2622, 2378);

	in.count_uv = 1000;
	in.dominant_ppm = 122000; /* 123#1122334455667788, 1000/s at 500 kbit/s */
	struct nod_pins *p = judged(in);
	assert_int_equal(p->finding_count, 2);
	assert_int_equal(p->findings[1].state, NOD_PINS_AGREES);
	assert_non_null(strstr(p->findings[1].text, "CANH 2.62 V, CANL 2.38 V"));
	assert_true(p->dominant_known);
	assert_int_equal(p->dominant.nominal, 122000);
	assert_true(p->load.low <= 224000 && p->load.high >= 224000);
	nod_pins_free(p);

	in.dominant_ppm = NONE;
	in.load_ppm = 224000;
	p = judged(in);
	assert_int_equal(p->findings[1].state, NOD_PINS_AGREES);
	nod_pins_free(p);

	/* The same load, and no difference between the wires: not the same bus. */
	in.canh_uv = in.canl_uv = 2500000;
	p = judged(in);
	assert_int_equal(p->findings[0].state, NOD_PINS_QUIET);
	assert_int_equal(p->findings[1].state, NOD_PINS_CONTRADICTORY);
	assert_non_null(strstr(p->findings[1].text, "shorted together"));
	nod_pins_free(p);

	/* Without the layer, the one that explains the volts is compared. */
	in.layer = ANY;
	in.canh_uv = 2622000;
	in.canl_uv = 2378000;
	p = judged(in);
	assert_int_equal(p->findings[0].state, NOD_PINS_BUSY);
	assert_int_equal(p->findings[p->finding_count - 1].state, NOD_PINS_AGREES);
	nod_pins_free(p);

	in.layer = HS;
	in.canh_uv = in.canl_uv = 0;
	p = judged(in);
	assert_int_equal(p->findings[0].state, NOD_PINS_ASLEEP);
	assert_int_equal(p->findings[1].state, NOD_PINS_CONTRADICTORY);
	nod_pins_free(p);
}

static void test_volts_and_ohms_may_contradict_each_other(void **state)
{
	(void)state;
	struct nod_pins_input in = readings(HS, 2700, 2300);

	in.ohms_uohm = 0;
	in.power = NOD_PINS_UNPOWERED;
	struct nod_pins *p = judged(in);
	assert_int_equal(p->finding_count, 3);
	assert_int_equal(p->findings[1].state, NOD_PINS_TOGETHER);
	assert_int_equal(p->findings[2].state, NOD_PINS_CONTRADICTORY);
	nod_pins_free(p);
}

static void test_one_wire_alone_decides_nothing(void **state)
{
	(void)state;
	struct nod_pins_input in = readings(HS, 2500, 0);

	in.canl_uv = NONE;
	assert_state(in, NOD_PINS_UNTRUSTED, "One wire alone");
}

static void test_every_state_but_the_sound_ones_has_a_next_step(void **state)
{
	(void)state;
	struct nod_pins *p = judged(readings(HS, 300, 0));

	assert_int_equal(p->next_count, 1);
	assert_non_null(strstr(p->next[0], "ohms from each wire to ground"));
	nod_pins_free(p);
	p = judged(ohms(HS, 60, NOD_PINS_UNPOWERED));
	assert_int_equal(p->next_count, 1);
	assert_non_null(strstr(p->next[0], "Measure volts of both wires"));
	nod_pins_free(p);
}

static void test_nonsense_is_refused(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct nod_pins_input in = readings(HS, 0, 0);

	in.canh_uv = in.canl_uv = NONE;
	assert_null(nod_pins_judge(&in, &err));
	assert_int_equal(errno, EINVAL);
	in = readings(HS, 0, 0);
	in.canh_uv = INT64_MAX;
	assert_null(nod_pins_judge(&in, &err));
	in = ohms(HS, -3, NOD_PINS_UNPOWERED);
	assert_null(nod_pins_judge(&in, &err));
	assert_non_null(strstr(err.text, "live"));
	in = readings(HS, 0, 0);
	in.load_ppm = 1000001;
	assert_null(nod_pins_judge(&in, &err));
	nod_pins_free(NULL);
}

/* Whatever two wires read, there is an answer, and no overflow. */
static void test_every_pair_of_voltages_has_an_answer(void **state)
{
	(void)state;
	for (enum nod_pins_layer layer = ANY; layer <= FT; layer++)
		for (int canh = -1000; canh <= 14000; canh += 250)
			for (int canl = -1000; canl <= 14000; canl += 250) {
				struct nod_pins *p = judged(readings(layer, canh, canl));
				assert_in_range(p->finding_count, 1, 2);
				nod_pins_free(p);
			}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_high_speed_voltages),
		cmocka_unit_test(test_fault_tolerant_voltages),
		cmocka_unit_test(test_battery_voltage_decides_what_is_near_it),
		cmocka_unit_test(test_terminators),
		cmocka_unit_test(test_ohms_on_a_live_bus_are_not_trusted),
		cmocka_unit_test(test_an_unknown_layer_is_judged_for_both),
		cmocka_unit_test(test_a_recording_predicts_the_reading),
		cmocka_unit_test(test_volts_and_ohms_may_contradict_each_other),
		cmocka_unit_test(test_one_wire_alone_decides_nothing),
		cmocka_unit_test(test_every_state_but_the_sound_ones_has_a_next_step),
		cmocka_unit_test(test_nonsense_is_refused),
		cmocka_unit_test(test_every_pair_of_voltages_has_an_answer),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
