/* SPDX-License-Identifier: MIT */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "evidence.h"

static void test_every_kind_has_its_row(void **state)
{
	(void)state;
	for (int kind = 0; kind < NOD_EVIDENCE_KINDS; kind++) {
		const struct nod_evidence_rule *rule = nod_evidence_rule((enum nod_evidence)kind);
		assert_int_equal(rule->kind, kind);
		assert_true(*rule->name && *rule->needs && *rule->why);
		assert_int_equal(rule->why[strlen(rule->why) - 1], '.');
	}
}

/* Names stand in JSON that others read: short words, each once. */
static void test_names_are_unique_words(void **state)
{
	(void)state;
	for (int a = 0; a < NOD_EVIDENCE_KINDS; a++) {
		const char *name = nod_evidence_rule((enum nod_evidence)a)->name;
		for (const char *p = name; *p; p++)
			assert_true(islower((unsigned char)*p) || *p == '-');
		for (int b = 0; b < a; b++)
			assert_string_not_equal(name,
						nod_evidence_rule((enum nod_evidence)b)->name);
	}
}

/* Nothing convinces beyond what one observation of a real car can: a thousand
 * to one at most; and every row says something. */
static void test_no_row_is_beyond_doubt(void **state)
{
	(void)state;
	for (int kind = 0; kind < NOD_EVIDENCE_KINDS; kind++) {
		double strength = nod_evidence_rule((enum nod_evidence)kind)->strength;
		assert_true(strength != 0 && strength >= -7 && strength <= 7);
	}
}

static void test_for_and_against_have_their_sign(void **state)
{
	(void)state;
	static const enum nod_evidence against[] = {
		NOD_EV_NM_READY,           NOD_EV_STOPPED,    NOD_EV_NOT_FIRST,
		NOD_EV_ISOLATED_UNCHANGED, NOD_EV_FUSE_DEAD,  NOD_EV_GOOD_SAME,
		NOD_EV_GATEWAY_SPREAD,     NOD_EV_REFIT_SLEPT};
	for (int kind = 0; kind < NOD_EVIDENCE_KINDS; kind++) {
		bool listed = false;
		for (size_t i = 0; i < sizeof(against) / sizeof(*against); i++)
			listed |= (int)against[i] == kind;
		assert_int_equal(nod_evidence_rule((enum nod_evidence)kind)->strength < 0, listed);
	}
}

/* An isolation is the strongest there is: with its refit above all that is
 * only seen. */
static void test_isolation_both_ways_outweighs_what_is_seen(void **state)
{
	(void)state;
	double proof = nod_evidence_rule(NOD_EV_ISOLATED_SLEPT)->strength +
		       nod_evidence_rule(NOD_EV_REFIT_WOKE)->strength;
	for (int kind = 0; kind < NOD_EVIDENCE_KINDS; kind++)
		assert_true(nod_evidence_rule((enum nod_evidence)kind)->strength < proof);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_every_kind_has_its_row),
		cmocka_unit_test(test_names_are_unique_words),
		cmocka_unit_test(test_no_row_is_beyond_doubt),
		cmocka_unit_test(test_for_and_against_have_their_sign),
		cmocka_unit_test(test_isolation_both_ways_outweighs_what_is_seen),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
