/* SPDX-License-Identifier: MIT */
/* Time runs back, and nothing says that the clock was set: the traffic tells whether it went on. */
#include "scene.h"

#define MIN (60 * 1000)

#define MESSAGES 12

/* Message i comes each 60 + 40 * i ms. Its frames of [from, to), in a recording that began `phase`
 * earlier, are stamped later by `shift`; `messages` of them; ms. */
static void talk(struct scene *s, int messages, int64_t phase, int64_t from, int64_t to,
		 int64_t shift)
{
	for (int64_t t = from; t < to; t += 5)
		for (int i = 0; i < messages; i++) {
			char text[16];
			snprintf(text, sizeof(text), "%03X#00", 0x100 + i);
			if ((t + phase * (i + 3) + 15 * i) / 5 % (12 + 8 * i) == 0)
				frame_at(s, t + shift, 0, text);
		}
}

static void begin(struct scene *s)
{
	scene_begin(s, "networks:\n  body: { interfaces: [can0], sleeps within: 10 min, "
		       "quiet time: 3 s }\n");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void assert_one_span(const struct nod_findings *f, int64_t minutes)
{
	assert_int_equal(f->networks[0].span_count, 1);
	assert_int_equal(f->networks[0].spans[0].from.ns / NOD_NS_PER_S, 0);
	assert_in_range(f->end.ns / NOD_NS_PER_S, minutes * 60 - 1, minutes * 60);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->restarts, 0);
}

/* The clock was set in mid-traffic, by seconds or hours, up to three times. */
static void test_traffic_that_goes_on_is_one_span(void **state)
{
	(void)state;
	static const int64_t steps[] = {-3000, -5000, -3600000, -86400000};
	for (size_t i = 0; i < 4; i++)
		for (int times = 1; times <= 3; times++) {
			struct scene s;
			begin(&s);
			for (int k = 0; k <= times; k++)
				talk(&s, MESSAGES, 0, k ? (3 + k) * MIN + 5 * k : 0,
				     k < times ? (4 + k) * MIN + 5 * (k + 1) : 12 * MIN,
				     k * steps[i]);
			const struct nod_findings *f = found_at(&s, 12 * MIN + times * steps[i]);
			assert_int_equal(f->clock_steps, times);
			assert_one_span(f, 12);
			scene_end(&s);
		}
}

static const char *doubt(const struct nod_findings *f, enum nod_doubt kind)
{
	for (size_t i = 0; i < f->doubt_count; i++)
		if (f->doubts_about[i].kind == (int)kind)
			return f->doubts[i];
	return NULL;
}

/* Two recordings of eight minutes, each of them within its deadline: not sixteen. */
static void test_another_recording_in_the_file_is_another_span(void **state)
{
	(void)state;
	struct scene s;
	for (int phase = 1; phase <= 10; phase++) {
		int messages = phase % 2 ? MESSAGES : 8;
		begin(&s);
		talk(&s, messages, 0, 0, 8 * MIN, 0);
		talk(&s, messages, phase * 35, 0, 8 * MIN, 0);
		const struct nod_findings *f = found_at(&s, 0);
		assert_int_equal(f->restarts, 1);
		assert_int_equal(f->networks[0].span_count, 2);
		assert_false(f->networks[0].spans[0].silence_known);
		assert_in_range(f->networks[0].spans[0].to.ns / NOD_NS_PER_MS, 8 * MIN - 500,
				8 * MIN + 2000);
		assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
		assert_int_equal(f->wake_count, 0);
		assert_non_null(strstr(doubt(f, NOD_DOUBT_RESTARTS), "more than one recording"));
		assert_ptr_equal(doubt(f, NOD_DOUBT_RESTARTS), f->doubts[0]); /* seen at once */
		assert_null(doubt(f, NOD_DOUBT_CLOCK));
		scene_end(&s);
	}
}

/* From there on it is judged for itself. */
static void test_what_comes_then_has_its_own_deadline(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	talk(&s, MESSAGES, 0, 0, 8 * MIN, 0);
	talk(&s, MESSAGES, 70, 0, 12 * MIN, 0);
	const struct nod_findings *f = found_at(&s, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_in_range(f->clock_from.ns / NOD_NS_PER_MS, 8 * MIN - 500, 8 * MIN + 2000);
	scene_end(&s);
}

/* So few messages do not tell: the clock is the simpler thing. */
static void test_few_messages_are_taken_to_go_on(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	talk(&s, 5, 0, 0, 6 * MIN, 0);
	talk(&s, 5, 70, 0, 6 * MIN, 0);
	assert_one_span(found_at(&s, 0), 12);
	assert_non_null(doubt(s.found, NOD_DOUBT_CLOCK));
	scene_end(&s);
}

/* A mark that says how far ends the asking, before the traffic has told. */
static void test_what_is_told_is_not_asked(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	talk(&s, MESSAGES, 0, 0, 6 * MIN, 0);
	talk(&s, MESSAGES, 70, 0, 20, 0);
	mark_at(&s, 20, NOD_MARK_CLOCK_STEP, "-360 s");
	talk(&s, MESSAGES, 70, 20, 6 * MIN, 0);
	assert_one_span(found_at(&s, 0), 12);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_traffic_that_goes_on_is_one_span),
		cmocka_unit_test(test_another_recording_in_the_file_is_another_span),
		cmocka_unit_test(test_what_comes_then_has_its_own_deadline),
		cmocka_unit_test(test_few_messages_are_taken_to_go_on),
		cmocka_unit_test(test_what_is_told_is_not_asked),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
