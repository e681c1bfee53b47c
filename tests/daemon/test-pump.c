/* SPDX-License-Identifier: MIT */
/* From the sockets of several taps into one order of time, whatever the clocks do. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "pump.h"
#include "queued-can.h"
#include "silent-reports.h"

struct pumping {
	struct ev_loop *loop;
	struct nod_tap taps[QUEUED_SOCKETS];
	size_t tap_count;
	struct nod_merger *merger;
	struct nod_pump *pump;
	char told[512];           /* what was handed on: IDs, and what happened to the clocks */
	uint64_t frames, lost;    /* handed on */
	nod_time last;            /* of what was handed on */
	bool backwards;           /* it was not in the order of time */
	nod_duration step, slept; /* last told */
};

static void note(struct pumping *p, const char *word)
{
	size_t length = strlen(p->told);

	snprintf(p->told + length, sizeof(p->told) - length, "%s ", word);
}

static void take(void *context, const struct nod_event *event)
{
	struct pumping *p = context;
	char word[16];

	p->frames += event->kind == NOD_EVENT_FRAME;
	p->lost += event->kind == NOD_EVENT_LOSS ? event->loss.count : 0;
	p->backwards |= nod_time_is_set(p->last) && event->time.ns < p->last.ns;
	p->last = event->time;
	snprintf(word, sizeof(word), "%X", event->kind == NOD_EVENT_FRAME ? event->frame.id : 0);
	note(p, word);
}

static void clock_step(void *context, nod_time now, nod_duration step)
{
	struct pumping *p = context;

	(void)now;
	p->step = step;
	p->last = NOD_TIME_NONE; /* a new clock */
	note(p, "step");
}

static void suspended(void *context, nod_time now, nod_duration length)
{
	struct pumping *p = context;

	(void)now;
	p->slept = length;
	note(p, "suspended");
}

static void begin(struct pumping *p)
{
	struct nod_tap_reports reports = silent_reports();
	struct nod_pump_calls calls = {take, clock_step, suspended, p};
	struct nod_error err;

	queued_reset();
	memset(p, 0, sizeof(*p));
	p->last = NOD_TIME_NONE;
	p->tap_count = QUEUED_SOCKETS;
	for (size_t i = 0; i < QUEUED_SOCKETS; i++) {
		p->taps[i].state = NOD_TAP_LISTENING;
		p->taps[i].gap_from = NOD_TIME_NONE;
		assert_int_equal(nod_listener_open(&p->taps[i].listener, (uint8_t)i, i, &err), 0);
	}
	p->merger = nod_merger_new(QUEUED_SOCKETS);
	p->loop = ev_loop_new(EVBACKEND_EPOLL | EVFLAG_NOENV);
	p->pump = nod_pump_new(p->loop, p->taps, QUEUED_SOCKETS, &p->tap_count, p->merger, &reports,
			       &calls);
	assert_non_null(p->pump);
	nod_pump_run(p->pump); /* a first look at the clocks */
}

static void end(struct pumping *p)
{
	nod_pump_free(p->pump);
	nod_merger_free(p->merger);
	for (size_t i = 0; i < QUEUED_SOCKETS; i++)
		nod_listener_close(&p->taps[i].listener);
	ev_loop_destroy(p->loop);
	kernel.now = 0;
}

static nod_time run_at(struct pumping *p, int64_t ms)
{
	kernel.now = queued_at(ms).ns;
	return nod_pump_run(p->pump);
}

static void frames_of_all_taps_come_in_the_order_of_their_times(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	queued_add(0, 20, 0xA);
	run_at(&p, 25);
	queued_add(1, 10, 0xB); /* later read, earlier on its network */
	queued_add(1, 30, 0xC);
	assert_int_equal(run_at(&p, 50).ns, queued_at(50).ns - NOD_PUMP_HOLD_BACK.ns);
	assert_string_equal(p.told, "");
	run_at(&p, 119);
	assert_string_equal(p.told, "B ");
	run_at(&p, 120);
	assert_string_equal(p.told, "B A ");
	run_at(&p, 200);
	assert_string_equal(p.told, "B A C ");
	end(&p);
}

static void a_flush_holds_nothing_back(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	kernel.now = queued_at(50).ns;
	queued_add(0, 49, 0xA);
	queued_add(1, 48, 0xB);
	nod_pump_flush(p.pump);
	assert_string_equal(p.told, "B A ");
	end(&p);
}

/* One network has so much that it is not read to its end at once: the other waits for it. */
static void a_backlog_of_one_tap_does_not_upset_the_order(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	for (int i = 0; i < 3000; i++)
		queued_add(0, i, 0xA);
	for (int i = 0; i < 300; i++)
		queued_add(1, i * 10, 0xB);
	nod_time until = run_at(&p, 3200);
	assert_true(p.frames > 500 && p.frames < 3300);
	assert_true(until.ns < queued_at(3000).ns);
	run_at(&p, 3210);
	run_at(&p, 3220);
	assert_int_equal(p.frames, 3300);
	assert_int_equal(p.lost, 0);
	assert_false(p.backwards);
	end(&p);
}

static void what_was_lost_is_handed_on_too(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	queued_add(0, 10, 0xA);
	queued_add(0, 20, 0xB)->dropped = 12;
	run_at(&p, 200);
	assert_string_equal(p.told, "A 0 B ");
	assert_int_equal(p.lost, 12);
	assert_int_equal(p.taps[0].listener.lost, 12);
	end(&p);
}

static void a_tap_whose_adapter_went_does_not_keep_the_others(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	kernel.sockets[0].ends = ENODEV;
	queued_add(1, 10, 0xB);
	run_at(&p, 200);
	assert_string_equal(p.told, "B ");
	end(&p);
}

static void taps_that_are_not_counted_are_not_read(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	p.tap_count = 1;
	queued_add(0, 10, 0xA);
	queued_add(1, 10, 0xB);
	run_at(&p, 200);
	assert_string_equal(p.told, "A ");
	p.tap_count = 2;
	run_at(&p, 220);
	assert_string_equal(p.told, "A B ");
	end(&p);
}

static void a_step_of_the_clock_parts_what_was_stamped_before_and_since(void **state)
{
	static const int64_t hours[] = {1, -1, 24};

	(void)state;
	for (size_t i = 0; i < sizeof(hours) / sizeof(*hours); i++) {
		struct pumping p;
		int64_t step = hours[i] * 3600 * 1000;
		begin(&p);
		queued_add(0, 10, 0xA);
		queued_add(1, 20, 0xB);
		queued_add(0, step + 40, 0xC);
		queued_add(1, step + 35, 0xD);
		kernel.set = step * NOD_NS_PER_MS;
		run_at(&p, step + 50);
		assert_memory_equal(p.told, "A B step ", 9);
		assert_int_equal(p.step.ns, step * NOD_NS_PER_MS);
		run_at(&p, step + 200);
		assert_string_equal(p.told, "A B step D C ");
		end(&p);
	}
}

static void a_suspension_is_told_and_no_step(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	queued_add(0, 10, 0xA);
	queued_add(0, 600040, 0xB);
	kernel.suspended = 600000 * NOD_NS_PER_MS;
	run_at(&p, 600050);
	assert_memory_equal(p.told, "A suspended ", 12);
	assert_int_equal(p.slept.ns, 600000 * NOD_NS_PER_MS);
	run_at(&p, 600200);
	assert_string_equal(p.told, "A suspended B ");
	end(&p);
}

static void suspended_and_set_are_told_in_this_order(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	queued_add(0, 10, 0xA);
	kernel.suspended = 600000 * NOD_NS_PER_MS;
	kernel.set = -3000 * NOD_NS_PER_MS;
	run_at(&p, 597050);
	assert_string_equal(p.told, "A suspended step ");
	assert_int_equal(p.slept.ns, 600000 * NOD_NS_PER_MS);
	assert_int_equal(p.step.ns, -3000 * NOD_NS_PER_MS);
	end(&p);
}

/* Readable or not is the socket's; here it is an eventfd, which a test can make so. */
static void make_readable(struct pumping *p, bool readable)
{
	uint64_t count = 1;

	if (readable)
		assert_int_equal(write(p->taps[0].listener.fd, &count, sizeof(count)),
				 sizeof(count));
	else
		assert_int_equal(read(p->taps[0].listener.fd, &count, sizeof(count)),
				 sizeof(count));
}

static unsigned reads_of_a_turn(struct pumping *p)
{
	unsigned before = kernel.reads;

	ev_run(p->loop, EVRUN_NOWAIT);
	return kernel.reads - before;
}

static void it_sleeps_until_a_socket_is_readable(void **state)
{
	struct pumping p;

	(void)state;
	begin(&p);
	assert_int_equal(reads_of_a_turn(&p), 0);
	queued_add(0, 10, 0xA);
	kernel.now = queued_at(11).ns;
	make_readable(&p, true);
	assert_true(reads_of_a_turn(&p) > 0);
	assert_int_equal(nod_merger_waiting(p.merger), 1);
	unsigned before = kernel.reads;
	for (int i = 0; i < 10 && kernel.reads == before; i++)
		ev_run(p.loop, EVRUN_ONCE); /* to the next tick, 20 ms of the loop's own clock */
	assert_true(kernel.reads > before);
	for (int64_t ms = 200; ms < 5000; ms += 20) /* nothing for long: asleep again */
		run_at(&p, ms);
	assert_string_equal(p.told, "A ");
	assert_true(reads_of_a_turn(&p) > 0); /* it is still readable */
	make_readable(&p, false);
	end(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(frames_of_all_taps_come_in_the_order_of_their_times),
		cmocka_unit_test(a_flush_holds_nothing_back),
		cmocka_unit_test(a_backlog_of_one_tap_does_not_upset_the_order),
		cmocka_unit_test(what_was_lost_is_handed_on_too),
		cmocka_unit_test(a_tap_whose_adapter_went_does_not_keep_the_others),
		cmocka_unit_test(taps_that_are_not_counted_are_not_read),
		cmocka_unit_test(a_step_of_the_clock_parts_what_was_stamped_before_and_since),
		cmocka_unit_test(a_suspension_is_told_and_no_step),
		cmocka_unit_test(suspended_and_set_are_told_in_this_order),
		cmocka_unit_test(it_sleeps_until_a_socket_is_readable),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
