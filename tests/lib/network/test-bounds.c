/* SPDX-License-Identifier: MIT */
/* Input without measure: each ends with a right answer or a clear message, in
 * bounded memory. What a vehicle file may hold is in test-vehicle-parse.c, what a
 * request may in the daemon's test-control.c. */
#include "scene.h"

#include <endian.h>
#include <errno.h>
#include <malloc.h>

#include "expectation.h"
#include "ident.h"
#include "memory-reader.h"
#include "scratch.h"
#include "session.h"
#include "track.h"
#include "track.h"

static bool doubts(const struct nod_findings *f, const char *text)
{
	for (size_t i = 0; i < f->doubt_count; i++)
		if (strstr(f->doubts[i], text))
			return true;
	return false;
}

/* ---- a line that does not end ---- */

struct endless {
	struct memory_reader head; /* first this, */
	uint64_t left;             /* then so many bytes without a newline */
};

static ptrdiff_t read_endless(void *context, void *buf, size_t size)
{
	struct endless *endless = context;
	ptrdiff_t n = memory_read(&endless->head, buf, size);

	if (n)
		return n;
	if (size > endless->left)
		size = (size_t)endless->left;
	memset(buf, 'x', size);
	endless->left -= size;
	return (ptrdiff_t)size;
}

static size_t bytes_in_use(void)
{
	return mallinfo2().uordblks + mallinfo2().hblkhd;
}

static void test_a_line_of_a_gigabyte_is_passed_over(void **state)
{
	(void)state;
	static const char first[] = "(1700000000.000000) can0 123#01\n";
	struct endless endless = {{.bytes = first, .length = sizeof(first) - 1}, 1000000000};
	static struct nod_interfaces interfaces;
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_source *source = nod_source_open_reader(read_endless, &endless, "endless",
							   &interfaces, &err);

	assert_non_null(source);
	size_t before = bytes_in_use();
	assert_int_equal(nod_source_next(source, &event, &err), 1);
	assert_int_equal(event->kind, NOD_EVENT_FRAME);
	assert_int_equal(nod_source_next(source, &event, &err), 1);
	assert_int_equal(event->kind, NOD_EVENT_DEFECT);
	assert_string_equal(event->defect.reason, "a line of more than 4096 characters");
	assert_int_equal(nod_source_next(source, &event, &err), 0);
	assert_int_equal(endless.left, 0);
	assert_true(bytes_in_use() <= before + 65536);
	nod_source_close(source);
}

/* ---- interfaces ---- */

static struct nod_source *open_text(struct memory_reader *reader, struct nod_interfaces *interfaces)
{
	struct nod_error err = {""};
	struct nod_source *source = nod_source_open_reader(memory_read, reader, "text", interfaces,
							   &err);

	assert_non_null(source);
	return source;
}

static void test_names_of_interfaces_beyond_the_bound_are_told(void **state)
{
	(void)state;
	static struct nod_interfaces interfaces;
	const struct nod_event *event;
	struct nod_error err = {""};
	size_t room = 10000 * 40, length = 0, frames = 0, defects = 0;
	char *text = malloc(room);

	assert_non_null(text);
	for (int i = 0; i < 10000; i++)
		length += (size_t)snprintf(text + length, room - length,
					   "(1700000000.%06d) c%d 123#01\n", i, i);
	struct memory_reader reader = {.bytes = text, .length = length};
	struct nod_source *source = open_text(&reader, &interfaces);
	while (nod_source_next(source, &event, &err) > 0) {
		frames += event->kind == NOD_EVENT_FRAME;
		if (event->kind == NOD_EVENT_DEFECT && !defects++)
			assert_string_equal(event->defect.reason,
					    "more than 64 different interface names");
	}
	assert_int_equal(frames, NOD_INTERFACES_MAX);
	assert_int_equal(defects, 10000 - NOD_INTERFACES_MAX);
	nod_source_close(source);
	free(text);
}

static void put_word(uint8_t **at, uint32_t word)
{
	word = htole32(word);
	memcpy(*at, &word, sizeof(word));
	*at += sizeof(word);
}

static void test_a_pcapng_section_of_many_interfaces_is_given_up(void **state)
{
	(void)state;
	enum { INTERFACES = 10000 };
	static struct nod_interfaces interfaces;
	const struct nod_event *event;
	struct nod_error err = {""};
	uint8_t *bytes = malloc(28 + INTERFACES * 20), *at = bytes;

	assert_non_null(bytes);
	const uint32_t section[] = {0x0A0D0D0A, 28, 0x1A2B3C4D, 1, UINT32_MAX, UINT32_MAX, 28};
	for (size_t i = 0; i < sizeof(section) / sizeof(section[0]); i++)
		put_word(&at, section[i]);
	for (int i = 0; i < INTERFACES; i++) {
		const uint32_t interface[] = {1, 20, 227, 65535, 20};
		for (size_t k = 0; k < sizeof(interface) / sizeof(interface[0]); k++)
			put_word(&at, interface[k]);
	}
	struct memory_reader reader = {.bytes = bytes, .length = (size_t)(at - bytes)};
	struct nod_source *source = open_text(&reader, &interfaces);
	assert_int_equal(nod_source_next(source, &event, &err), 1);
	assert_int_equal(event->kind, NOD_EVENT_DEFECT);
	assert_non_null(strstr(event->defect.reason, "more than 64"));
	assert_int_equal(nod_source_next(source, &event, &err), 0);
	nod_source_close(source);
	free(bytes);
}

/* ---- what the engine keeps ---- */

/* As many wake-ups as are kept, and more: memory ends there, and it is said. */
static void test_awake_spans_beyond_the_limit_are_counted(void **state)
{
	(void)state;
	struct scene s;
	const int64_t count = NOD_SPANS_MAX + 5000;

	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t i = 0; i < NOD_SPANS_MAX; i++)
		frame_at(&s, i * 30000, 0, "100#00");
	size_t before = bytes_in_use();
	for (int64_t i = NOD_SPANS_MAX; i < count; i++)
		frame_at(&s, i * 30000, 0, "100#00");
	assert_true(bytes_in_use() <= before + 65536);
	const struct nod_findings *f = found_at(&s, count * 30000);
	const struct nod_network_finding *n = &f->networks[0];
	assert_int_equal(n->span_count, NOD_SPANS_MAX + 1);
	assert_int_equal(n->wakes, NOD_SPANS_MAX - 1);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_true(doubts(f, "was awake more than 100000 times: 4999 further times"));
	scene_end(&s);
}

static void test_ids_beyond_the_limit_are_counted_on_all_networks_together(void **state)
{
	(void)state;
	struct scene s;
	struct nod_event e = {.kind = NOD_EVENT_FRAME};

	scene_begin(&s, NULL);
	e.frame.length = 1;
	for (uint32_t i = 0; i < NOD_IDENTS_MAX + 1000; i++) {
		e.time.ns = e.frame.time.ns = i * INT64_C(100000);
		e.frame.interface = (uint8_t)(i % 2);
		e.frame.id = i | NOD_ID_EXTENDED;
		scene_take(&s, &e);
	}
	const struct nod_findings *f = found_at(&s, 0);
	assert_int_equal(f->frames, NOD_IDENTS_MAX + 1000);
	assert_int_equal(f->ident_count, NOD_IDENTS_MAX);
	assert_true(doubts(f, "500 frames of further ones on can0 are counted"));
	assert_true(doubts(f, "500 frames of further ones on can1 are counted"));
	scene_end(&s);
}

static void test_marks_isolations_and_touches_beyond_the_limits_are_told(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, NULL);
	frame_at(&s, 0, 0, "100#00");
	for (int64_t i = 0; i < 130; i++)
		nod_engine_take(
			s.engine,
			&(struct nod_event){.kind = NOD_EVENT_MARK,
					    .time = {i * NOD_NS_PER_S},
					    .mark = {{i * NOD_NS_PER_S}, NOD_MARK_ISOLATED, "F1"}});
	for (int64_t i = 130; i < 20000; i++)
		nod_engine_take(s.engine,
				&(struct nod_event){
					.kind = NOD_EVENT_MARK,
					.time = {i * NOD_NS_PER_S},
					.mark = {{i * NOD_NS_PER_S}, NOD_MARK_TOUCHED, "door"}});
	const struct nod_findings *f = found_at(&s, 0);
	assert_int_equal(f->mark_count, 10000);
	assert_true(doubts(f, "10000 marks of the journal beyond the first 10000"));
	assert_true(doubts(f, "2 isolations and refits beyond the first 128"));
	assert_true(doubts(f, "touched inputs beyond the first 64"));
	scene_end(&s);
}

static void test_a_million_samples_of_current_stay_in_the_same_memory(void **state)
{
	(void)state;
	struct scene s;
	struct nod_event e = {.kind = NOD_EVENT_CURRENT};
	size_t before = 0;

	scene_begin(&s, NULL);
	frame_at(&s, 0, 0, "100#00");
	for (int64_t i = 0; i < 1000000; i++) {
		e.time.ns = i * NOD_NS_PER_S;
		e.current.microamps = 100000 + i % 7 * 1000;
		scene_take(&s, &e);
		if (i == 20000)
			before = bytes_in_use();
	}
	assert_true(bytes_in_use() <= before + 65536);
	assert_true(found_at(&s, 1000000000)->has_current);
	scene_end(&s);
}

/* ---- sessions ---- */

static void append_lines(char *text, size_t room, const char *format, int count)
{
	size_t length = 0;

	for (int i = 0; i < count; i++)
		length += (size_t)snprintf(text + length, room - length, format, i, i);
}

static void test_a_journal_of_many_marks_ends_with_a_message(void **state)
{
	(void)state;
	enum { ENTRIES = 100100, ROOM = ENTRIES * 48 };
	struct scratch scratch;
	struct nod_error err = {""};
	const struct nod_event *event;
	size_t marks = 0, defects = 0;
	char *text = malloc(ROOM);

	assert_non_null(text);
	scratch_make(&scratch);
	append_lines(text, ROOM, "(%d.000000) touched door %d\n", ENTRIES);
	scratch_puts(&scratch, "journal.log", text);
	scratch_puts(&scratch, "frames.log", "(1.000000) can0 123#01\n");
	struct nod_session *session = nod_session_open(scratch.path, &err);
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0) {
		marks += event->kind == NOD_EVENT_MARK;
		if (event->kind != NOD_EVENT_DEFECT)
			continue;
		defects++;
		assert_string_equal(event->defect.reason,
				    "more than 100000 marks: the rest is not taken");
	}
	assert_int_equal(marks, 100000);
	assert_int_equal(defects, 1);
	nod_session_close(session);
	scratch_remove(&scratch);
	free(text);
}

static void test_a_session_of_many_pieces_is_read_with_few_files_open(void **state)
{
	(void)state;
	enum { PIECES = 2000 };
	struct scratch scratch;
	struct nod_error err = {""};
	const struct nod_event *event;
	char name[32], line[64];
	size_t frames = 0;

	scratch_make(&scratch);
	for (int i = 0; i < PIECES; i++) {
		snprintf(name, sizeof(name), "frames-%06d.log", i);
		snprintf(line, sizeof(line), "(%d.000000) can0 123#01\n", i);
		scratch_puts(&scratch, name, line);
	}
	struct nod_session *session = nod_session_open(scratch.path, &err);
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		frames += event->kind == NOD_EVENT_FRAME;
	assert_int_equal(frames, PIECES);
	nod_session_close(session);
	scratch_remove(&scratch);
}

static void test_an_expectation_of_many_lines_is_refused(void **state)
{
	(void)state;
	enum { LINES = 20000, ROOM = LINES * 40 };
	struct scratch scratch;
	struct nod_error err = {""};
	char *text = malloc(ROOM);

	assert_non_null(text);
	scratch_make(&scratch);
	append_lines(text, ROOM, "network n%d: kept awake\n", LINES);
	scratch_puts(&scratch, "expect.txt", text);
	assert_null(nod_expectation_load(scratch_path(&scratch, "expect.txt"), &err));
	assert_non_null(strstr(err.text, ":1001: more than 1000 demands"));
	scratch_remove(&scratch);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_line_of_a_gigabyte_is_passed_over),
		cmocka_unit_test(test_names_of_interfaces_beyond_the_bound_are_told),
		cmocka_unit_test(test_a_pcapng_section_of_many_interfaces_is_given_up),
		cmocka_unit_test(test_awake_spans_beyond_the_limit_are_counted),
		cmocka_unit_test(test_ids_beyond_the_limit_are_counted_on_all_networks_together),
		cmocka_unit_test(test_marks_isolations_and_touches_beyond_the_limits_are_told),
		cmocka_unit_test(test_a_million_samples_of_current_stay_in_the_same_memory),
		cmocka_unit_test(test_a_journal_of_many_marks_ends_with_a_message),
		cmocka_unit_test(test_a_session_of_many_pieces_is_read_with_few_files_open),
		cmocka_unit_test(test_an_expectation_of_many_lines_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
