/* SPDX-License-Identifier: MIT */
/* What comes out of a CAN socket: each frame with its time, and that some were lost. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <linux/can/error.h>
#include <stdio.h>
#include <string.h>

#include "listener.h"
#include "queued-can.h"

#define INTERFACE 5
#define LANE 1

struct hearing {
	struct nod_listener listener;
	struct nod_merger *merger;
	struct nod_event events[256]; /* the first of those that came out */
	size_t count;
};

static void take(void *context, const struct nod_event *event)
{
	struct hearing *h = context;

	if (h->count < sizeof(h->events) / sizeof(*h->events))
		h->events[h->count] = *event;
	h->count++;
}

static void begin(struct hearing *h)
{
	struct nod_error err = {""};

	queued_reset();
	memset(h, 0, sizeof(*h));
	if (nod_listener_open(&h->listener, INTERFACE, LANE, &err))
		fail_msg("%s", err.text);
	assert_int_equal(h->listener.fd, NOD_LOCKDOWN_FIRST_CAN_FD);
	h->merger = nod_merger_new(LANE + 1);
	assert_non_null(h->merger);
	assert_int_equal(nod_listener_bind(&h->listener, 3, false), 0);
}

static void end(struct hearing *h)
{
	nod_merger_free(h->merger);
	nod_listener_close(&h->listener);
	kernel.now = 0;
}

/* Reads what waits and looks at what came out. */
static int hear(struct hearing *h)
{
	int read = nod_listener_read(&h->listener, h->merger, QUEUED_MAX);

	h->count = 0;
	nod_merger_flush(h->merger, take, h);
	return read;
}

static void check_loss(const struct nod_event *event, unsigned count, nod_time time)
{
	assert_int_equal(event->kind, NOD_EVENT_LOSS);
	assert_int_equal(event->loss.interface, INTERFACE);
	assert_int_equal(event->loss.count, count);
	assert_int_equal(event->time.ns, time.ns);
}

static void a_frame_comes_with_its_time_to_the_microsecond(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	struct queued *q = queued_add(0, 10, 0x2A0);
	q->software.ns += 1999;
	q->raw.len = 3;
	memcpy(q->raw.data, "\1\2\3\4", 4);
	assert_int_equal(hear(&h), 1);
	assert_int_equal(h.count, 1);
	const struct nod_frame *frame = &h.events[0].frame;
	assert_int_equal(h.events[0].kind, NOD_EVENT_FRAME);
	assert_int_equal(h.events[0].time.ns, queued_at(10).ns + 1000);
	assert_int_equal(frame->time.ns, h.events[0].time.ns);
	assert_int_equal(frame->id, 0x2A0);
	assert_int_equal(frame->interface, INTERFACE);
	assert_int_equal(frame->flags, 0);
	assert_int_equal(frame->length, 3);
	assert_memory_equal(frame->data, "\1\2\3\0\0\0\0\0", 8);
	assert_int_equal(h.listener.frames, 1);
	assert_int_equal(h.listener.lost, 0);
	assert_string_equal(nod_stamp_clock_name(h.listener.clock), "kernel receive time");
	end(&h);
}

static void the_adapters_own_time_goes_before_the_kernels(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	assert_string_equal(nod_stamp_clock_name(h.listener.clock), "not known yet");
	/* by its own clock 10 ms apart, of which the kernel makes 13 */
	queued_add(0, 10, 1)->hardware = (nod_time){7 * NOD_NS_PER_S};
	queued_add(0, 23, 2)->hardware = (nod_time){7 * NOD_NS_PER_S + 10 * NOD_NS_PER_MS};
	assert_int_equal(hear(&h), 2);
	assert_int_equal(h.listener.clock, NOD_STAMP_HARDWARE);
	assert_string_equal(nod_stamp_clock_name(h.listener.clock),
			    "adapter's own time on the system clock");
	/* but for how far its clock may have drifted meanwhile */
	assert_in_range(nod_time_since(h.events[1].time, h.events[0].time).ns, 10 * NOD_NS_PER_MS,
			10 * NOD_NS_PER_MS + 10 * NOD_NS_PER_US);
	end(&h);
}

static void without_any_stamp_it_is_now(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	kernel.now = queued_at(500).ns + 7;
	queued_add(0, 0, 1)->software = NOD_TIME_NONE;
	assert_int_equal(hear(&h), 1);
	assert_int_equal(h.events[0].time.ns, queued_at(500).ns);
	end(&h);
}

static void what_the_kernel_dropped_is_told_before_the_next_frame(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	queued_add(0, 10, 1);
	queued_add(0, 20, 2)->dropped = 7;
	queued_add(0, 30, 3);
	queued_add(0, 40, 4)->dropped = UINT32_MAX;
	queued_add(0, 50, 5)->dropped = 2; /* the counter goes round */
	assert_int_equal(hear(&h), 5);
	assert_int_equal(h.count, 8);
	check_loss(&h.events[1], 7, queued_at(20));
	assert_int_equal(h.events[2].frame.id, 2);
	assert_int_equal(h.events[3].frame.id, 3);
	check_loss(&h.events[4], UINT32_MAX - 7, queued_at(40));
	check_loss(&h.events[6], 3, queued_at(50));
	assert_int_equal(h.listener.lost, UINT64_C(7) + (UINT32_MAX - 7) + 3);
	assert_int_equal(h.listener.frames, 5);
	end(&h);
}

/* The controller does not say how many. */
static void an_overflow_in_the_controller_is_a_loss(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	queued_add(0, 10, CAN_ERR_FLAG | CAN_ERR_CRTL)->raw.data[1] = CAN_ERR_CRTL_RX_OVERFLOW;
	queued_add(0, 20, CAN_ERR_FLAG | CAN_ERR_CRTL)->raw.data[1] = CAN_ERR_CRTL_TX_OVERFLOW;
	assert_int_equal(hear(&h), 2);
	assert_int_equal(h.count, 3);
	check_loss(&h.events[0], 0, queued_at(10));
	assert_int_equal(h.listener.lost, 1);
	assert_int_equal(h.listener.errors, 2);
	end(&h);
}

static void what_finds_no_room_is_told_when_there_is_some(void **state)
{
	struct hearing h;
	struct nod_event earlier = {.kind = NOD_EVENT_FRAME, .time = {QUEUED_START}};

	(void)state;
	begin(&h);
	for (size_t i = 0; i < NOD_MERGER_LANE_MAX; i++)
		assert_int_equal(nod_merger_push(h.merger, LANE, &earlier), 0);
	for (int i = 0; i < 3; i++)
		queued_add(0, 10 + i, 1);
	queued_add(0, 20, 1)->dropped = 4;
	assert_int_equal(hear(&h), 4);
	assert_int_equal(h.count, NOD_MERGER_LANE_MAX);
	assert_int_equal(h.listener.lost, 3 + 4 + 1);
	assert_int_equal(h.listener.frames, 0);
	kernel.now = queued_at(100).ns;
	assert_int_equal(hear(&h), 0);
	assert_int_equal(h.count, 1);
	check_loss(&h.events[0], 3 + 4 + 1, queued_at(100));
	assert_int_equal(hear(&h), 0); /* once */
	assert_int_equal(h.count, 0);
	end(&h);
}

static void a_socket_that_ends_gives_what_came_before(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	for (int i = 0; i < 64; i++) /* as many as are taken at once */
		queued_add(0, i, 1);
	kernel.sockets[0].ends = ENETDOWN;
	assert_int_equal(hear(&h), -ENETDOWN);
	assert_int_equal(h.count, 64);
	kernel.sockets[0].ends = EINTR;
	assert_int_equal(hear(&h), 0);
	end(&h);
}

static void no_more_are_taken_than_asked_for(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	for (int i = 0; i < 200; i++)
		queued_add(0, i, 1);
	assert_int_equal(nod_listener_read(&h.listener, h.merger, 10), 10);
	assert_int_equal(nod_listener_read(&h.listener, h.merger, 100), 100);
	assert_int_equal(nod_listener_read(&h.listener, h.merger, 100), 90);
	assert_int_equal(nod_merger_waiting(h.merger), 200);
	for (int i = 0; i < 128; i++) /* two batches, and then there is nothing */
		queued_add(0, 200 + i, 1);
	assert_int_equal(nod_listener_read(&h.listener, h.merger, QUEUED_MAX), 128);
	end(&h);
}

/* What is heard while a bitrate is tried is noise: no frame, no loss. */
static void while_a_bitrate_is_tried_it_only_counts(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	h.listener.trying = true;
	queued_add(0, 10, 1);
	queued_add(0, 20, CAN_ERR_FLAG | CAN_ERR_PROT);
	queued_add(0, 30, 2)->dropped = 9;
	assert_int_equal(nod_listener_read(&h.listener, NULL, QUEUED_MAX), 3);
	assert_int_equal(h.listener.tried.frames, 2);
	assert_int_equal(h.listener.tried.errors, 1);
	h.listener.trying = false;
	queued_add(0, 40, 3);
	assert_int_equal(hear(&h), 1);
	assert_int_equal(h.count, 1); /* not that 9 were lost meanwhile */
	assert_int_equal(h.listener.lost, 0);
	end(&h);
}

static void what_this_machine_sent_is_marked(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	queued_add(0, 10, 1)->flags = MSG_DONTROUTE;
	hear(&h);
	assert_int_equal(h.events[0].frame.flags, NOD_FRAME_SENT);
	nod_listener_bind(&h.listener, 3, true); /* where every frame is this machine's */
	queued_add(0, 20, 1)->flags = MSG_DONTROUTE;
	hear(&h);
	assert_int_equal(h.events[0].frame.flags, 0);
	end(&h);
}

static void lengths_are_bounded_by_the_form_of_the_frame(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	struct queued *fd = queued_add(0, 10, 1);
	fd->size = CANFD_MTU;
	fd->raw.len = 255;
	fd->raw.flags = CANFD_BRS | CANFD_FDF;
	queued_add(0, 20, 2)->raw.len = 255;
	struct queued *dlc = queued_add(0, 30, 3);
	((struct can_frame *)&dlc->raw)->len8_dlc = 13;
	queued_add(0, 40, 4)->size = 20; /* neither form */
	assert_int_equal(hear(&h), 4);
	assert_int_equal(h.count, 3);
	assert_int_equal(h.events[0].frame.length, 64);
	assert_int_equal(h.events[0].frame.flags, NOD_FRAME_FD | CANFD_BRS);
	assert_int_equal(h.events[1].frame.length, 8);
	assert_int_equal(h.events[2].frame.length, 8);
	assert_int_equal(h.events[2].frame.raw_dlc, 13);
	end(&h);
}

static void bus_off_lasts_until_something_is_heard(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	queued_add(0, 10, CAN_ERR_FLAG | CAN_ERR_BUSOFF);
	queued_add(0, 11, CAN_ERR_FLAG | CAN_ERR_ACK);
	hear(&h);
	assert_true(h.listener.bus_off);
	queued_add(0, 20, CAN_ERR_FLAG | CAN_ERR_RESTARTED);
	hear(&h);
	assert_false(h.listener.bus_off);
	queued_add(0, 30, CAN_ERR_FLAG | CAN_ERR_BUSOFF);
	queued_add(0, 31, 1);
	hear(&h);
	assert_false(h.listener.bus_off);
	end(&h);
}

static void it_is_bound_to_one_interface_or_none(void **state)
{
	struct hearing h;

	(void)state;
	begin(&h);
	assert_int_equal(nod_listener_bind(&h.listener, 0, false), -EINVAL); /* would be all */
	assert_int_equal(h.listener.link, 3);
	queued_add(0, 10, 1)->dropped = 4;
	hear(&h);
	nod_listener_mute(&h.listener);
	assert_int_equal(h.listener.link, 0);
	nod_listener_renew(&h.listener);
	assert_int_equal(h.listener.fd, NOD_LOCKDOWN_FIRST_CAN_FD);
	assert_int_equal(h.listener.frames, 0);
	assert_int_equal(h.listener.lost, 0);
	queued_add(0, 20, 1);
	hear(&h);
	assert_int_equal(h.listener.lost, 0); /* the socket's counter went on */
	end(&h);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_frame_comes_with_its_time_to_the_microsecond),
		cmocka_unit_test(the_adapters_own_time_goes_before_the_kernels),
		cmocka_unit_test(without_any_stamp_it_is_now),
		cmocka_unit_test(what_the_kernel_dropped_is_told_before_the_next_frame),
		cmocka_unit_test(an_overflow_in_the_controller_is_a_loss),
		cmocka_unit_test(what_finds_no_room_is_told_when_there_is_some),
		cmocka_unit_test(a_socket_that_ends_gives_what_came_before),
		cmocka_unit_test(no_more_are_taken_than_asked_for),
		cmocka_unit_test(while_a_bitrate_is_tried_it_only_counts),
		cmocka_unit_test(what_this_machine_sent_is_marked),
		cmocka_unit_test(lengths_are_bounded_by_the_form_of_the_frame),
		cmocka_unit_test(bus_off_lasts_until_something_is_heard),
		cmocka_unit_test(it_is_bound_to_one_interface_or_none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
