/* SPDX-License-Identifier: MIT */
#include "nm-traffic.h"

/* Networks of random application traffic. */
#ifndef RUNS
#define RUNS 400
#endif

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
		cmocka_unit_test(test_the_last_talker_of_a_truck),
		cmocka_unit_test(test_a_truck_network),
		cmocka_unit_test(test_more_ids_than_any_car_has),
		cmocka_unit_test(test_the_ring_of_a_real_car),
		cmocka_unit_test(test_a_real_truck),
		cmocka_unit_test(test_a_real_tester_is_no_management),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
