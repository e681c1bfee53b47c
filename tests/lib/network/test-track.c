/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "engine-internal.h"

#define MIN (60 * 1000)
#define MS NOD_NS_PER_MS

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, "
			   "quiet time: 3 s, management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100, 101] }\n"
			   "  seat unit: { ids: [200] }\n";

static void begin(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void error_at(struct scene *s, int64_t ms)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * MS}};

	e.frame.time = e.time;
	e.frame.id = NOD_ID_ERROR | 0x8;
	e.frame.length = 8;
	scene_take(s, &e);
}

static uint32_t id_of(const struct nod_findings *f, const struct nod_speaker *speaker)
{
	return f->idents[speaker->ident].id;
}

static void test_a_span_is_from_first_to_last_frame(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 1000, 5000, 100});
	PLAY(&s, {0, "200#00", 20000, 22000, 500});
	const struct nod_network_finding *n = &found_at(&s, 40000)->networks[0];
	assert_int_equal(n->span_count, 2);
	assert_int_equal(n->spans[0].from.ns, 1000 * MS);
	assert_int_equal(n->spans[0].to.ns, 4900 * MS);
	assert_int_equal(n->spans[0].frames, 40);
	assert_false(n->spans[0].slept_before); /* it began with the recording */
	assert_true(n->spans[1].slept_before);
	assert_true(n->spans[0].silence_known);
	assert_false(n->spans[1].open);
	scene_end(&s);
}

/* Silence counts as asleep from the quiet time on, not below. */
static void test_silence_shorter_than_the_quiet_time_is_no_sleep(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	frame_at(&s, 1000, 0, "100#00");
	frame_at(&s, 3990, 0, "100#00");
	const struct nod_network_finding *n = &found_at(&s, 6980)->networks[0];
	assert_int_equal(n->span_count, 1);
	assert_true(n->spans[0].open);
	assert_int_equal(n->state, NOD_STATE_AWAKE);
	n = &found_at(&s, 6990)->networks[0];
	assert_int_equal(n->state, NOD_STATE_ASLEEP);
	assert_int_equal(n->since.ns, 3990 * MS);
	scene_end(&s);
}

/* Of the next frame likewise: as long as the quiet time is asleep, a moment less is not. */
static void test_the_next_frame_after_the_quiet_time_wakes(void **state)
{
	static const struct {
		int64_t next;
		size_t spans;
	} cases[] = {{3999, 1}, {4000, 2}, {4001, 2}};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
		struct scene s;
		begin(&s);
		frame_at(&s, 1000, 0, "100#00");
		frame_at(&s, cases[i].next, 0, "100#00");
		assert_int_equal(found_at(&s, 5000)->networks[0].span_count, cases[i].spans);
		scene_end(&s);
	}
}

static void test_first_and_last_speakers_are_kept_in_order(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	frame_at(&s, 1000, 0, "200#00");
	frame_at(&s, 1010, 0, "100#00");
	frame_at(&s, 1020, 0, "200#00");
	frame_at(&s, 1500, 0, "101#00");
	frame_at(&s, 1600, 0, "100#00");
	const struct nod_findings *f = found_at(&s, 20000);
	const struct nod_span_finding *span = &f->networks[0].spans[0];
	assert_int_equal(span->first_count, 3);
	assert_int_equal(id_of(f, &span->first[0]), 0x200);
	assert_int_equal(id_of(f, &span->first[1]), 0x100);
	assert_int_equal(id_of(f, &span->first[2]), 0x101);
	assert_int_equal(span->first[1].time.ns, 1010 * MS);
	assert_int_equal(span->last_count, 3);
	assert_int_equal(id_of(f, &span->last[0]), 0x100);
	assert_int_equal(id_of(f, &span->last[1]), 0x101);
	assert_int_equal(id_of(f, &span->last[2]), 0x200);
	assert_int_equal(span->last[2].time.ns, 1020 * MS);
	scene_end(&s);
}

/* Two messages of one module are one talker. */
static void test_who_talks_on_alone_is_seen_as_a_module(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 60000, 100}, {0, "101#00", 5, 60000, 500},
	     {0, "200#00", 10, 10000, 100});
	const struct nod_findings *f = found_at(&s, 90000);
	const struct nod_span_finding *span = &f->networks[0].spans[0];
	assert_int_not_equal(span->lone_sender, NOD_NONE);
	assert_string_equal(f->senders[span->lone_sender].name, "roof unit");
	assert_int_equal(span->lone_from.ns, 9910 * MS);
	scene_end(&s);
}

static void test_nobody_is_alone_when_two_stop_together(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 60000, 100}, {0, "200#00", 10, 59000, 100});
	assert_int_equal(found_at(&s, 90000)->networks[0].spans[0].lone_sender, NOD_NONE);
	scene_end(&s);
}

/* Two recorders merged, a buffer read late: some tens of milliseconds back. */
static void test_small_steps_back_neither_split_nor_shorten_a_span(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	frame_at(&s, 1000, 0, "100#00");
	frame_at(&s, 1100, 0, "200#00");
	frame_at(&s, 1050, 0, "101#00");
	const struct nod_findings *f = found_at(&s, 1080);
	assert_int_equal(f->networks[0].span_count, 1);
	assert_int_equal(f->networks[0].spans[0].frames, 3);
	assert_int_equal(f->networks[0].spans[0].to.ns, 1100 * MS);
	assert_int_equal(f->end.ns, 1100 * MS);
	assert_int_equal(f->clock_steps, 0);
	scene_end(&s);
}

/* Who asked before the car was locked (anew) may have had reason to. */
static void test_what_was_asked_before_the_lock_is_forgotten(void **state)
{
	static const char managed[] =
		"networks:\n"
		"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
		"management: { scheme: osek, ids: 500-53F } }\n";
	struct scene s;

	(void)state;
	scene_begin(&s, managed);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "501#0202000000000000", 0, 20 * MIN, 500},
	     {0, "502#0102000000000000", 250, 20 * MIN, 500});
	struct nod_track *track = s.engine->tracks[0];
	const struct nod_node *node = nod_idents_find(&track->idents, 0x501)->node;
	assert_int_equal(node->requests[NOD_PHASE_SETTLING], 10 * MIN / 500);
	assert_int_equal(node->requests[NOD_PHASE_LATE], 10 * MIN / 500);
	mark_at(&s, 20 * MIN, NOD_MARK_LOCKED, "");
	for (int p = NOD_PHASE_SETTLING; p < NOD_PHASES; p++) {
		assert_int_equal(node->requests[p], 0);
		assert_int_equal(node->ring_requests[p], 0);
		assert_int_equal(node->pdus[p], 0);
	}
	assert_int_equal(node->pdus[NOD_PHASE_USE], 20 * MIN / 500);
	assert_false(nod_time_is_set(node->last_request));
	scene_end(&s);
}

/* Whatever IDs a tester sends on, it is one. */
static void test_a_tester_is_one_sender(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	PLAY(&s, {0, "7DF#0201000000000000", 1000, 3000, 100},
	     {0, "7E0#0221000000000000", 1050, 3000, 100}, {0, "100#00", 1020, 3000, 100});
	struct nod_track *track = s.engine->tracks[0];
	assert_true(track->tester_heard);
	assert_int_equal(nod_idents_find(&track->idents, 0x7DF)->diagnostic, 20);
	assert_int_equal(nod_idents_find(&track->idents, 0x100)->diagnostic, 0);
	nod_track_place_all(track);
	assert_int_equal(nod_idents_find(&track->idents, 0x7DF)->owner,
			 nod_idents_find(&track->idents, 0x7E0)->owner);
	assert_int_not_equal(nod_idents_find(&track->idents, 0x7DF)->owner,
			     nod_idents_find(&track->idents, 0x100)->owner);
	scene_end(&s);
}

/* "Tester present" again and again says so on an ID that a maker chose as well. */
static void test_a_tester_that_is_only_there_is_heard(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	PLAY(&s, {0, "6F1#023E800000000000", 1000, 1000 + (NOD_PRESENCES_MIN - 1) * 2000, 2000});
	assert_false(s.engine->tracks[0]->tester_heard);
	PLAY(&s, {0, "6F1#023E800000000000", 60000, 60001, 2000});
	assert_true(s.engine->tracks[0]->tester_heard);
	scene_end(&s);
}

/* The longest since the lock is looked at for who held it; who did not speak in it is not there. */
static void test_the_longest_span_is_the_one_that_is_held(void **state)
{
	static const int64_t lengths[][2] = {{30000, 60000}, {60000, 30000}};

	(void)state;
	for (size_t i = 0; i < sizeof(lengths) / sizeof(*lengths); i++) {
		struct scene s;
		struct nod_span span;
		struct nod_held_ident held;
		begin(&s);
		PLAY(&s, {0, "100#00", 1000, 1000 + lengths[i][0], 100});
		PLAY(&s, {0, "200#00", 100000, 100000 + lengths[i][1], 100});
		struct nod_track *track = s.engine->tracks[0];
		uint32_t serial = nod_track_held(track, &span);
		assert_int_equal(span.from.ns, (i ? 1000 : 100000) * MS);
		const struct nod_ident *roof = nod_idents_find(&track->idents, 0x100);
		const struct nod_ident *seat = nod_idents_find(&track->idents, 0x200);
		assert_int_equal(nod_track_held_ident(track, roof, serial, &held), i == 1);
		assert_int_equal(nod_track_held_ident(track, seat, serial, &held), i == 0);
		scene_end(&s);
	}
}

/* Of J1939, who a message is of stands in its ID: a unit of the map, or an address. */
static void test_a_source_address_is_of_its_unit(void **state)
{
	static const char truck[] = "networks:\n"
				    "  drive: { interfaces: [can0] }\n"
				    "modules:\n"
				    "  brake unit: { source address: 0B }\n";
	struct scene s;

	(void)state;
	scene_begin(&s, truck);
	frame_at(&s, 1000, 0, "18FF010B#00");
	frame_at(&s, 1010, 0, "18FF010C#00");
	struct nod_track *track = s.engine->tracks[0];
	track->nm.scheme = NOD_NM_J1939; /* as the traffic tells after a while */
	const struct nod_ident *brake = nod_idents_find(&track->idents,
							0x18FF010B | NOD_ID_EXTENDED);
	const struct nod_ident *other = nod_idents_find(&track->idents,
							0x18FF010C | NOD_ID_EXTENDED);
	assert_int_equal(nod_track_sender(track, brake).kind, NOD_SENDER_MODULE);
	assert_int_equal(nod_track_sender(track, brake).module, 0);
	assert_int_equal(nod_track_sender(track, other).kind, NOD_SENDER_SOURCE_ADDRESS);
	assert_int_equal(nod_track_sender(track, other).number, 0x0C);
	scene_end(&s);
}

static void test_lost_frames_make_the_silence_after_them_unknown(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 5000, 100});
	loss_at(&s, 5000, 0);
	PLAY(&s, {0, "100#00", 20000, 21000, 100});
	PLAY(&s, {0, "100#00", 40000, 41000, 100});
	const struct nod_network_finding *n = &found_at(&s, 60000)->networks[0];
	assert_int_equal(n->lost, 7);
	assert_false(n->spans[0].silence_known);
	assert_false(n->spans[1].slept_before);
	assert_true(n->spans[1].silence_known);
	assert_true(n->spans[2].slept_before);
	scene_end(&s);
}

/* Who is not acknowledged goes on sending: the network is awake. */
static void test_error_reports_keep_a_span_alive(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 5000, 100});
	for (int64_t t = 6000; t <= 30000; t += 1000)
		error_at(&s, t);
	const struct nod_network_finding *n = &found_at(&s, 31000)->networks[0];
	assert_int_equal(n->span_count, 1);
	assert_int_equal(n->state, NOD_STATE_AWAKE);
	assert_int_equal(n->errors, 25);
	assert_int_equal(n->spans[0].to.ns, 30000 * MS);
	assert_int_equal(n->frames, 50); /* an error report is no frame */
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_span_is_from_first_to_last_frame),
		cmocka_unit_test(test_silence_shorter_than_the_quiet_time_is_no_sleep),
		cmocka_unit_test(test_the_next_frame_after_the_quiet_time_wakes),
		cmocka_unit_test(test_first_and_last_speakers_are_kept_in_order),
		cmocka_unit_test(test_who_talks_on_alone_is_seen_as_a_module),
		cmocka_unit_test(test_nobody_is_alone_when_two_stop_together),
		cmocka_unit_test(test_small_steps_back_neither_split_nor_shorten_a_span),
		cmocka_unit_test(test_what_was_asked_before_the_lock_is_forgotten),
		cmocka_unit_test(test_a_tester_is_one_sender),
		cmocka_unit_test(test_a_tester_that_is_only_there_is_heard),
		cmocka_unit_test(test_the_longest_span_is_the_one_that_is_held),
		cmocka_unit_test(test_a_source_address_is_of_its_unit),
		cmocka_unit_test(test_lost_frames_make_the_silence_after_them_unknown),
		cmocka_unit_test(test_error_reports_keep_a_span_alive),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
