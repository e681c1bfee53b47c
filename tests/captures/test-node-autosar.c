/* SPDX-License-Identifier: MIT */
/* The simulated AUTOSAR nodes against a published timer set: cycle 500 ms,
 * immediate 20 ms x 5, repeat 1500, timeout 2000, wait-bus-sleep 5000, wake-up
 * 100, first application frame 20 ms after NM (a test article on AUTOSAR NM,
 * "hrbkazy.com/news/4192"), and what follows from it: last NM PDU at t0, application
 * frames stop by t0 + 2.0 s, bus sleep at t0 + 7.0 s; an NM PDU at t0 + 6.9 s
 * brings the node back to repeat message. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "rig.h"

/* A frame's time on the bus and the scatter of application frames. */
#define SLACK (5 * SIM_MS)

static struct rig *published(int nodes)
{
	struct rig *rig = rig_new(nodes);
	struct sim_network *net = &rig->sim.networks[0];

	net->scheme = NOD_NM_AUTOSAR;
	net->timers = (struct sim_nm_timers){.cycle = 500 * SIM_MS,
					     .immediate_cycle = 20 * SIM_MS,
					     .immediate = 5,
					     .repeat = 1500 * SIM_MS,
					     .timeout = 2 * SIM_S,
					     .wait_bus_sleep = 5 * SIM_S,
					     .first_application = 20 * SIM_MS};
	rig->sim.lock = 10 * SIM_S; /* everybody lets go at 10 s */
	rig_begin(rig);
	return rig;
}

static void test_timeout_and_wait_bus_sleep(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 13 * SIM_S);
	int64_t t0 = rig_last(rig, true, 13 * SIM_S);
	assert_in_range(t0, 9500 * SIM_MS, 10 * SIM_S);
	assert_int_equal(rig->sim.nodes[0].state, SIM_PREPARE);
	rig_run(rig, t0 + 7 * SIM_S - 20 * SIM_MS);
	assert_int_equal(rig->sim.nodes[0].state, SIM_PREPARE);
	int64_t stopped = rig_last(rig, false, 20 * SIM_S);
	assert_in_range(stopped, t0 + 2 * SIM_S - 150 * SIM_MS, t0 + 2 * SIM_S + SLACK);
	rig_run(rig, t0 + 7 * SIM_S + SLACK);
	for (int i = 0; i < 3; i++)
		assert_int_equal(rig->sim.nodes[i].state, SIM_ASLEEP);
	rig_run(rig, 60 * SIM_S);
	assert_int_equal(rig_last(rig, true, 60 * SIM_S), t0);
	assert_int_equal(rig_last(rig, false, 60 * SIM_S), stopped);
	rig_free(rig);
}

static void test_pdu_in_prepare_brings_everybody_back(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 13 * SIM_S);
	int64_t t0 = rig_last(rig, true, 13 * SIM_S);
	rig_run(rig, t0 + 6900 * SIM_MS);
	sim_node_need(&rig->sim, 1, rig->sim.now + SIM_S);
	rig_run(rig, t0 + 6950 * SIM_MS);
	for (int i = 0; i < 3; i++)
		assert_int_equal(rig->sim.nodes[i].state, SIM_REPEAT);
	rig_free(rig);
}

static void test_holder_alone_sends_nm_and_keeps_the_others_talking(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig->sim.nodes[2].held = true;
	rig_run(rig, 60 * SIM_S);
	unsigned holder = 0, followers_nm = 0, followers = 0;
	for (size_t i = 0; i < rig->count; i++) {
		const struct rig_frame *frame = &rig->frames[i];
		if (frame->at < 11 * SIM_S)
			continue;
		holder += frame->id == RIG_BASE + 0x12;
		followers_nm += rig_is_nm(frame) && frame->id != RIG_BASE + 0x12;
		followers += frame->id == RIG_APPLICATION || frame->id == RIG_APPLICATION + 1;
	}
	assert_in_range(holder, 96, 99); /* 49 s at 500 ms */
	assert_int_equal(followers_nm, 0);
	assert_in_range(followers, 970, 982); /* two at 100 ms */
	assert_int_equal(rig->sim.nodes[0].state, SIM_READY);
	assert_int_equal(rig->sim.nodes[2].state, SIM_NORMAL);
	rig_free(rig);
}

static size_t next_nm(const struct rig *rig, size_t i)
{
	while (i < rig->count && !rig_is_nm(&rig->frames[i]))
		i++;
	assert_true(i < rig->count);
	return i;
}

static void test_active_wakeup(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig_run(rig, 30 * SIM_S);
	rig->count = 0;
	sim_node_need(&rig->sim, 1, 40 * SIM_S);
	rig_run(rig, 45 * SIM_S);
	/* Its own PDU first, with the active wake-up bit (mask 10h), then the
	 * immediate ones every 20 ms; the others after their start-up. */
	assert_int_equal(rig->frames[0].id, RIG_BASE + 0x11);
	assert_int_equal(rig->frames[0].data[0], 0x11);
	assert_int_equal(rig->frames[0].data[1], 0x10);
	assert_int_equal(rig->frames[0].data[7], 0xFF);
	size_t second = next_nm(rig, 1);
	assert_int_equal(rig->frames[second].id, RIG_BASE + 0x11);
	assert_in_range(rig->frames[second].at - rig->frames[0].at, 19 * SIM_MS, 21 * SIM_MS);
	int64_t application = 0, other = 0;
	for (size_t i = 0; i < rig->count; i++) {
		if (rig->frames[i].id == RIG_APPLICATION + 1 && !application)
			application = rig->frames[i].at - rig->frames[0].at;
		if (rig->frames[i].id == RIG_BASE + 0x10 && !other)
			other = rig->frames[i].at - rig->frames[0].at;
		if (rig->frames[i].id == RIG_BASE + 0x10)
			assert_int_equal(rig->frames[i].data[1], 0);
	}
	assert_in_range(application, 19 * SIM_MS, 22 * SIM_MS);
	assert_in_range(other, 30 * SIM_MS, 350 * SIM_MS);
	rig_free(rig);
}

static void test_partial_network_leaves_the_others_asleep(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig->sim.networks[0].bus.config.partial_first = 4;
	for (int i = 0; i < 3; i++) {
		struct sim_node *node = &rig->sim.nodes[i];
		node->partial = node->nm.partial = node->nm.asks = i ? 2 : 1;
	}
	rig->sim.nodes[1].held = true;
	rig_run(rig, 40 * SIM_S);
	assert_int_equal(rig->sim.nodes[0].state, SIM_ASLEEP);
	assert_int_equal(rig->sim.nodes[1].state, SIM_NORMAL);
	assert_int_equal(rig->sim.nodes[2].state, SIM_READY);
	size_t last = rig->count - 1;
	while (!rig_is_nm(&rig->frames[last]))
		last--;
	assert_int_equal(rig->frames[last].data[1] & 0x40, 0x40);
	assert_int_equal(rig->frames[last].data[4], 2);
	rig_free(rig);
}

/* What an open CanNm manual warns of: NM sending disabled, NM-Timeout stopped. */
static void test_node_that_hangs_talks_on_and_wakes_the_others(void **state)
{
	(void)state;
	struct rig *rig = published(3);
	rig->sim.nodes[2].nm.mute_from = 0;
	rig_run(rig, 19 * SIM_S);
	unsigned own = 0, own_nm = 0, others = 0;
	for (size_t i = 0; i < rig->count; i++) {
		const struct rig_frame *frame = &rig->frames[i];
		own_nm += frame->id == RIG_BASE + 0x12;
		if (frame->at < 13 * SIM_S || frame->at > 16 * SIM_S)
			continue;
		own += frame->id == RIG_APPLICATION + 2;
		others += frame->id != RIG_APPLICATION + 2;
	}
	assert_int_equal(own_nm, 0);
	assert_in_range(own, 29, 31); /* every 100 ms */
	assert_int_equal(others, 0);  /* prepare bus-sleep */
	rig_run(rig, 30 * SIM_S);
	assert_true(rig_last(rig, true, 30 * SIM_S) > 16 * SIM_S);
	rig_free(rig);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_timeout_and_wait_bus_sleep),
		cmocka_unit_test(test_pdu_in_prepare_brings_everybody_back),
		cmocka_unit_test(test_holder_alone_sends_nm_and_keeps_the_others_talking),
		cmocka_unit_test(test_active_wakeup),
		cmocka_unit_test(test_partial_network_leaves_the_others_asleep),
		cmocka_unit_test(test_node_that_hangs_talks_on_and_wakes_the_others),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
