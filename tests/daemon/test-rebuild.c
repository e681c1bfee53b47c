/* SPDX-License-Identifier: MIT */
/* Marks that come late or are taken back: the live answer must be the one that the
 * recording gives when it is read again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "answer.h"
#include "recent-marks.h"
#include "generator.h"
#include "live.h"
#include "../lib/scratch.h"
#include "session.h"
#include "text-stream.h"

#define SITUATION "isolation-right"

struct bench {
	struct scratch scratch;
	struct nod_generator *generator;
	struct nod_interfaces interfaces;
	struct nod_live live;
	char session[600];
	struct nod_mark kept; /* left out of what was fed */
	char subject[64];
	nod_time now, ticked;
};

static int set_up(void **state)
{
	struct bench *b = calloc(1, sizeof(*b));
	struct nod_generator_options options = {.small = true,
						.frames = NOD_GENERATOR_SMALL_FRAMES};
	struct nod_error err = {""};

	scratch_make(&b->scratch);
	b->generator = nod_generator_open(SITUATION, 3, &options, &err);
	assert_non_null(b->generator);
	scratch_puts(&b->scratch, "car.yaml", nod_generator_map(b->generator));
	b->interfaces = *nod_generator_interfaces(b->generator);
	b->now = b->ticked = nod_generator_now(b->generator);
	char *map = strdup(scratch_path(&b->scratch, "car.yaml"));
	snprintf(b->session, sizeof(b->session), "%s", scratch_path(&b->scratch, "one"));
	assert_int_equal(nod_live_open(&b->live, map, &b->interfaces, b->now, &err), 0);
	assert_int_equal(nod_live_record(&b->live, b->session, NULL, NULL, b->now, &err), 0);
	*state = b;
	return 0;
}

static int tear_down(void **state)
{
	struct bench *b = *state;
	char *map = (char *)b->live.vehicle_path;

	nod_live_close(&b->live, b->now);
	free(map);
	nod_generator_close(b->generator);
	scratch_remove_directory(b->scratch.path);
	free(b);
	return 0;
}

static void tick(struct bench *b, nod_time now)
{
	for (; b->ticked.ns + NOD_NS_PER_S <= now.ns; b->ticked.ns += NOD_NS_PER_S)
		nod_live_tick(&b->live, nod_time_after(b->ticked, nod_seconds(1)));
	b->now = now;
}

/* Feeds until the recording's end, or until `after` behind the first mark of `kind`, which
 * is left out. */
static void feed(struct bench *b, enum nod_mark_kind kind, nod_duration after)
{
	const struct nod_event *event;
	struct nod_error err = {""};

	while (nod_generator_next(b->generator, &event)) {
		if (event->kind == NOD_EVENT_HEADER)
			continue;
		struct nod_event copy = *event;
		copy.time.ns = copy.time.ns / 1000 * 1000; /* as the daemon cuts them */
		if (copy.kind == NOD_EVENT_FRAME)
			copy.frame.time = copy.time;
		if (copy.kind == NOD_EVENT_MARK)
			copy.mark.time = copy.time;
		tick(b, copy.time);
		if (copy.kind == NOD_EVENT_MARK && copy.mark.kind == kind && !b->kept.subject) {
			b->kept = copy.mark;
			snprintf(b->subject, sizeof(b->subject), "%s", copy.mark.subject);
			b->kept.subject = b->subject;
			continue;
		}
		if (copy.kind == NOD_EVENT_MARK &&
		    (copy.mark.kind == NOD_MARK_STARTED || copy.mark.kind == NOD_MARK_STOPPED))
			continue;
		assert_int_equal(nod_live_take(&b->live, &copy), 0);
		assert_true(nod_live_follow(&b->live, 1, &err) >= 0);
		if (after.ns && b->kept.subject &&
		    copy.time.ns > nod_time_after(b->kept.time, after).ns)
			return;
	}
}

static char *text_of(struct nod_engine *engine)
{
	struct nod_findings *f = nod_engine_findings(engine);
	struct nod_text_stream stream;

	assert_non_null(f);
	assert_int_equal(nod_text_stream_open(&stream), 0);
	nod_answer_print(stream.out, f, (struct nod_answer_style){.full = true});
	assert_int_equal(nod_text_stream_close(&stream), 0);
	nod_findings_free(f);
	return stream.text;
}

static char *answer_of_recording(struct bench *b)
{
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_session *session = nod_session_open(b->session, &err);
	struct nod_vehicle *vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
	struct nod_engine *engine = nod_engine_new(vehicle, nod_session_interfaces(session));

	while (nod_session_next(session, &event, &err) > 0)
		nod_engine_take(engine, event);
	char *text = text_of(engine);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return text;
}

static void compare_with_recording(struct bench *b, const char *contains, bool wanted)
{
	struct nod_error err = {""};

	assert_int_equal(nod_live_finish(&b->live, b->now, &err), 0);
	assert_false(b->live.starved);
	char *live = text_of(b->live.engine), *replayed = answer_of_recording(b);
	assert_string_equal(live, replayed);
	assert_int_equal(strstr(live, contains) != NULL, wanted);
	free(live);
	free(replayed);
}

/* The isolation is entered a minute late, and the engine hears of it as if it had not. */
static void test_late_mark(void **state)
{
	struct bench *b = *state;
	struct nod_error err = {""};
	char told[100];

	feed(b, NOD_MARK_ISOLATED, nod_seconds(60));
	assert_non_null(b->kept.subject);
	assert_int_equal(nod_live_correct(&b->live, &b->kept, 1, b->now, &err), 0);
	assert_non_null(b->live.rebuild);
	feed(b, NOD_MARK_KINDS, (nod_duration){0});
	snprintf(told, sizeof(told), "%s isolated", b->subject);
	compare_with_recording(b, told, true);
}

/* A mark is taken back before the new analysis that it caused is ready. */
static void test_mark_taken_back(void **state)
{
	struct bench *b = *state;
	struct nod_error err = {""};
	char line[NOD_MARK_LINE_MAX], told[100];

	feed(b, NOD_MARK_ISOLATED, nod_seconds(60));
	assert_int_equal(nod_live_correct(&b->live, &b->kept, 1, b->now, &err), 0);
	assert_true(nod_mark_print(line, sizeof(line), &b->kept) > 0);
	line[strlen(line) - 1] = '\0';
	struct nod_mark undone = {b->now, NOD_MARK_UNDONE, line};
	assert_int_equal(nod_live_correct(&b->live, &undone, 1, b->now, &err), 0);
	assert_true(nod_live_follow(&b->live, SIZE_MAX, &err) >= 0);
	assert_int_equal(nod_live_follow(&b->live, SIZE_MAX, &err), 0);
	assert_null(b->live.rebuild);
	feed(b, NOD_MARK_KINDS, (nod_duration){0});
	snprintf(told, sizeof(told), "%s isolated", b->subject);
	compare_with_recording(b, told, false);
}

static void test_marks(void **state)
{
	struct nod_recent_marks *recent = calloc(1, sizeof(*recent));
	struct nod_mark mark = {{1}, NOD_MARK_ISOLATED, "F1"}, gap = {{2}, NOD_MARK_GAP, "all 1 s"};

	(void)state;
	assert_null(nod_recent_marks_find(recent, NULL));
	nod_recent_marks_add(recent, &mark);
	nod_recent_marks_add(recent, &gap);
	assert_int_equal(recent->count, 1);
	assert_ptr_equal(nod_recent_marks_find(recent, NULL), nod_recent_marks_find(recent, &mark));
	assert_null(nod_recent_marks_find(recent, &gap));
	for (int i = 0; i < NOD_RECENT_MARKS_MAX; i++) {
		mark.time.ns = 10 + i;
		nod_recent_marks_add(recent, &mark);
	}
	assert_int_equal(recent->count, NOD_RECENT_MARKS_MAX);
	assert_int_equal(nod_recent_marks_find(recent, NULL)->time.ns,
			 10 + NOD_RECENT_MARKS_MAX - 1);
	nod_recent_marks_remove(recent, nod_recent_marks_find(recent, NULL));
	assert_int_equal(nod_recent_marks_find(recent, NULL)->time.ns,
			 10 + NOD_RECENT_MARKS_MAX - 2);
	nod_recent_marks_clear(recent);
	free(recent);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_late_mark, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_mark_taken_back, set_up, tear_down),
		cmocka_unit_test(test_marks),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
