/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "merger.h"

struct log {
	char text[512];
	size_t length;
};

/* Notes a frame by its ID, a mark by its subject. */
static void note(void *context, const struct nod_event *event)
{
	struct log *log = context;
	char word[64];

	if (event->kind == NOD_EVENT_MARK)
		snprintf(word, sizeof(word), "%s ", event->mark.subject);
	else
		snprintf(word, sizeof(word), "%X ", event->frame.id);
	log->length += (size_t)snprintf(log->text + log->length, sizeof(log->text) - log->length,
					"%s", word);
}

static void push_frame(struct nod_merger *merger, size_t lane, int64_t ns, uint32_t id)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {ns}};

	event.frame.id = id;
	assert_int_equal(nod_merger_push(merger, lane, &event), 0);
}

static void orders_lanes_by_time(void **state)
{
	struct nod_merger *merger = nod_merger_new(2);
	struct log log = {"", 0};

	(void)state;
	push_frame(merger, 0, 10, 0xA);
	push_frame(merger, 0, 40, 0xB);
	push_frame(merger, 1, 20, 0xC);
	push_frame(merger, 1, 30, 0xD);
	assert_int_equal(nod_merger_drain(merger, (nod_time){30}, note, &log), 3);
	assert_string_equal(log.text, "A C D ");
	assert_int_equal(nod_merger_waiting(merger), 1);
	assert_int_equal(nod_merger_flush(merger, note, &log), 1);
	assert_string_equal(log.text, "A C D B ");
	nod_merger_free(merger);
}

static void equal_times_take_the_lower_lane(void **state)
{
	struct nod_merger *merger = nod_merger_new(3);
	struct log log = {"", 0};

	(void)state;
	push_frame(merger, 2, 5, 0x2);
	push_frame(merger, 1, 5, 0x1);
	push_frame(merger, 1, 5, 0x11);
	nod_merger_flush(merger, note, &log);
	assert_string_equal(log.text, "1 11 2 ");
	nod_merger_free(merger);
}

/* A frame earlier than the one before it in its lane does not overtake it. */
static void keeps_the_order_of_arrival_within_a_lane(void **state)
{
	struct nod_merger *merger = nod_merger_new(1);
	struct log log = {"", 0};

	(void)state;
	push_frame(merger, 0, 20, 0xA);
	push_frame(merger, 0, 10, 0xB);
	nod_merger_flush(merger, note, &log);
	assert_string_equal(log.text, "A B ");
	nod_merger_free(merger);
}

static void keeps_a_copy_of_a_subject(void **state)
{
	struct nod_merger *merger = nod_merger_new(1);
	struct log log = {"", 0};
	char subject[] = "F12";
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = {1}};

	(void)state;
	event.mark.subject = subject;
	assert_int_equal(nod_merger_push(merger, 0, &event), 0);
	assert_int_equal(nod_merger_push(merger, 0, &event), 0);
	strcpy(subject, "X");
	nod_merger_drain(merger, (nod_time){1}, note, &log);
	assert_string_equal(log.text, "F12 F12 ");
	assert_int_equal(nod_merger_push(merger, 0, &event), 0); /* freed with the merger */
	nod_merger_free(merger);
}

static void is_bounded_and_keeps_order_while_it_grows(void **state)
{
	struct nod_merger *merger = nod_merger_new(1);
	struct nod_event event = {.kind = NOD_EVENT_FRAME};
	struct log log = {"", 0};
	size_t pushed = 0;

	(void)state;
	for (int64_t i = 0; i < 100; i++) /* so that the ring is not aligned when it grows */
		push_frame(merger, 0, i, 0);
	nod_merger_drain(merger, (nod_time){98}, note, &(struct log){"", 0});
	while (!nod_merger_push(merger, 0, &event))
		pushed++;
	assert_int_equal(nod_merger_push(merger, 0, &event), -ENOBUFS);
	assert_null(nod_merger_reserve(merger, 0));
	assert_int_equal(pushed, NOD_MERGER_LANE_MAX - 1);
	assert_int_equal(nod_merger_newest(merger, 0).ns, 0);
	assert_int_equal(nod_merger_drain(merger, (nod_time){98}, note, &log),
			 0); /* head is at 99 */
	nod_merger_free(merger);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(orders_lanes_by_time),
		cmocka_unit_test(equal_times_take_the_lower_lane),
		cmocka_unit_test(keeps_the_order_of_arrival_within_a_lane),
		cmocka_unit_test(keeps_a_copy_of_a_subject),
		cmocka_unit_test(is_bounded_and_keeps_order_while_it_grows),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
