/* SPDX-License-Identifier: MIT */
/* The watched session: what is recorded and what is analysed are the same events. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <jansson.h>
#include <string.h>

#include "../lib/scratch.h"
#include "live.h"
#include "session.h"
#include "view.h"

#define START_S INT64_C(1700000000)

static const char car[] =
	"networks:\n"
	"  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n"
	"  drive: { interfaces: [can1], sleeps within: 60 s, quiet time: 2 s }\n"
	"modules:\n"
	"  roof unit: { ids: [2A0], networks: [body], fuses: [F12], inputs: [rain sensor] }\n"
	"  boot unit: { ids: [2A1], networks: [body], fuses: [F14] }\n"
	"fuses:\n"
	"  F12: { rating: 10 A, box: cabin, feeds: [map lamp] }\n"
	"  F14: { rating: 5 A, cautions: [airbag] }\n";

struct watch {
	struct scratch scratch;
	struct nod_interfaces names;
	struct nod_live live;
	char map[128], session[128];
};

static nod_time at(int64_t ms)
{
	return (nod_time){START_S * NOD_NS_PER_S + ms * NOD_NS_PER_MS};
}

static void begin(struct watch *w)
{
	struct nod_error err = {""};

	memset(w, 0, sizeof(*w));
	w->names = (struct nod_interfaces){2, {"can0", "can1"}};
	scratch_make(&w->scratch);
	scratch_write(&w->scratch, "car.yaml", car, sizeof(car) - 1);
	snprintf(w->map, sizeof(w->map), "%s/car.yaml", w->scratch.path);
	snprintf(w->session, sizeof(w->session), "%s/session", w->scratch.path);
	assert_int_equal(nod_live_open(&w->live, w->map, &w->names, at(0), &err), 0);
}

static void end(struct watch *w, int64_t ms)
{
	nod_live_close(&w->live, at(ms));
	scratch_remove(&w->scratch);
}

static void record(struct watch *w, int64_t ms)
{
	struct nod_error err = {""};

	assert_int_equal(nod_live_record(&w->live, w->session, "a title", "kernel", at(ms), &err),
			 0);
}

static int frame(struct watch *w, int64_t ms, uint32_t id)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = at(ms)};

	event.frame = (struct nod_frame){.time = at(ms), .id = id, .length = 1};
	return nod_live_take(&w->live, &event);
}

static int mark(struct watch *w, int64_t ms, enum nod_mark_kind kind, const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = at(ms)};

	event.mark = (struct nod_mark){at(ms), kind, subject};
	return nod_live_take(&w->live, &event);
}

/* Locked at 1 s, and both modules talk on to the end. */
static void stay_awake(struct watch *w, int64_t until_ms)
{
	assert_int_equal(mark(w, 1000, NOD_MARK_LOCKED, ""), 0);
	for (int64_t ms = 1100; ms < until_ms; ms += 100) {
		assert_int_equal(frame(w, ms, 0x2A0 + (uint32_t)(ms / 100 % 2)), 0);
		if (ms % 1000 == 0)
			assert_int_equal(nod_live_tick(&w->live, at(ms)), 0);
	}
}

static void a_map_that_cannot_be_read_is_told(void **state)
{
	struct nod_interfaces names = {0};
	struct nod_live live;
	struct nod_error err = {""};

	(void)state;
	assert_int_equal(nod_live_open(&live, "/nowhere/car.yaml", &names, at(0), &err), -ENOENT);
	assert_non_null(strstr(err.text, "/nowhere/car.yaml"));
}

static void it_analyses_without_recording(void **state)
{
	struct watch w;

	(void)state;
	begin(&w);
	assert_null(w.live.recorder);
	stay_awake(&w, 90000);
	struct nod_findings *f = nod_engine_findings(w.live.engine);
	assert_non_null(f);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	nod_findings_free(f);
	end(&w, 90000);
}

static void what_is_recorded_tells_the_same_again(void **state)
{
	struct watch w;
	struct nod_error err = {""};
	const struct nod_event *event;
	int status;

	(void)state;
	begin(&w);
	assert_int_equal(frame(&w, 100, 0x2A0), 0); /* before the recording: not in it */
	record(&w, 500);
	assert_string_equal(w.live.directory, w.session);
	stay_awake(&w, 90000);
	assert_int_equal(nod_live_finish(&w.live, at(90000), &err), 0);
	struct nod_findings *live = nod_engine_findings(w.live.engine);

	struct nod_session *session = nod_session_open(w.session, &err);
	assert_non_null(session);
	assert_string_equal(nod_session_about(session, "title"), "a title");
	struct nod_vehicle *vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
	assert_non_null(vehicle);
	struct nod_engine *engine = nod_engine_new(vehicle, nod_session_interfaces(session));
	while ((status = nod_session_next(session, &event, &err)) > 0)
		assert_int_equal(nod_engine_take(engine, event), 0);
	assert_int_equal(status, 0);
	struct nod_findings *again = nod_engine_findings(engine);
	assert_non_null(live);
	assert_non_null(again);
	assert_int_equal(live->frames, 889);
	assert_int_equal(again->frames, live->frames);
	assert_string_equal(again->sentence, live->sentence);
	nod_findings_free(again);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	nod_findings_free(live);
	end(&w, 90000);
}

static void a_directory_that_is_there_is_left_alone(void **state)
{
	struct watch w;
	struct nod_error err = {""};

	(void)state;
	begin(&w);
	stay_awake(&w, 3000);
	scratch_write(&w.scratch, "session", "mine", 4);
	assert_int_equal(nod_live_record(&w.live, w.session, "", "kernel", at(3000), &err),
			 -EEXIST);
	assert_null(w.live.recorder);
	assert_string_equal(w.live.directory, "");
	struct nod_findings *f = nod_engine_findings(w.live.engine); /* the old watch goes on */
	assert_int_equal(f->frames, 19);
	nod_findings_free(f);
	end(&w, 3000);
}

static void after_the_end_nothing_is_taken_until_it_is_renewed(void **state)
{
	struct watch w;
	struct nod_error err = {""};

	(void)state;
	begin(&w);
	record(&w, 0);
	stay_awake(&w, 5000);
	assert_int_equal(nod_live_finish(&w.live, at(5000), &err), 0);
	nod_live_renew(&w.live, at(6000));
	assert_int_equal(frame(&w, 6100, 0x2A0), 0);
	struct nod_findings *f = nod_engine_findings(w.live.engine);
	assert_int_equal(f->frames, 1);
	nod_findings_free(f);
	end(&w, 7000);
}

/* ---- the view of it ---- */

static const char *text(const json_t *object, const char *key)
{
	const char *value = json_string_value(json_object_get(object, key));

	assert_non_null(value);
	return value;
}

static json_t *view_of(struct watch *w, enum nod_tap_state state)
{
	static struct nod_tap taps[2];
	struct nod_findings *f = nod_engine_findings(w->live.engine);
	json_t *view = json_object();

	assert_non_null(f);
	strcpy(taps[0].interface, "can0");
	strcpy(taps[1].interface, "can1");
	taps[0].state = state;
	taps[1].state = NOD_TAP_ABSENT;
	nod_view_add_findings(&view, f, taps, 2);
	nod_findings_free(f);
	assert_non_null(view);
	return view;
}

static void the_view_tells_networks_suspects_and_what_is_out(void **state)
{
	struct watch w;

	(void)state;
	begin(&w);
	stay_awake(&w, 90000);
	assert_int_equal(mark(&w, 90000, NOD_MARK_ISOLATED, "F14"), 0);
	assert_int_equal(mark(&w, 91000, NOD_MARK_ISOLATED, "F12"), 0);
	assert_int_equal(mark(&w, 92000, NOD_MARK_REFITTED, "f14"), 0);
	json_t *view = view_of(&w, NOD_TAP_LISTENING);
	const json_t *body = json_array_get(json_object_get(view, "networks"), 0);
	assert_string_equal(text(body, "name"), "body");
	assert_string_equal(text(body, "interface"), "can0");
	assert_true(json_is_true(json_object_get(body, "listening")));
	assert_int_equal(json_array_size(json_object_get(view, "out")), 1);
	assert_string_equal(json_string_value(json_array_get(json_object_get(view, "out"), 0)),
			    "F12");
	json_decref(view);
	view = view_of(&w, NOD_TAP_DOWN);
	body = json_array_get(json_object_get(view, "networks"), 0);
	assert_true(json_is_false(json_object_get(body, "listening")));
	json_decref(view);
	end(&w, 92000);
}

static void the_map_names_what_can_be_pointed_at(void **state)
{
	struct watch w;

	(void)state;
	begin(&w);
	json_t *map = nod_view_map(w.live.vehicle);
	assert_non_null(map);
	const json_t *fuses = json_object_get(map, "fuses");
	assert_int_equal(json_array_size(fuses), 2);
	assert_string_equal(text(json_array_get(fuses, 0), "name"), "F12");
	assert_string_equal(text(json_array_get(fuses, 0), "box"), "cabin");
	assert_true(json_is_null(json_object_get(json_array_get(fuses, 1), "box")));
	assert_string_equal(json_string_value(json_array_get(
				    json_object_get(json_array_get(fuses, 1), "cautions"), 0)),
			    "airbag");
	assert_int_equal(json_array_size(json_object_get(map, "modules")), 2);
	assert_string_equal(json_string_value(json_array_get(json_object_get(map, "inputs"), 0)),
			    "rain sensor");
	json_decref(map);
	end(&w, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_map_that_cannot_be_read_is_told),
		cmocka_unit_test(it_analyses_without_recording),
		cmocka_unit_test(what_is_recorded_tells_the_same_again),
		cmocka_unit_test(a_directory_that_is_there_is_left_alone),
		cmocka_unit_test(after_the_end_nothing_is_taken_until_it_is_renewed),
		cmocka_unit_test(the_view_tells_networks_suspects_and_what_is_out),
		cmocka_unit_test(the_map_names_what_can_be_pointed_at),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
