/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "nm-watch.h"

static struct nod_nm_layout layout_of(enum nod_nm_scheme scheme)
{
	struct nod_nm_layout layout = nod_nm_layout_default();

	layout.scheme = scheme;
	layout.first_id = 0x500;
	layout.last_id = 0x53F;
	layout.ids_given = true;
	return layout;
}

static struct nod_ident idents[1];

static struct nod_ident *fresh(void)
{
	idents[0] = (struct nod_ident){.id = 0x507};
	return idents;
}

static void take(struct nod_ident *ident, const struct nod_nm_layout *layout, int64_t ms,
		 uint8_t byte0, uint8_t byte1, enum nod_phase phase, uint32_t span)
{
	struct nod_frame frame = {
		.id = 0x507, .length = 8, .time = {ms * NOD_NS_PER_MS}, .data = {byte0, byte1}};
	assert_int_equal(nod_nm_watch_take(ident, &frame, layout, phase, span), 0);
}

static void test_pdus_are_known_by_their_ids(void **state)
{
	(void)state;
	struct nod_nm_layout autosar = layout_of(NOD_NM_AUTOSAR), none = layout_of(NOD_NM_NONE);
	struct nod_nm_layout unknown = nod_nm_layout_default();
	assert_true(nod_nm_is_pdu(&autosar, 0x500));
	assert_true(nod_nm_is_pdu(&autosar, 0x53F));
	assert_false(nod_nm_is_pdu(&autosar, 0x540));
	assert_false(nod_nm_is_pdu(&autosar, 0x500 | NOD_ID_EXTENDED));
	assert_false(nod_nm_is_pdu(&none, 0x500));
	assert_false(nod_nm_is_pdu(&unknown, 0));
}

/* A coordinator's id (bits 1 and 2, release 3.2) is always there; its readiness (bit 3) comes
 * and goes; what is set for ever is neither. */
static void test_a_coordinator_says_that_it_is_one(void **state)
{
	(void)state;
	static const struct {
		uint8_t control[3];
		bool coordinates;
	} cases[] = {{{0x00, 0x10, 0x01}, false},
		     {{0x02, 0x12, 0x02}, true},
		     {{0x02, 0x00, 0x02}, false},
		     {{0x00, 0x08, 0x00}, true},
		     {{0x08, 0x08, 0x08}, false}};
	struct nod_nm_layout layout = layout_of(NOD_NM_AUTOSAR);

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_ident *ident = fresh();
		for (int k = 0; k < 3; k++)
			take(ident, &layout, 1000 * k, 7, cases[i].control[k], NOD_PHASE_LATE, 1);
		assert_int_equal(nod_nm_watch_coordinates(ident->node), cases[i].coordinates);
		free(ident->node);
	}
}

/* Control bits: 10 active wake-up. Every PDU of AUTOSAR CanNm is a request. */
static void test_autosar_requests_and_active_wakeups_are_tallied(void **state)
{
	(void)state;
	struct nod_nm_layout layout = layout_of(NOD_NM_AUTOSAR);
	struct nod_ident *ident = fresh();
	take(ident, &layout, 1000, 7, 0x10, NOD_PHASE_SETTLING, 1);
	take(ident, &layout, 2000, 7, 0x00, NOD_PHASE_LATE, 1);
	assert_int_equal(ident->node->address, 7);
	assert_int_equal(ident->node->pdus[NOD_PHASE_SETTLING], 1);
	assert_int_equal(ident->node->pdus[NOD_PHASE_LATE], 1);
	assert_int_equal(ident->node->active_wakeups[NOD_PHASE_SETTLING], 1);
	assert_int_equal(ident->node->active_wakeups[NOD_PHASE_LATE], 0);
	assert_true(ident->node->span_active);
	assert_int_equal(ident->node->last_request.ns, 2000 * NOD_NS_PER_MS);
	assert_int_equal(ident->node->first.ns, 1000 * NOD_NS_PER_MS);
	free(ident->node);
}

/* Who woke it last time does not say who woke it this time. */
static void test_a_new_span_forgets_the_active_wakeup(void **state)
{
	(void)state;
	struct nod_nm_layout layout = layout_of(NOD_NM_AUTOSAR);
	struct nod_ident *ident = fresh();
	take(ident, &layout, 1000, 7, 0x10, NOD_PHASE_LATE, 1);
	take(ident, &layout, 60000, 7, 0x00, NOD_PHASE_LATE, 2);
	assert_false(ident->node->span_active);
	assert_int_equal(ident->node->span_first.ns, 60000 * NOD_NS_PER_MS);
	free(ident->node);
}

/* Ring 02, sleep indication 10, limp home 04; byte 0 is the destination. */
static void test_osek_readiness_and_limp_home_are_tallied(void **state)
{
	(void)state;
	struct nod_nm_layout layout = layout_of(NOD_NM_OSEK);
	struct nod_ident *ident = fresh();
	take(ident, &layout, 1000, 8, 0x02, NOD_PHASE_LATE, 1);
	take(ident, &layout, 1300, 8, 0x12, NOD_PHASE_LATE, 1);
	take(ident, &layout, 2300, 7, 0x04, NOD_PHASE_LATE, 1);
	assert_int_equal(ident->node->address, 7);
	assert_int_equal(ident->node->ready[NOD_PHASE_LATE], 1);
	assert_int_equal(ident->node->limp_home[NOD_PHASE_LATE], 1);
	assert_int_equal(ident->node->last_ready.ns, 1300 * NOD_NS_PER_MS);
	assert_int_equal(ident->node->last_request.ns, 2300 * NOD_NS_PER_MS);
	free(ident->node);
}

/* A frame too short to be a PDU is none. */
static void test_what_cannot_be_read_counts_for_nothing(void **state)
{
	(void)state;
	struct nod_nm_layout layout = layout_of(NOD_NM_OSEK);
	struct nod_ident *ident = fresh();
	struct nod_frame frame = {.id = 0x507, .length = 1, .time = {1000}};
	assert_int_equal(nod_nm_watch_take(ident, &frame, &layout, NOD_PHASE_LATE, 1), 0);
	assert_null(ident->node);
	frame = (struct nod_frame){.id = 0x507, .length = 8, .time = {1000}, .data = {0x00, 0x0F}};
	assert_int_equal(nod_nm_watch_take(ident, &frame, &layout, NOD_PHASE_LATE, 1), 0);
	assert_null(ident->node);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_pdus_are_known_by_their_ids),
		cmocka_unit_test(test_autosar_requests_and_active_wakeups_are_tallied),
		cmocka_unit_test(test_a_new_span_forgets_the_active_wakeup),
		cmocka_unit_test(test_osek_readiness_and_limp_home_are_tallied),
		cmocka_unit_test(test_what_cannot_be_read_counts_for_nothing),
		cmocka_unit_test(test_a_coordinator_says_that_it_is_one),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
