/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle-warnings.h"

static void collect(void *context, unsigned line, const char *text)
{
	fprintf(context, "%u: %s\n", line, text);
}

static char *warnings_of(const char *text)
{
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, strlen(text), "x", &err);
	assert_string_equal(err.text, "");
	char *all = NULL;
	size_t size;
	FILE *out = open_memstream(&all, &size);
	nod_vehicle_warn(v, collect, out);
	fclose(out);
	nod_vehicle_free(v);
	return all;
}

static void check(const char *text, const char *expected)
{
	char *all = warnings_of(text);
	assert_string_equal(all, expected);
	free(all);
}

#define NET "networks: { a: { interfaces: can0, management: { scheme: none } } }\n"
#define FUSE "fuses: { F1: { family: ato, rating: 5 A } }\n"

static void test_a_good_map_has_none(void **state)
{
	(void)state;
	check(NET FUSE "modules: { x: { ids: 1, fuses: F1 } }\n", "");
}

static void test_networks(void **state)
{
	(void)state;
	check("networks:\n  a: {}\n",
	      "2: network `a` has no interfaces: no recording belongs to it\n");
	check("networks:\n  a: { interfaces: can0 }\n  b: { interfaces: can1 }\n" FUSE
	      "modules: { x: { networks: a, ids: 1, fuses: F1 } }\n",
	      "3: network `b`: no module sits on it\n");
	check("networks:\n  a: { interfaces: can0, bitrate: 1M, data bitrate: 500k }\n",
	      "2: network `a`: the data bitrate is below the bitrate\n");
	check("networks:\n  a: { interfaces: can0, management: { scheme: osek, ids: 400-4FF,\n"
	      "       partial network bytes: 4-5 } }\n",
	      "2: network `a`: only scheme autosar has partial network bytes\n");
	check("networks:\n  a: { interfaces: can0, management: { scheme: j1939, ids: 400-4FF } }\n",
	      "2: network `a`: the IDs under `management` have no meaning for scheme j1939\n");
	check("networks:\n  a: { interfaces: can0 }\n" FUSE
	      "modules: { x: { ids: 500, fuses: F1 }, y: { ids: [520-52F], fuses: F1 } }\n",
	      "2: network `a`: 2 modules have IDs in 500-53F, where network management often is; "
	      "say so under `management`, or `scheme: none`\n");
}

static void test_fuses(void **state)
{
	(void)state;
	check(NET FUSE, "2: fuse `F1` feeds nothing\n");
	check(NET "fuses: { F1: { family: ato, rating: 5 A, feeds: [lamp] } }\n", "");
	check(NET "fuses: { F1: { family: ato, feeds: [lamp] } }\n",
	      "2: fuse `F1` needs family and rating to turn millivolts into milliamps\n");
	check(NET "fuses: { F1: { resistance: 2 mOhm, feeds: [lamp] } }\n", "");
	check(NET "fuses: { x: { resistance: 2 mOhm } }\nmodules: { x: { ids: 1, fuses: x } }\n",
	      "2: `x` is a fuse and a module; in the journal it means the fuse, unless `module` "
	      "stands before it\n");
	check(NET "fuses: { F1: { resistance: 2 mOhm, feeds: [lamp], cautions: [alarms] } }\n",
	      "2: `F1`: the caution `alarms` is only shown; nodoff acts on `alarm`\n");
}

static void test_modules(void **state)
{
	(void)state;
	check(NET FUSE "modules: { x: { fuses: F1 } }\n",
	      "3: module `x` has no IDs: nodoff cannot see it on the network\n");
	check(NET "modules: { x: { ids: 1 } }\n",
	      "2: module `x` has no fuse: nodoff cannot say which one to pull\n");
	check(NET "modules: { x: { ids: 1 }, y: { ids: 2 }, z: { ids: 3 } }\n",
	      "2: module `x` and 2 more have no fuse: nodoff cannot say which one to pull\n");
	check(NET FUSE
	      "modules: { x: { node: 1, fuses: F1 }, y: { source address: 1, fuses: F1 } }\n",
	      "3: module `x`: a node has a meaning only on a network of scheme autosar or osek\n"
	      "3: module `y`: a source address has a meaning only on a network of scheme j1939\n");
	check(NET FUSE "modules: { x: { ids: 1, fuses: F1, networks: a, gateway: yes } }\n",
	      "3: module `x` is a gateway but sits on one network\n");
}

static void test_dangerous_modules_need_their_caution(void **state)
{
	(void)state;
	check(NET FUSE "modules: { SRS unit: { ids: 1, fuses: F1 } }\n",
	      "3: `SRS unit` has no caution `airbag`, so nodoff may propose to isolate it\n");
	check(NET FUSE "modules: { SRS unit: { ids: 1, fuses: F1, cautions: [airbag] } }\n", "");
	check(NET FUSE
	      "modules: { rear inverter: { ids: 1, fuses: F1, cautions: [high voltage] } }\n",
	      "3: `rear inverter` has no caution `high-voltage`, so nodoff may propose to isolate "
	      "it\n3: `rear inverter`: the caution `high voltage` is only shown; nodoff acts on "
	      "`high-voltage`\n");
	check(NET FUSE
	      "modules: { absrsx: { ids: 1, fuses: F1, cautions: [\"mind the seal\"] } }\n",
	      "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_good_map_has_none),
		cmocka_unit_test(test_networks),
		cmocka_unit_test(test_fuses),
		cmocka_unit_test(test_modules),
		cmocka_unit_test(test_dangerous_modules_need_their_caution),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
