/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "current-trace.h"
#include "current-synthetic.h"

typedef double current_ma(double seconds, void *context);

/* Samples `function` (mA over seconds) at `rate` Hz with `noise` mA. */
static struct nod_current_trace *sampled(current_ma *function, void *context, double seconds,
					 double rate, double noise)
{
	struct nod_current_trace *trace = nod_current_trace_new();
	struct noise source = {11};

	assert_non_null(trace);
	for (int64_t i = 0; (double)i < seconds * rate; i++) {
		double s = (double)i / rate,
		       ma = function(s, context) + noise * noise_next(&source);
		nod_time time = {T0 * NOD_NS_PER_S + (int64_t)(s * 1e9)};
		assert_int_equal(nod_current_trace_take(trace, time, (int64_t)(ma * 1000)), 0);
	}
	return trace;
}

static const struct nod_current_request clamp = {
	.lock = {INT64_MIN}, .limit_ua = 50000, .wander_ua = NOD_CLAMP_WANDER_UA};

struct result {
	struct nod_arena arena;
	struct nod_current_findings *f;
	struct nod_current_trace *trace;
};

static struct result analysed(struct nod_current_trace *trace)
{
	struct result r = {.trace = trace};
	r.f = nod_current_trace_findings(trace, &clamp, &r.arena);
	assert_non_null(r.f);
	return r;
}

static void done(struct result *r)
{
	nod_arena_free(&r->arena);
	nod_current_trace_free(r->trace);
}

static void assert_near(double value, double expected, double tolerance)
{
	if (!(fabs(value - expected) <= tolerance))
		fail_msg("%g is not %g +- %g", value, expected, tolerance);
}

static double at(const struct nod_current_findings *f, nod_time time)
{
	(void)f;
	return (double)time.ns / 1e9 - (double)T0;
}

/* Awake at 4 A with a wide noise, asleep from 600 s on, wandering zero. */
static double falls_asleep(double s, void *context)
{
	struct noise *n = context;
	double awake = s < 300 ? 8000 : s < 600 ? 4000 : 0;
	return awake + 30 + wander_ma(s) + (awake > 0 ? 80 * noise_next(n) : 0);
}

static void test_levels_and_steps_under_noise_and_wander(void **state)
{
	(void)state;
	struct noise extra = {5};
	struct result r = analysed(sampled(falls_asleep, &extra, 3600, 10, 3));

	assert_int_equal(r.f->step_count, 2); /* the wander makes none */
	assert_int_equal(r.f->pulse_count, 0);
	assert_near(at(r.f, r.f->steps[0].time), 300, 1);
	assert_near(at(r.f, r.f->steps[1].time), 600, 1);
	assert_true(r.f->steps[1].unsure.ns <= NOD_NS_PER_S);
	assert_near(r.f->steps[1].change_ua, -4000e3, 30e3);
	assert_true(r.f->steps[1].uncertainty_ua < 50e3);
	assert_true(r.f->quiescent_known && !r.f->within_noise);
	assert_near(r.f->quiescent_ua, 30e3, r.f->quiescent_uncertainty_ua);
	assert_near(r.f->quiescent_uncertainty_ua, 20e3, 1e3); /* never zeroed */
	assert_near(r.f->charge_uah, 1e6 * (8.03 * 300 + 4.03 * 300 + 0.03 * 3000) / 3600, 15e3);
	assert_int_equal(r.f->samples, 36000);
	done(&r);
}

static double small_step(double s, void *context)
{
	(void)context;
	return (s < 1800 ? 45 : 33) + wander_ma(s);
}

static void test_a_small_true_step_is_found_on_a_larger_wander(void **state)
{
	(void)state;
	struct result r = analysed(sampled(small_step, NULL, 3600, 10, 3));

	assert_int_equal(r.f->step_count, 1);
	assert_near(at(r.f, r.f->steps[0].time), 1800, 2);
	assert_near(r.f->steps[0].change_ua, -12e3, 1.5e3);
	done(&r);
}

static double telemetry(double s, void *context)
{
	double ma = 25, at_ms = fmod(s, 570); /* 9.5 min */
	(void)context;
	if (s > 100 && at_ms < 45)
		ma += at_ms < 10 ? 220 : 140;
	return ma + wander_ma(s) * 0.3;
}

static void test_telemetry_pulses_are_one_level_with_a_period(void **state)
{
	(void)state;
	struct result r = analysed(sampled(telemetry, NULL, 7200, 5, 2));

	assert_int_equal(r.f->level_count, 1);
	assert_int_equal(r.f->pulse_count, 12);
	assert_int_equal(r.f->group_count, 1);
	assert_int_equal(r.f->groups[0].count, 12);
	assert_true(r.f->groups[0].periodic);
	assert_near((double)r.f->groups[0].period.ns / 1e9, 570, 2);
	assert_near((double)r.f->groups[0].duration.ns / 1e9, 45, 2);
	assert_true(r.f->groups[0].telemetry_like);
	/* 12 pulses of (10 x 220 + 35 x 140) mA s in two hours */
	assert_near(r.f->groups[0].average_ua, 12 * 7100e3 / 7200, 400);
	assert_near(r.f->pulses_average_ua, r.f->groups[0].average_ua, 1);
	done(&r);
}

static void test_three_days_at_ten_hertz_stay_bounded(void **state)
{
	(void)state;
	struct result r = analysed(sampled(telemetry, NULL, 259200, 10, 2));
	size_t cells;
	nod_duration length;

	nod_current_trace_cells(r.trace, &cells, &length);
	assert_true(cells <= NOD_CURRENT_CELLS + 1);
	assert_int_equal(length.ns, 32 * NOD_NS_PER_S);
	assert_int_equal(r.f->samples, 2592000);
	assert_int_equal(r.f->level_count, 1);
	assert_true(r.f->groups[0].periodic);
	assert_near((double)r.f->groups[0].period.ns / 1e9, 570, 16);
	assert_near(r.f->groups[0].average_ua, 7100e3 / 570, 800);
	done(&r);
}

static double lamp(double s, void *context)
{
	(void)context;
	return 20 + (fmod(s, 20) < 8 ? 30 : 0);
}

static void test_a_short_cycle_is_no_staircase(void **state)
{
	(void)state;
	struct result r = analysed(sampled(lamp, NULL, 3600, 5, 2));

	assert_int_equal(r.f->step_count, 0);
	assert_near(r.f->quiescent_ua, 20e3, 1e3);
	assert_true(r.f->group_count >= 1 && r.f->groups[0].periodic);
	assert_near((double)r.f->groups[0].period.ns / 1e9, 20, 1);
	assert_near(r.f->groups[0].height_ua, 30e3, 3e3);
	assert_near(r.f->pulses_average_ua, 12e3, 1.5e3);
	assert_near(r.f->mean_ua, 32e3, 0.5e3);
	done(&r);
}

static double blink(double s, void *context)
{
	(void)context;
	return 20 + (fmod(s, 2) < 0.09 ? 40 : 0);
}

static void test_blinks_leave_the_level_alone(void **state)
{
	(void)state;
	struct result r = analysed(sampled(blink, NULL, 1800, 20, 1));

	assert_int_equal(r.f->step_count, 0);
	assert_near(r.f->quiescent_ua, 20e3, 500);
	assert_near(r.f->blinks_average_ua, 2e3, 300);
	done(&r);
}

static double nothing(double s, void *context)
{
	(void)s;
	(void)context;
	return 4;
}

static void test_zeroing(void **state)
{
	(void)state;
	struct nod_current_trace *trace = nod_current_trace_new();
	struct noise noise = {2};

	assert_non_null(trace);
	for (int i = 0; i < 1800; i++) { /* zeroed at 900 s: the reading falls from 18 to 3 mA */
		double ma = (i < 905 ? 18 : 3) + 0.5 * noise_next(&noise);
		nod_current_trace_take(trace, (nod_time){(T0 + i) * NOD_NS_PER_S},
				       (int64_t)(ma * 1000));
	}
	nod_current_trace_zeroed(trace, (nod_time){(T0 + 900) * NOD_NS_PER_S});
	struct result r = analysed(trace);
	assert_int_equal(r.f->step_count, 1);
	assert_true(r.f->steps[0].zeroing);
	assert_near(r.f->levels[0].uncertainty_ua, 20e3, 500);
	assert_true(r.f->levels[1].uncertainty_ua < 8e3);
	assert_true(r.f->quiescent_known && r.f->within_noise);
	assert_near(nod_current_trace_wander(trace, (nod_time){(T0 + 900) * NOD_NS_PER_S}, 20000),
		    2000, 0);
	done(&r);

	r = analysed(sampled(nothing, NULL, 600, 2, 1));
	assert_true(r.f->within_noise); /* 4 mA on a clamp nobody zeroed */
	done(&r);
}

static void test_gaps_and_bad_samples(void **state)
{
	(void)state;
	struct nod_current_trace *trace = nod_current_trace_new();
	nod_time t = {T0 * NOD_NS_PER_S};

	assert_non_null(trace);
	struct nod_arena arena = {0};
	assert_null(nod_current_trace_findings(trace, &clamp, &arena));
	for (int i = 0; i < 100; i++)
		nod_current_trace_take(trace, (nod_time){(T0 + i) * NOD_NS_PER_S}, 1000000);
	t.ns = T0 * NOD_NS_PER_S;
	assert_int_equal(nod_current_trace_take(trace, t, 0), -EINVAL);
	assert_int_equal(nod_current_trace_take(trace, NOD_TIME_NONE, 0), -EINVAL);
	t.ns = (T0 + 3600) * NOD_NS_PER_S;
	assert_int_equal(nod_current_trace_take(trace, t, INT64_MAX), -ERANGE);
	assert_int_equal(nod_current_trace_take(trace, t, INT64_MIN), -ERANGE);
	for (int i = 3600; i < 3700; i++)
		nod_current_trace_take(trace, (nod_time){(T0 + i) * NOD_NS_PER_S}, 1000000);
	struct result r = analysed(trace);
	assert_int_equal(r.f->out_of_order, 2);
	assert_int_equal(r.f->impossible, 2);
	assert_int_equal(r.f->measured.ns, 198 * NOD_NS_PER_S);
	assert_int_equal(r.f->not_measured.ns, 3501 * NOD_NS_PER_S);
	assert_near(r.f->charge_uah, 198e6 / 3600, 1e-3);
	nod_duration measured;
	assert_near(nod_current_trace_charge(trace, (nod_time){(T0 + 10) * NOD_NS_PER_S},
					     (nod_time){(T0 + 3610) * NOD_NS_PER_S}, &measured),
		    99e6 / 3600, 1e-3);
	assert_int_equal(measured.ns, 99 * NOD_NS_PER_S);
	done(&r);
}

static void test_findings_do_not_depend_on_when_they_are_asked(void **state)
{
	(void)state;
	struct nod_current_trace *trace = nod_current_trace_new();

	assert_non_null(trace);
	for (int i = 0; i < 2000; i++) {
		nod_current_trace_take(trace, (nod_time){(T0 * 5 + i) * NOD_NS_PER_S / 5},
				       i % 7 * 1000 + (i < 1000 ? 500000 : 0));
		if (i % 300 == 7) {
			struct nod_arena arena = {0};
			assert_non_null(nod_current_trace_findings(trace, &clamp, &arena));
			nod_arena_free(&arena);
		}
	}
	struct result r = analysed(trace);
	assert_int_equal(r.f->step_count, 1);
	assert_near(r.f->steps[0].change_ua, -500e3, 1e3);
	done(&r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_levels_and_steps_under_noise_and_wander),
		cmocka_unit_test(test_a_small_true_step_is_found_on_a_larger_wander),
		cmocka_unit_test(test_telemetry_pulses_are_one_level_with_a_period),
		cmocka_unit_test(test_three_days_at_ten_hertz_stay_bounded),
		cmocka_unit_test(test_a_short_cycle_is_no_staircase),
		cmocka_unit_test(test_blinks_leave_the_level_alone),
		cmocka_unit_test(test_zeroing),
		cmocka_unit_test(test_gaps_and_bad_samples),
		cmocka_unit_test(test_findings_do_not_depend_on_when_they_are_asked),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
