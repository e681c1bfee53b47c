/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "nm-detect.h"

#define MS NOD_NS_PER_MS

/* From here on the engine believes a detection. */
#define BELIEVED 0.8

/* Networks of random application traffic. */
#ifndef RUNS
#define RUNS 400
#endif

struct traffic {
	struct nod_nm_detect *detect;
	int64_t now;
	uint64_t seed;
};

static struct traffic traffic_new(uint64_t seed)
{
	struct traffic t = {nod_nm_detect_new(), 0, seed * 2654435761u + 88172645463325252u};

	assert_non_null(t.detect);
	return t;
}

static uint64_t random_next(struct traffic *t)
{
	t->seed ^= t->seed << 13;
	t->seed ^= t->seed >> 7;
	t->seed ^= t->seed << 17;
	return t->seed >> 11;
}

static void send(struct traffic *t, uint32_t id, uint64_t data)
{
	struct nod_frame f = {.time = {t->now}, .id = id, .length = 8};

	for (int i = 0; i < 8; i++)
		f.data[i] = (uint8_t)(data >> (56 - 8 * i));
	nod_nm_detect_feed(t->detect, &f);
}

static struct nod_nm_detection result_of(struct traffic *t)
{
	struct nod_nm_detection r;

	nod_nm_detect_result(t->detect, &r);
	return r;
}

/* An invented application message: constant bytes, zeros, a counter, noise. */
struct message {
	uint32_t id;
	int64_t period, next;
	uint64_t data, noise;
};

static void make_messages(struct traffic *t, struct message *m, unsigned count, bool extended)
{
	static const int periods[] = {10, 20, 50, 100, 100, 200, 500, 1000};

	for (unsigned i = 0; i < count; i++) {
		uint64_t r = random_next(t);
		m[i] = (struct message){
			.id = (uint32_t)(extended ? NOD_ID_EXTENDED | (r & 0x1FFFFFFF) : r & 0x7FF),
			.period = periods[r >> 32 & 7] * MS,
			.next = (int64_t)(r >> 40 & 1023) * MS,
			.data = random_next(t) << 20 ^ random_next(t),
		};
		if (r >> 50 & 1) /* small constants and single bits */
			m[i].data &= m[i].data >> 1 & 0x0F1F071F0F1F071F;
		for (unsigned k = 0; k < 8; k++) { /* many bytes are zero, few change */
			uint64_t byte = UINT64_C(0xFF) << 8 * k;
			unsigned what = (unsigned)random_next(t) % 8;
			m[i].data &= what < 4 ? ~byte : ~UINT64_C(0);
			m[i].noise |= what == 7 ? byte : 0;
		}
	}
}

static void run_messages(struct traffic *t, struct message *m, unsigned count, int64_t until)
{
	while (t->now < until) {
		unsigned first = 0;
		for (unsigned i = 1; i < count; i++)
			if (m[i].next < m[first].next)
				first = i;
		t->now = m[first].next;
		m[first].next += m[first].period;
		send(t, m[first].id, m[first].data ^ (random_next(t) & m[first].noise));
	}
}

static void test_nothing_is_found_in_silence(void **state)
{
	(void)state;
	struct traffic t = traffic_new(1);

	assert_int_equal(result_of(&t).layout.scheme, NOD_NM_UNKNOWN);
	assert_true(result_of(&t).confidence <= 0);
	assert_string_equal(result_of(&t).reason, "");
	nod_nm_detect_free(t.detect);
}

static void test_nothing_is_found_in_application_traffic(void **state)
{
	(void)state;
	unsigned believed = 0;

	for (unsigned run = 0; run < RUNS; run++) {
		struct traffic t = traffic_new(run + 1);
		struct message m[70];
		unsigned count = 10 + run % 60;
		make_messages(&t, m, count, run % 4 == 3);
		run_messages(&t, m, count, 6000 * MS);
		struct nod_nm_detection r = result_of(&t);
		if (r.confidence >= BELIEVED)
			print_message("%u: %s\n", run, r.reason);
		believed += r.confidence >= BELIEVED;
		nod_nm_detect_free(t.detect);
	}
	assert_int_equal(believed, 0);
}

/* ---- OSEK ---- */

static void run_ring(struct traffic *t, uint32_t base, const uint8_t *nodes, unsigned count,
		     unsigned messages, uint8_t code)
{
	for (unsigned i = 0; i < messages; i++) {
		unsigned k = i % count;
		t->now += 100 * MS;
		send(t, base + nodes[k],
		     (uint64_t)nodes[(k + 1) % count] << 56 | (uint64_t)code << 48);
		/* an application message in between */
		send(t, 0x123, random_next(t));
		send(t, base + 0x200, random_next(t));
	}
}

static void test_a_ring(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x00, 0x05, 0x12};
	struct traffic t = traffic_new(1);

	run_ring(&t, 0x400, nodes, 3, 40, 0x02);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.nodes, 3);
	assert_int_equal(r.layout.first_id, 0x400);
	assert_true(r.layout.last_id >= 0x412);
	assert_int_equal(r.layout.osek_ring, 0x02);
	assert_false(r.layout.ids_given);
	assert_string_equal(r.reason, "ring 400 > 405 > 412 > 400, 39 of 39 messages handed on in "
				      "order");
	nod_nm_detect_free(t.detect);
}

static void test_a_ring_that_is_ready_to_sleep_and_numbered_within_64(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x03, 0x0A};
	struct traffic t = traffic_new(2);

	run_ring(&t, 0x480, nodes, 2, 40, 0x12);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.layout.first_id, 0x480);
	nod_nm_detect_free(t.detect);
}

static void test_the_ring_ends_before_other_messages(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x00, 0x05};
	struct traffic t = traffic_new(3);

	send(&t, 0x420, 0xFFFFFFFFFFFFFFFF);
	run_ring(&t, 0x400, nodes, 2, 40, 0x02);
	assert_int_equal(result_of(&t).layout.last_id, 0x41F);
	nod_nm_detect_free(t.detect);
}

static void test_named_successors_out_of_order_are_no_ring(void **state)
{
	(void)state;
	struct traffic t = traffic_new(4);

	/* Constant bytes that happen to name each other, each at its own period. */
	for (int i = 0; i < 400; i++) {
		t.now += 10 * MS;
		send(&t, 0x401, 0x0502000000000000);
		if (i % 20 == 0)
			send(&t, 0x405, 0x0102000000000000);
	}
	assert_true(result_of(&t).confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* Three messages of one period that name each other and come in that order, by chance. */
static void run_by_chance(struct traffic *t)
{
	static const int64_t after_ms[] = {100, 250, 650};

	for (int i = 0; i < 120; i++) {
		t->now += after_ms[i % 3] * MS;
		send(t, 0x401 + (uint32_t)i % 3,
		     (uint64_t)((i + 1) % 3 + 1) << 56 | UINT64_C(0x02) << 48);
	}
}

static void test_a_ring_that_is_not_even_is_believed_when_it_was_announced(void **state)
{
	(void)state;
	struct traffic t = traffic_new(5);

	run_by_chance(&t);
	assert_int_equal(result_of(&t).layout.scheme, NOD_NM_OSEK);
	assert_true(result_of(&t).confidence > 0.5);
	assert_true(result_of(&t).confidence < BELIEVED);
	send(&t, 0x402, 0x0201000000000000);
	run_by_chance(&t);
	assert_true(result_of(&t).confidence >= BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* ---- AUTOSAR ---- */

struct autosar {
	uint32_t base;
	bool reversed;
	uint8_t control;
	unsigned nodes;
	bool releases; /* the last one is ready to sleep halfway through */
	bool goes;     /* ... and its unit says nothing any more */
	bool flips;    /* bit 4 comes and goes */
};

static void run_autosar(struct traffic *t, const struct autosar *how)
{
	for (int i = 0; i < 20; i++) {
		t->now += 500 * MS;
		for (unsigned k = 0; k < how->nodes; k++) {
			bool over = k + 1 == how->nodes && i > 8;
			uint64_t node = 0x10 + 3 * k, control = how->control;
			control ^= how->flips && i % 3 == (int)k % 3 ? 0x10 : 0;
			uint64_t head = how->reversed ? control << 8 | node : node << 8 | control;
			if (!how->releases || !over)
				send(t, how->base + (uint32_t)node, head << 48 | 0xFFFFFFFFFFFF);
			if (!how->goes || !over)
				send(t, 0x100 + k, random_next(t));
		}
	}
}

static void test_autosar_in_both_byte_orders(void **state)
{
	(void)state;
	for (int reversed = 0; reversed < 2; reversed++) {
		struct traffic t = traffic_new(5);
		run_autosar(&t, &(struct autosar){.base = 0x500,
						  .reversed = reversed,
						  .control = 0x10,
						  .nodes = 4,
						  .releases = true});
		struct nod_nm_detection r = result_of(&t);
		assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
		assert_true(r.confidence >= BELIEVED);
		assert_int_equal(r.layout.node_byte, reversed);
		assert_int_equal(r.layout.control_byte, !reversed);
		assert_int_equal(r.nodes, 4);
		assert_true(r.layout.first_id <= 0x510 && r.layout.last_id >= 0x519);
		assert_non_null(strstr(r.reason, "4 IDs from 510 to 519"));
		assert_non_null(strstr(r.reason, "all every 500 ms"));
		nod_nm_detect_free(t.detect);
	}
}

static void test_autosar_with_extended_ids(void **state)
{
	(void)state;
	struct traffic t = traffic_new(6);

	run_autosar(&t, &(struct autosar){.base = 0x1B000000 | NOD_ID_EXTENDED,
					  .nodes = 3,
					  .releases = true});
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
	assert_true(r.confidence >= BELIEVED);
	assert_true(r.layout.first_id & NOD_ID_EXTENDED);
	nod_nm_detect_free(t.detect);
}

static void test_autosar_among_application_traffic(void **state)
{
	(void)state;
	unsigned found = 0, wrong = 0;

	for (unsigned run = 0; run < 50; run++) {
		struct traffic t = traffic_new(run + 1000);
		struct message m[40];
		make_messages(&t, m, 40, false);
		for (unsigned i = 0; i < 40; i++)
			m[i].id = m[i].id % 0x500;
		for (int i = 0; i < 16; i++) {
			run_messages(&t, m, 40, (i + 1) * 500 * MS);
			for (uint32_t node = 1; node < (i < 8 ? 6 : 4); node += 2)
				send(&t, 0x600 + node,
				     (uint64_t)node << 56 | (i < 2 ? UINT64_C(0x11) << 48 : 0));
		}
		struct nod_nm_detection r = result_of(&t);
		bool right = r.layout.scheme == NOD_NM_AUTOSAR && r.nodes == 3 &&
			     r.layout.first_id <= 0x601 && r.layout.last_id >= 0x605;
		found += right && r.confidence >= BELIEVED;
		wrong += !right && r.confidence >= BELIEVED;
		nod_nm_detect_free(t.detect);
	}
	assert_int_equal(found, 50);
	assert_int_equal(wrong, 0);
}

/* What can be told of these messages is their look alone. */
static void test_what_never_behaves_like_a_node_is_offered_and_not_believed(void **state)
{
	(void)state;
	static const struct autosar cases[] = {
		{.base = 0x500, .control = 0x10, .nodes = 6},
		{.base = 0x500, .nodes = 2, .releases = true, .goes = true},
		{.base = 0x500, .nodes = 6, .releases = true, .flips = true},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct traffic t = traffic_new(8);
		run_autosar(&t, &cases[i]);
		struct nod_nm_detection r = result_of(&t);
		assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
		assert_true(r.confidence > 0.5);
		assert_true(r.confidence < BELIEVED);
		assert_false(r.proved);
		nod_nm_detect_free(t.detect);
	}
}

/* Found on real recordings: a constant, a message of one byte, an operation code 0F. */
static void test_strangers_among_the_nodes_are_no_nodes(void **state)
{
	(void)state;
	struct traffic t = traffic_new(9);
	const struct nod_frame byte = {.id = 0x513, .length = 1, .data = {0x13}};

	for (int i = 0; i < 20; i++) {
		send(&t, 0x51F, 0x000F0000FCFB0032);
		send(&t, 0x511, 0x110F000000000000);
		nod_nm_detect_feed(t.detect, &byte);
		run_autosar(&t, &(struct autosar){.base = 0x500, .nodes = 5, .releases = true});
	}
	struct nod_nm_detection r = result_of(&t);
	assert_true(r.confidence >= BELIEVED);
	assert_true(nod_nm_detect_is_node(t.detect, &r, 0x510));
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x513));
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x51F));
	nod_nm_detect_free(t.detect);
}

static void test_one_node_alone_is_not_believed(void **state)
{
	(void)state;
	struct traffic t = traffic_new(7);

	run_autosar(&t, &(struct autosar){.base = 0x500, .control = 0x10, .nodes = 1});
	assert_true(result_of(&t).confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* ---- J1939 ---- */

static void test_the_last_talker_of_a_truck(void **state)
{
	(void)state;
	struct traffic t = traffic_new(10);

	for (int i = 0; i < 20; i++) {
		t.now += 100 * MS;
		send(&t, 0x18FEF121 | NOD_ID_EXTENDED, 0);
		send(&t, 0x18FEFA21 | NOD_ID_EXTENDED, 0);
	}
	assert_int_equal(result_of(&t).layout.scheme, NOD_NM_J1939);
	assert_true(result_of(&t).confidence >= BELIEVED);
	nod_nm_detect_free(t.detect);
}

static void test_a_truck_network(void **state)
{
	(void)state;
	static const uint32_t ids[] = {0x0CF00400, 0x18FEF100, 0x18FEEE00,
				       0x18F0010B, 0x18FECA21, 0x18FF1221};
	struct traffic t = traffic_new(8);

	for (int i = 0; i < 20; i++) {
		t.now += 100 * MS;
		for (size_t k = 0; k < sizeof(ids) / sizeof(ids[0]); k++)
			send(&t, ids[k] | NOD_ID_EXTENDED, random_next(&t));
	}
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_J1939);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.nodes, 3);
	assert_string_equal(r.reason,
			    "29-bit IDs with 5 well-known parameter groups from 3 addresses");
	nod_nm_detect_free(t.detect);
}

/* ---- bounds ---- */

static void test_more_ids_than_any_car_has(void **state)
{
	(void)state;
	struct traffic t = traffic_new(9);

	for (uint32_t i = 0; i < 100000; i++)
		send(&t, NOD_ID_EXTENDED | (i * 7919 & NOD_ID_EXTENDED_MASK), random_next(&t));
	assert_true(result_of(&t).confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* ---- recordings of real vehicles, when they are beside the project ---- */

static FILE *open_capture(const char *name)
{
	const char *root = getenv("NOD_SOURCE_ROOT");
	static const char *const places[] = {"../shared/real-captures",
					     "../../shared/real-captures"};
	char path[4096];

	for (size_t i = 0; root && i < sizeof(places) / sizeof(places[0]); i++) {
		snprintf(path, sizeof(path), "%s/%s/%s", root, places[i], name);
		FILE *f = fopen(path, "r");
		if (f)
			return f;
	}
	return NULL;
}

/* Feeds one interface of a candump log of classical data frames. */
static struct nod_nm_detection detect_in(FILE *f, const char *interface)
{
	struct traffic t = traffic_new(1);
	char line[256], name[32], text[64];
	long long s, us;

	while (fgets(line, sizeof(line), f)) {
		char *data;
		if (sscanf(line, "(%lld.%lld) %31s %63s", &s, &us, name, text) != 4 ||
		    strcmp(name, interface) || !(data = strchr(text, '#')))
			continue;
		uint32_t id = (uint32_t)strtoul(text, NULL, 16);
		t.now = s * NOD_NS_PER_S + us * NOD_NS_PER_US;
		if (strlen(data) == 17)
			send(&t, id | (data - text == 8 ? NOD_ID_EXTENDED : 0),
			     strtoull(data + 1, NULL, 16));
	}
	fclose(f);
	struct nod_nm_detection r = result_of(&t);
	nod_nm_detect_free(t.detect);
	return r;
}

static void test_the_ring_of_a_real_car(void **state)
{
	(void)state;
	FILE *f = open_capture("car-osek-ring.log");

	if (!f) {
		print_message("skipped: no car-osek-ring.log beside the project\n");
		skip();
	}
	struct nod_nm_detection r = detect_in(f, "can1");
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.nodes, 4);
	assert_int_equal(r.layout.first_id, 0x400);
	assert_true(r.layout.last_id == 0x43F);
	assert_non_null(strstr(r.reason, "> 41E >"));
	f = open_capture("car-osek-ring.log");
	assert_true(detect_in(f, "can0").confidence < BELIEVED);
}

static void test_a_real_truck(void **state)
{
	(void)state;
	FILE *f = open_capture("truck-one-talker.log");

	if (!f) {
		print_message("skipped: no truck-one-talker.log beside the project\n");
		skip();
	}
	char line[256], interface[32];
	assert_non_null(fgets(line, sizeof(line), f));
	assert_int_equal(sscanf(line, "%*s %31s", interface), 1);
	struct nod_nm_detection r = detect_in(f, interface);
	assert_int_equal(r.layout.scheme, NOD_NM_J1939);
	assert_true(r.confidence >= BELIEVED);
}

static void test_a_real_tester_is_no_management(void **state)
{
	(void)state;
	FILE *f = open_capture("tester-only.log");

	if (!f) {
		print_message("skipped: no tester-only.log beside the project\n");
		skip();
	}
	assert_true(detect_in(f, "can1").confidence < BELIEVED);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_nothing_is_found_in_silence),
		cmocka_unit_test(test_nothing_is_found_in_application_traffic),
		cmocka_unit_test(test_a_ring),
		cmocka_unit_test(test_a_ring_that_is_ready_to_sleep_and_numbered_within_64),
		cmocka_unit_test(test_the_ring_ends_before_other_messages),
		cmocka_unit_test(test_named_successors_out_of_order_are_no_ring),
		cmocka_unit_test(test_autosar_in_both_byte_orders),
		cmocka_unit_test(test_autosar_with_extended_ids),
		cmocka_unit_test(test_autosar_among_application_traffic),
		cmocka_unit_test(test_a_ring_that_is_not_even_is_believed_when_it_was_announced),
		cmocka_unit_test(test_what_never_behaves_like_a_node_is_offered_and_not_believed),
		cmocka_unit_test(test_strangers_among_the_nodes_are_no_nodes),
		cmocka_unit_test(test_one_node_alone_is_not_believed),
		cmocka_unit_test(test_the_last_talker_of_a_truck),
		cmocka_unit_test(test_a_truck_network),
		cmocka_unit_test(test_more_ids_than_any_car_has),
		cmocka_unit_test(test_the_ring_of_a_real_car),
		cmocka_unit_test(test_a_real_truck),
		cmocka_unit_test(test_a_real_tester_is_no_management),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
