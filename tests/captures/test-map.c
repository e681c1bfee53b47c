/* SPDX-License-Identifier: MIT */
/* The invented vehicle files, read back by the program's own parser. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "generator.h"
#include "vehicle.h"

#define SEEDS 8

static int network_by_name(const struct nod_vehicle *vehicle, const char *name)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		if (!strcmp(vehicle->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}

static bool misses_nm_ids(const struct nod_vehicle *vehicle)
{
	for (size_t i = 0; i < vehicle->network_count; i++)
		if (!vehicle->networks[i].nm.ids_given)
			return true;
	return false;
}

/* Node addresses are looked up network by network. */
static int owner_of(const struct nod_vehicle *vehicle, uint32_t id)
{
	int owner = NOD_NONE;

	for (size_t n = 0; n < vehicle->network_count && owner == NOD_NONE; n++)
		owner = nod_vehicle_module_of_id(vehicle, (int)n, id);
	return owner;
}

static void check_culprit(const struct nod_vehicle *vehicle, const struct nod_truth *truth, int c)
{
	int module = nod_vehicle_module_by_name(vehicle, truth->culprits[c]);
	bool wrong = !strcmp(truth->situation, "map-wrong-entry");

	assert_int_equal(module != NOD_NONE, truth->in_map[c]);
	for (int i = 0; i < truth->id_count[c]; i++) {
		int owner = owner_of(vehicle, truth->ids[c][i]);
		/* A map that does not say where NM PDUs are leaves those open. */
		if (!wrong && owner != module && (owner != NOD_NONE || !misses_nm_ids(vehicle)))
			fail_msg("%s, seed %d: ID %X of %s is %s's", truth->situation,
				 (int)truth->seed, truth->ids[c][i], truth->culprits[c],
				 owner < 0 ? "nobody" : vehicle->modules[owner].name);
	}
	if (module != NOD_NONE && vehicle->modules[module].fuse_count)
		assert_string_equal(vehicle->fuses[vehicle->modules[module].fuses[0]].name,
				    truth->fuses[c]);
}

static void check_map(const char *situation, uint64_t seed)
{
	struct nod_generator *generator = nod_generator_open(situation, seed, NULL, NULL);
	assert_non_null(generator);
	const char *map = nod_generator_map(generator);
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = nod_vehicle_parse(map, strlen(map), "invented", &err);
	if (!vehicle)
		fail_msg("%s, seed %d: %s", situation, (int)seed, err.text);
	const struct nod_truth *truth = nod_generator_truth(generator);
	for (int i = 0; i < truth->network_count; i++) {
		int n = network_by_name(vehicle, truth->networks[i].name);
		assert_int_not_equal(n, NOD_NONE);
		assert_int_equal(
			nod_vehicle_network_of_interface(vehicle, truth->networks[i].interface), n);
		assert_int_equal(vehicle->networks[n].sleeps_within_given,
				 strcmp(situation, "never-parked") != 0);
	}
	for (int i = 0; i < truth->culprit_count; i++)
		check_culprit(vehicle, truth, i);
	nod_vehicle_free(vehicle);
	nod_generator_close(generator);
}

static void test_maps_parse_and_name_the_culprit(void **state)
{
	(void)state;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (uint64_t seed = 1; seed <= SEEDS; seed++)
			check_map(nod_generator_situation(i), seed);
}

static void test_wrong_entry_stands_at_another_module(void **state)
{
	(void)state;
	unsigned misplaced = 0;
	for (uint64_t seed = 1; seed <= 20; seed++) {
		struct nod_generator *generator = nod_generator_open("map-wrong-entry", seed, NULL,
								     NULL);
		const char *map = nod_generator_map(generator);
		struct nod_vehicle *vehicle = nod_vehicle_parse(map, strlen(map), "invented", NULL);
		assert_non_null(vehicle);
		const struct nod_truth *truth = nod_generator_truth(generator);
		int module = nod_vehicle_module_by_name(vehicle, truth->culprits[0]);
		int owner = nod_vehicle_module_of_id(vehicle, NOD_NONE, truth->ids[0][0]);
		misplaced += owner != module && owner != NOD_NONE;
		nod_vehicle_free(vehicle);
		nod_generator_close(generator);
	}
	assert_in_range(misplaced, 5, 18); /* 60 of 100 by design, of the culprit itself */
}

/* World 3 has wrong maps of its own: one ID is not moved twice (seed 15 was). */
static void test_wrong_entry_in_a_wrong_map_parses(void **state)
{
	(void)state;
	const struct nod_generator_options how = {.world = 3};
	for (uint64_t seed = 1; seed <= 30; seed++) {
		struct nod_generator *generator = nod_generator_open("map-wrong-entry", seed, &how,
								     NULL);
		const char *map = nod_generator_map(generator);
		struct nod_error err = {""};
		struct nod_vehicle *vehicle = nod_vehicle_parse(map, strlen(map), "invented", &err);
		if (!vehicle)
			fail_msg("seed %d: %s", (int)seed, err.text);
		nod_vehicle_free(vehicle);
		nod_generator_close(generator);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_maps_parse_and_name_the_culprit),
		cmocka_unit_test(test_wrong_entry_stands_at_another_module),
		cmocka_unit_test(test_wrong_entry_in_a_wrong_map_parses),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
