/* SPDX-License-Identifier: MIT */
/* The simulated OSEK ring: opcodes and procedure as in an open stack
 * (ssas-public, OsekNm.c: alive 01, ring 02, limp home 04, sleep indication
 * 10, acknowledge 20; TTyp 1000, TMax 1500, TError 1000, TWaitBusSleep 5000). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "rig.h"

static struct rig *published(int nodes)
{
	struct rig *rig = rig_new(nodes);
	struct sim_network *net = &rig->sim.networks[0];

	net->scheme = NOD_NM_OSEK;
	net->fill = 0;
	net->timers = (struct sim_nm_timers){.typ = SIM_S,
					     .max = 1500 * SIM_MS,
					     .error = SIM_S,
					     .wait_bus_sleep = 5 * SIM_S,
					     .first_application = 20 * SIM_MS};
	rig->sim.lock = 20 * SIM_S;
	rig_begin(rig);
	return rig;
}

static void test_ring_goes_round_at_ttyp(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 19 * SIM_S);
	int64_t before = 0;
	uint32_t source = 0;
	unsigned rings = 0;
	for (size_t i = 0; i < rig->count; i++) {
		const struct rig_frame *frame = &rig->frames[i];
		if (!rig_is_nm(frame) || frame->data[1] != 0x02)
			continue;
		if (rings) { /* whom the last one named, TTyp later */
			assert_int_equal(frame->id, source);
			assert_in_range(frame->at - before, SIM_S - SIM_MS, SIM_S + 2 * SIM_MS);
		}
		before = frame->at;
		source = RIG_BASE + frame->data[0];
		rings++;
	}
	assert_in_range(rings, 15, 19);
	rig_free(rig);
}

static void test_sleep_needs_everybodys_indication(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 60 * SIM_S);
	for (int i = 0; i < 3; i++)
		assert_int_equal(rig->sim.nodes[i].state, SIM_ASLEEP);
	size_t last = rig->count - 1;
	while (!rig_is_nm(&rig->frames[last]))
		last--;
	assert_int_equal(rig->frames[last].data[1], 0x32);
	unsigned indications = 0;
	for (size_t i = 0; i < last; i++)
		indications += rig_is_nm(&rig->frames[i]) && rig->frames[i].data[1] == 0x12;
	assert_in_range(indications, 3, 5);
	/* Application frames end with the acknowledge, but for one on the wire. */
	assert_true(rig_last(rig, false, 60 * SIM_S) <= rig->frames[last].at + SIM_MS);
	rig_free(rig);
}

static void test_holder_never_gives_the_indication(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig->sim.nodes[1].held = true;
	rig_run(rig, 90 * SIM_S);
	unsigned with[3] = {0}, without[3] = {0};
	for (size_t i = 0; i < rig->count; i++) {
		const struct rig_frame *frame = &rig->frames[i];
		if (frame->at < 21 * SIM_S || !rig_is_nm(frame))
			continue;
		(frame->data[1] & 0x10 ? with : without)[frame->id - RIG_BASE - 0x10]++;
	}
	assert_int_equal(without[0] + without[2], 0);
	assert_int_equal(with[1], 0);
	assert_in_range(without[1], 20, 24);
	assert_in_range(with[0], 20, 24);
	rig_free(rig);
}

static void test_lost_node_restarts_the_ring(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 10 * SIM_S);
	rig->count = 0;
	sim_node_power(&rig->sim, 1, false);
	rig_run(rig, 18 * SIM_S);
	unsigned alive = 0;
	for (size_t i = 0; i < rig->count; i++) {
		assert_int_not_equal(rig->frames[i].id, RIG_BASE + 0x11);
		alive += rig_is_nm(&rig->frames[i]) && rig->frames[i].data[1] == 0x01;
	}
	assert_in_range(alive, 1, 2);
	rig_free(rig);
}

static void test_limp_home_comes_at_terror(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig->sim.nodes[2].nm.deaf_from = 0;
	rig->sim.nodes[2].held = true;
	rig_run(rig, 60 * SIM_S);
	unsigned limp = 0;
	for (size_t i = 0; i < rig->count; i++)
		if (rig->frames[i].id == RIG_BASE + 0x12 && rig->frames[i].at > 30 * SIM_S) {
			assert_int_equal(rig->frames[i].data[1], 0x04);
			limp++;
		}
	assert_in_range(limp, 29, 31);
	assert_true(sim_state_awake(rig->sim.nodes[0].state));
	rig_free(rig);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_ring_goes_round_at_ttyp),
		cmocka_unit_test(test_sleep_needs_everybodys_indication),
		cmocka_unit_test(test_holder_never_gives_the_indication),
		cmocka_unit_test(test_lost_node_restarts_the_ring),
		cmocka_unit_test(test_limp_home_comes_at_terror),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
