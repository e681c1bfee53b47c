/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "current-join.h"
#include "current-synthetic.h"

enum { BODY, COMFORT, CHASSIS, NETWORKS };
#define DAY_MA 30 /* what flows anyway */

static nod_time at(double s)
{
	return (nod_time){T0 * NOD_NS_PER_S + (int64_t)(s * 1e9)};
}

static bool awake(const struct nod_awake_span *spans, size_t count, int network, double s)
{
	for (size_t i = 0; i < count; i++)
		if (spans[i].network == network &&
		    s >= (double)(spans[i].from.ns - at(0).ns) / 1e9 &&
		    s < (double)(spans[i].to.ns - at(0).ns) / 1e9 + (network >= 0 ? 2.5 : 0))
			return true;
	return false;
}

/* Body draws 1.2 A, comfort 0.7 A, chassis 0.4 A while awake. */
static struct nod_current_trace *trace_of(const struct nod_awake_span *spans, size_t count,
					  double seconds, double base_ma, double noise_ma)
{
	struct nod_current_trace *trace = nod_current_trace_new();
	struct noise noise = {21};

	assert_non_null(trace);
	for (int i = 0; i < seconds * 5; i++) {
		double s = i / 5.0;
		double ma = base_ma + 1200 * awake(spans, count, BODY, s) +
			    700 * awake(spans, count, COMFORT, s) +
			    400 * awake(spans, count, CHASSIS, s) + wander_ma(s) +
			    noise_ma * noise_next(&noise);
		assert_int_equal(nod_current_trace_take(trace, at(s), (int64_t)(ma * 1000)), 0);
	}
	return trace;
}

static void assert_near(double value, double expected, double tolerance)
{
	if (!(fabs(value - expected) <= tolerance))
		fail_msg("%g is not %g +- %g", value, expected, tolerance);
}

static void assert_covers(const struct nod_network_current *n, double ua)
{
	assert_true(n->known);
	assert_near(n->ua, ua, n->uncertainty_ua);
	assert_true(n->uncertainty_ua < 20e3);
}

static void test_each_network_gets_its_share(void **state)
{
	(void)state;
	const struct nod_awake_span spans[] = {
		{BODY, {at(0).ns}, {at(600).ns}},     {COMFORT, {at(0).ns}, {at(400).ns}},
		{BODY, {at(1500).ns}, {at(1600).ns}}, {COMFORT, {at(1502).ns}, {at(1560).ns}},
		{BODY, {at(2500).ns}, {at(2650).ns}}, {COMFORT, {at(3000).ns}, {at(3100).ns}},
		{CHASSIS, {at(0).ns}, {at(3600).ns}},
	};
	struct nod_current_trace *trace = trace_of(spans, 7, 3600, DAY_MA, 4);
	struct nod_arena arena = {0};
	struct nod_current_join *j = nod_current_join_find(trace, spans, 7, NETWORKS, at(0),
							   at(3600), NOD_CLAMP_WANDER_UA, &arena);

	assert_non_null(j);
	assert_covers(&j->networks[BODY], 1200e3);
	assert_covers(&j->networks[COMFORT], 700e3);
	assert_false(j->networks[CHASSIS].known); /* it never changed */
	assert_int_equal(j->networks[CHASSIS].group, -1);
	assert_false(j->explained_all);
	assert_near(j->networks[BODY].charge_uah, 1200e3 * 850 / 3600, 4e3);
	assert_near(j->explained_uah, (1200e3 * 850 + 700e3 * 558) / 3600, 6e3);
	assert_true(j->explained_uah < j->charge_uah);
	assert_false(j->asleep_known); /* chassis never slept */
	assert_int_equal(nod_current_join_asleep(j, 50000), NOD_ASLEEP_UNKNOWN);
	assert_int_equal(j->events[3].woke, 2);
	assert_near(j->events[3].change_ua, 1900e3, 20e3);
	nod_arena_free(&arena);
	nod_current_trace_free(trace);
}

static void test_networks_that_change_together_share_one_figure(void **state)
{
	(void)state;
	const struct nod_awake_span spans[] = {
		{BODY, {at(0).ns}, {at(600).ns}},
		{COMFORT, {at(0).ns}, {at(602).ns}},
		{BODY, {at(1500).ns}, {at(1600).ns}},
		{COMFORT, {at(1500).ns}, {at(1603).ns}},
	};
	struct nod_current_trace *trace = trace_of(spans, 4, 3000, DAY_MA, 4);
	struct nod_arena arena = {0};
	struct nod_current_join *j = nod_current_join_find(trace, spans, 4, NETWORKS, at(0),
							   at(3000), NOD_CLAMP_WANDER_UA, &arena);

	assert_non_null(j);
	assert_covers(&j->networks[BODY], 1900e3);
	assert_int_equal(j->networks[BODY].group, j->networks[COMFORT].group);
	assert_true(j->networks[COMFORT].charge_uah == 0); /* counted once */
	assert_true(j->explained_all);
	assert_near(j->explained_uah, 1900e3 * 700 / 3600, 8e3);
	assert_true(j->asleep_known);
	assert_near(j->asleep_ua, DAY_MA * 1000, j->asleep_uncertainty_ua);
	nod_arena_free(&arena);
	nod_current_trace_free(trace);
}

static enum nod_asleep_verdict asleep_with(double base_ma, const struct nod_awake_span *spans,
					   size_t count, bool zeroed)
{
	struct nod_current_trace *trace = trace_of(spans, count, 2000, base_ma, 3);
	struct nod_arena arena = {0};

	if (zeroed)
		nod_current_trace_zeroed(trace, at(1700));
	struct nod_current_join *j = nod_current_join_find(trace, spans, count, NETWORKS, at(0),
							   at(2000), NOD_CLAMP_WANDER_UA, &arena);
	assert_non_null(j);
	enum nod_asleep_verdict verdict = nod_current_join_asleep(j, 50000);
	nod_arena_free(&arena);
	nod_current_trace_free(trace);
	return verdict;
}

static void test_current_of_a_sleeping_car_against_the_limit(void **state)
{
	(void)state;
	const struct nod_awake_span spans[] = {
		{BODY, {at(0).ns}, {at(600).ns}},
		{-1, {at(600).ns}, {at(1000).ns}}, /* nobody listened */
	};
	const struct nod_awake_span always[] = {{-1, {at(0).ns}, {at(2000).ns}}};

	assert_int_equal(asleep_with(430, spans, 2, false), NOD_ASLEEP_DRAWS);
	assert_int_equal(asleep_with(12, spans, 2, false), NOD_ASLEEP_FINE);
	assert_int_equal(asleep_with(55, spans, 2, false), NOD_ASLEEP_DOUBT);
	assert_int_equal(asleep_with(38, spans, 2, false), NOD_ASLEEP_DOUBT);
	assert_int_equal(asleep_with(80, spans, 2, true), NOD_ASLEEP_DRAWS);
	assert_int_equal(asleep_with(430, always, 1, false), NOD_ASLEEP_UNKNOWN);
	assert_int_equal(asleep_with(12, NULL, 0, false), NOD_ASLEEP_FINE);
}

/* The uncertainty of the change at 600 s, microamps, with so much noise before and after. */
static double uncertainty_with(double before_ma, double after_ma)
{
	const struct nod_awake_span spans[] = {{BODY, {at(0).ns}, {at(600).ns}}};
	struct nod_current_trace *trace = nod_current_trace_new();
	struct noise noise = {21};
	struct nod_arena arena = {0};

	for (int i = 0; i < 1200 * 5; i++) {
		double s = i / 5.0, awake_s = 602.5;
		double ma = s < awake_s ? 1200 + before_ma * noise_next(&noise)
					: 30 + after_ma * noise_next(&noise);
		assert_int_equal(nod_current_trace_take(trace, at(s), (int64_t)(ma * 1000)), 0);
	}
	struct nod_current_join *j = nod_current_join_find(trace, spans, 1, NETWORKS, at(0),
							   at(1200), NOD_CLAMP_WANDER_UA, &arena);
	const struct nod_join_event *e = &j->events[j->event_count - 1];
	assert_true(e->measured && e->slept == 1);
	double uncertainty = e->uncertainty_ua;
	nod_arena_free(&arena);
	nod_current_trace_free(trace);
	return uncertainty;
}

static void test_the_noise_of_both_sides_counts(void **state)
{
	double quiet = uncertainty_with(1, 1), before = uncertainty_with(60, 1),
	       after = uncertainty_with(1, 60), both = uncertainty_with(60, 60);

	(void)state;
	assert_true(before > 3 * quiet);
	assert_true(after > 3 * quiet);
	assert_near(both, sqrt(before * before + after * after), both / 20);
}

static void test_without_current_nothing_is_claimed(void **state)
{
	(void)state;
	const struct nod_awake_span spans[] = {{BODY, {at(0).ns}, {at(600).ns}}};
	struct nod_current_trace *trace = nod_current_trace_new();
	struct nod_arena arena = {0};

	assert_non_null(trace);
	struct nod_current_join *j = nod_current_join_find(trace, spans, 1, NETWORKS, NOD_TIME_NONE,
							   at(2000), 0, &arena);
	assert_non_null(j);
	assert_false(j->networks[BODY].known);
	assert_int_equal(j->event_count, 2);
	assert_false(j->events[0].measured);
	assert_true(j->charge_uah == 0 && j->explained_uah == 0);
	assert_int_equal(nod_current_join_asleep(j, 50000), NOD_ASLEEP_UNKNOWN);
	nod_arena_free(&arena);
	nod_current_trace_free(trace);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each_network_gets_its_share),
		cmocka_unit_test(test_networks_that_change_together_share_one_figure),
		cmocka_unit_test(test_current_of_a_sleeping_car_against_the_limit),
		cmocka_unit_test(test_the_noise_of_both_sides_counts),
		cmocka_unit_test(test_without_current_nothing_is_claimed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
