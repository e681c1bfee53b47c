/* SPDX-License-Identifier: MIT */
/* What isolations teach about the map. */
#include "learn.h"
#include "scene.h"

static const char car[] = "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s,\n"
			  "          management: { scheme: autosar, ids: 500-53F } }\n"
			  "fuses:\n"
			  "  F12: { rating: 10 A }\n"
			  "  F20: { rating: 10 A }\n"
			  "modules:\n"
			  "  door module left: { networks: [body], ids: [2A8], fuses: [F20] }\n"
			  "  roof unit: { networks: [body], ids: [100, 101], fuses: [F20] }\n";

static void begin(struct scene *s)
{
	scene_begin(s, car);
	s->heard = nod_heard_new();
	assert_non_null(s->heard);
	mark_at(s, 1000, NOD_MARK_LOCKED, "");
}

static const struct nod_lesson *learn_from(struct nod_learn *learn, struct scene *s, int64_t end_ms)
{
	found_at(s, end_ms);
	assert_int_equal(nod_learn_add(learn, s->found, s->heard, &s->interfaces), 0);
	const struct nod_lesson *lesson = nod_learn_conclude(learn, s->vehicle);
	assert_non_null(lesson);
	return lesson;
}

static const struct nod_learned_id *learned(const struct nod_lesson *lesson, const char *subject,
					    uint32_t id)
{
	for (size_t i = 0; i < lesson->subject_count; i++)
		for (size_t k = 0; k < lesson->subjects[i].id_count; k++)
			if (!strcmp(lesson->subjects[i].name, subject) &&
			    lesson->subjects[i].ids[k].id == id)
				return &lesson->subjects[i].ids[k];
	return NULL;
}

/* Others go on; 2A0 and 2A8 only when they are there. */
static void play_awake(struct scene *s, int64_t from, int64_t to, bool there)
{
	PLAY(s, {0, "100#11", from, to, 500}, {0, "101#11", from, to, 1000},
	     {0, "2A0#01", from, there ? to : from, 200},
	     {0, "2A8#01", from, there ? to : from, 1000});
}

/* The network stays awake; 2A0 and 2A8 go and come with what is isolated. The
 * marks are entered a little late. */
static void one_isolation(struct scene *s, const char *subject)
{
	begin(s);
	play_awake(s, 2000, 120000, true);
	play_awake(s, 120000, 122000, false);
	mark_at(s, 122000, NOD_MARK_ISOLATED, subject);
	play_awake(s, 122100, 180000, false);
	play_awake(s, 180000, 181000, true);
	mark_at(s, 181000, NOD_MARK_REFITTED, subject);
	play_awake(s, 181100, 400000, true);
}

static void what_vanishes_and_comes_back_is_proposed(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	one_isolation(&s, "fuse F12");
	const struct nod_lesson *l = learn_from(learn, &s, 400000);
	const struct nod_learned_id *id = learned(l, "F12", 0x2A0);
	assert_non_null(id);
	assert_true(id->confidence >= NOD_LEARN_SURE);
	assert_int_equal(id->silent, 1);
	assert_int_equal(id->came_back, 1);
	assert_true(id->missed > 250 && id->missed <= 305);
	assert_null(id->owner);
	assert_null(learned(l, "F12", 0x100));
	assert_null(learned(l, "F12", 0x101));
	nod_learn_free(learn);
	scene_end(&s);
}

static void a_contradiction_with_the_map_is_named(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	one_isolation(&s, "F12");
	const struct nod_learned_id *id = learned(learn_from(learn, &s, 400000), "F12", 0x2A8);
	assert_non_null(id);
	assert_false(id->fits);
	assert_string_equal(id->conflict, "2A8 is door module left's in the map, but vanished with "
					  "F12, which does not feed it in the map");
	nod_learn_free(learn);
	scene_end(&s);

	learn = nod_learn_new();
	one_isolation(&s, "F20");
	id = learned(learn_from(learn, &s, 400000), "F20", 0x2A8);
	assert_non_null(id);
	assert_true(id->fits);
	assert_null(id->conflict);
	nod_learn_free(learn);
	scene_end(&s);
}

static void recordings_add_up(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s[2];
	double once;

	(void)state;
	one_isolation(&s[0], "F12");
	once = learned(learn_from(learn, &s[0], 400000), "F12", 0x2A0)->confidence;
	one_isolation(&s[1], "F12");
	const struct nod_lesson *l = learn_from(learn, &s[1], 400000);
	const struct nod_learned_id *id = learned(l, "F12", 0x2A0);
	assert_int_equal(l->sessions, 2);
	assert_int_equal(l->subjects[0].isolations, 2);
	assert_int_equal(id->silent, 2);
	assert_true(id->confidence > once);
	nod_learn_free(learn);
	scene_end(&s[0]);
	scene_end(&s[1]);
}

static void going_on_speaks_against_it(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s[2];
	double once;

	(void)state;
	one_isolation(&s[0], "F12");
	once = learned(learn_from(learn, &s[0], 400000), "F12", 0x2A0)->confidence;
	begin(&s[1]);
	play_awake(&s[1], 2000, 122000, true);
	mark_at(&s[1], 122000, NOD_MARK_ISOLATED, "F12");
	play_awake(&s[1], 122100, 181000, true);
	mark_at(&s[1], 181000, NOD_MARK_REFITTED, "F12");
	play_awake(&s[1], 181100, 400000, true);
	const struct nod_learned_id *id = learned(learn_from(learn, &s[1], 400000), "F12", 0x2A0);
	assert_true(!id || id->confidence < once);
	nod_learn_free(learn);
	scene_end(&s[0]);
	scene_end(&s[1]);
}

/* All fall silent half a second after 2A0: nobody can say who hung on the fuse. */
static void a_sleeping_network_makes_nobody_sure(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	play_awake(&s, 2000, 120000, true);
	play_awake(&s, 120000, 120500, false);
	mark_at(&s, 122000, NOD_MARK_ISOLATED, "F12");
	mark_at(&s, 181000, NOD_MARK_REFITTED, "F12");
	play_awake(&s, 181100, 400000, true);
	const struct nod_lesson *l = learn_from(learn, &s, 400000);
	for (size_t i = 0; i < l->subject_count; i++)
		for (size_t k = 0; k < l->subjects[i].id_count; k++)
			assert_true(l->subjects[i].ids[k].confidence < NOD_LEARN_SURE);
	nod_learn_free(learn);
	scene_end(&s);
}

static void what_never_comes_back_is_not_sure(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	play_awake(&s, 2000, 120000, true);
	mark_at(&s, 120500, NOD_MARK_ISOLATED, "F12");
	play_awake(&s, 120600, 400000, false);
	const struct nod_learned_id *id = learned(learn_from(learn, &s, 400000), "F12", 0x2A0);
	assert_non_null(id);
	assert_true(id->confidence >= NOD_LEARN_PERHAPS && id->confidence < NOD_LEARN_SURE);
	nod_learn_free(learn);
	scene_end(&s);
}

/* 3F0 and 3F1 go and come together while others go on; 3F8 has its own times. */
static void play_groups(struct scene *s)
{
	PLAY(s, {0, "100#11", 2000, 900000, 500}, {0, "3F0#01", 2000, 100000, 300},
	     {0, "3F1#01", 2000, 100000, 700}, {0, "3F0#01", 200000, 300000, 300},
	     {0, "3F1#01", 200100, 300000, 700}, {0, "3F0#01", 500000, 700000, 300},
	     {0, "3F1#01", 500100, 700000, 700}, {0, "3F8#01", 2000, 150000, 300},
	     {0, "3F8#01", 400000, 600000, 300}, {0, "3F8#01", 650000, 720000, 300});
}

static void unknown_ids_that_go_together_are_one_module(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	play_groups(&s);
	const struct nod_lesson *l = learn_from(learn, &s, 900000);
	assert_int_equal(l->group_count, 1);
	assert_int_equal(l->groups[0].id_count, 2);
	assert_int_equal(l->groups[0].ids[0].id, 0x3F0);
	assert_int_equal(l->groups[0].ids[1].id, 0x3F1);
	assert_int_equal(l->groups[0].edges, 5);
	assert_true(l->groups[0].confidence >= NOD_LEARN_SURE);
	assert_string_equal(l->groups[0].name, "unknown module 1");
	nod_learn_free(learn);
	scene_end(&s);
}

static void a_touched_input_moves_a_bit(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	PLAY(&s, {0, "2A0#00000000", 2000, 60000, 500});
	mark_at(&s, 60000, NOD_MARK_TOUCHED, "tailgate switch");
	PLAY(&s, {0, "2A0#00000010", 60500, 62000, 500});
	PLAY(&s, {0, "2A0#00000000", 62000, 90000, 500});
	const struct nod_lesson *l = learn_from(learn, &s, 90000);
	assert_int_equal(l->input_count, 1);
	assert_string_equal(l->inputs[0].input, "tailgate switch");
	assert_int_equal(l->inputs[0].id, 0x2A0);
	assert_int_equal(l->inputs[0].bit, 3 * 8 + 4);
	assert_int_equal(l->inputs[0].moved, 1);
	nod_learn_free(learn);
	scene_end(&s);
}

/* 510 is a management message: it may have stopped because of who is gone. */
static void what_the_protocol_may_have_stopped_is_not_sure(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	PLAY(&s, {0, "100#11", 2000, 122000, 500}, {0, "2A0#01", 2000, 120000, 200},
	     {0, "510#1000", 2000, 120000, 500});
	mark_at(&s, 122000, NOD_MARK_ISOLATED, "F12");
	PLAY(&s, {0, "100#11", 122100, 181000, 500}, {0, "2A0#01", 180000, 181000, 200},
	     {0, "510#1000", 180000, 181000, 500});
	mark_at(&s, 181000, NOD_MARK_REFITTED, "F12");
	PLAY(&s, {0, "100#11", 181100, 400000, 500}, {0, "2A0#01", 181100, 400000, 200},
	     {0, "510#1000", 181100, 400000, 500});
	const struct nod_lesson *l = learn_from(learn, &s, 400000);
	const struct nod_learned_id *id = learned(l, "F12", 0x510);
	assert_true(learned(l, "F12", 0x2A0)->confidence >= NOD_LEARN_SURE);
	assert_true(!id || id->confidence < NOD_LEARN_PERHAPS);
	nod_learn_free(learn);
	scene_end(&s);
}

static char *written(int (*write)(const struct nod_lesson *l, FILE *out),
		     const struct nod_lesson *l)
{
	char *text = NULL;
	size_t size = 0;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	assert_int_equal(write(l, out), 0);
	assert_int_equal(fclose(out), 0);
	return text;
}

static void its_lines_fit_into_a_vehicle_file(void **state)
{
	static const char networks[] = "networks: { body: { interfaces: [can0] } }\n"
				       "fuses: { F12: { rating: 10 A } }\n";
	struct nod_learn *learn = nod_learn_new();
	struct nod_error err = {""};
	struct scene s;

	(void)state;
	one_isolation(&s, "F12");
	char *lines = written(nod_lesson_write, learn_from(learn, &s, 400000));
	char *file = malloc(sizeof(networks) + strlen(lines));
	assert_non_null(file);
	strcpy(stpcpy(file, networks), lines);
	struct nod_vehicle *v = nod_vehicle_parse(file, strlen(file), "merged", &err);
	if (!v)
		fail_msg("%s in\n%s", err.text, file);
	assert_int_equal(v->module_count, 1);
	assert_string_equal(v->modules[0].name, "on F12");
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A0), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A8), NOD_NONE); /* only remarked on */
	assert_int_equal(v->modules[0].fuses[0], 0);
	nod_vehicle_free(v);
	free(file);
	free(lines);
	nod_learn_free(learn);
	scene_end(&s);
}

static void it_merges_into_the_map(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct nod_error err = {""};
	struct scene s;

	(void)state;
	one_isolation(&s, "roof unit");
	const struct nod_lesson *l = learn_from(learn, &s, 400000);
	struct nod_vehicle *v = nod_vehicle_parse(car, strlen(car), "car", &err);
	assert_non_null(v);
	assert_int_equal(nod_lesson_merge(l, v), 0);
	assert_int_equal(v->module_count, 2);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A0), 1);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A8), 0); /* claimed: left alone */
	nod_vehicle_free(v);
	nod_learn_free(learn);
	scene_end(&s);
}

static void without_isolations_it_says_how(void **state)
{
	struct nod_learn *learn = nod_learn_new();
	struct scene s;

	(void)state;
	begin(&s);
	play_awake(&s, 2000, 30000, true);
	char *lines = written(nod_lesson_write, learn_from(learn, &s, 30000));
	assert_non_null(strstr(lines, "Nothing was isolated"));
	free(lines);
	nod_learn_free(learn);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_vanishes_and_comes_back_is_proposed),
		cmocka_unit_test(a_contradiction_with_the_map_is_named),
		cmocka_unit_test(recordings_add_up),
		cmocka_unit_test(going_on_speaks_against_it),
		cmocka_unit_test(a_sleeping_network_makes_nobody_sure),
		cmocka_unit_test(what_never_comes_back_is_not_sure),
		cmocka_unit_test(unknown_ids_that_go_together_are_one_module),
		cmocka_unit_test(a_touched_input_moves_a_bit),
		cmocka_unit_test(what_the_protocol_may_have_stopped_is_not_sure),
		cmocka_unit_test(its_lines_fit_into_a_vehicle_file),
		cmocka_unit_test(it_merges_into_the_map),
		cmocka_unit_test(without_isolations_it_says_how),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
