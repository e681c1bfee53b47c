/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "likeness.h"
#include "recall.h"

#define MIN (60 * 1000)
#define VIN "ZZZAB12C0XK004711" /* invented, as the other */
#define OTHER "ZZZAB12C0XK008155"
#define DAY (INT64_C(86400) * NOD_NS_PER_S)
#define TODAY (INT64_C(20000) * DAY)

static const char body[] = "vehicle: \"Estate, invented\"\n"
			   "networks: { body: { interfaces: [can0] } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100, 101] }\n"
			   "  seat unit: { ids: [102, 103] }\n"
			   "  door unit: { ids: [104, 105] }\n";

/* The car that is analysed, and those in the folder. */
struct folder {
	struct scene scene;
	struct nod_arena arena;
	struct nod_car self, cars[40];
	struct nod_car_message messages[40][8];
	size_t count;
	struct nod_known known;
};

static void begin(struct folder *t)
{
	memset(t, 0, sizeof(*t));
	scene_begin(&t->scene, body);
	mark_at(&t->scene, 0, NOD_MARK_LOCKED, "");
	PLAY(&t->scene, {0, "100#00", 0, 2 * MIN, 100}, {0, "101#00", 1, 2 * MIN, 100},
	     {0, "102#00", 2, 2 * MIN, 100}, {0, "103#00", 3, 2 * MIN, 100},
	     {0, "104#00", 4, 2 * MIN, 100}, {0, "105#00", 5, 2 * MIN, 100},
	     {0, "106#00", 6, 2 * MIN, 100}, {0, "107#00", 7, 2 * MIN, 100});
	assert_int_equal(nod_car_describe(&t->self, &t->arena, found_at(&t->scene, 2 * MIN),
					  "/cars/self", VIN),
			 0);
	assert_int_equal(t->self.message_count, 8);
	t->self.start.ns = TODAY;
	t->self.end.ns = TODAY + 3600 * NOD_NS_PER_S;
}

static void end(struct folder *t)
{
	nod_arena_free(&t->arena);
	scene_end(&t->scene);
}

/* One more of the same kind, so many days ago. */
static struct nod_car *add(struct folder *t, const char *path, const char *vin, int days_ago)
{
	struct nod_car *car = &t->cars[t->count];

	*car = t->self;
	car->path = path;
	snprintf(car->vin, sizeof(car->vin), "%s", vin);
	car->start.ns -= days_ago * DAY;
	car->end.ns -= days_ago * DAY;
	car->good = false;
	car->found = car->part = "";
	car->messages = t->messages[t->count++];
	memcpy(car->messages, t->self.messages, sizeof(t->messages[0]));
	return car;
}

/* A solved one: `ids` are bits of what the culprit sends. */
static struct nod_car *solve(struct nod_car *car, const char *name, unsigned ids)
{
	car->found = name;
	car->proved = car->tried = true;
	for (unsigned i = 0; i < 8; i++)
		car->messages[i].found = ids >> i & 1;
	return car;
}

static const struct nod_known *recall(struct folder *t)
{
	const struct nod_recall_wish wish = {.unread = 2};

	assert_int_equal(nod_recall(&t->known, &t->arena, &t->self, t->scene.found, t->cars,
				    t->count, &wish),
			 0);
	return &t->known;
}

static void test_nothing_there(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	const struct nod_known *k = recall(&t);
	assert_null(k->good);
	assert_int_equal(k->earlier_count + k->solved + k->sender_count + k->like, 0);
	assert_string_equal(k->brief, "");
	assert_int_equal(k->unread, 2);
	end(&t);
}

static void test_last_good_sleep_and_what_was_tried_since(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	solve(add(&t, "/cars/old-trouble", VIN, 300), "seat unit", 0x0C);
	add(&t, "/cars/first-good", VIN, 200)->good = true;
	add(&t, "/cars/last-good", VIN, 90)->good = true;
	add(&t, "/cars/tried-1", VIN, 9)->tried = true;
	add(&t, "/cars/looked-at", VIN, 8);
	add(&t, "/cars/tried-2", VIN, 7)->tried = true;
	add(&t, "/cars/later-good", VIN, -30)->good = true;
	add(&t, "/cars/later-tried", VIN, -20)->tried = true;
	add(&t, "/cars/other-good", OTHER, 5)->good = true;
	const struct nod_known *k = recall(&t);
	assert_string_equal(k->good, "/cars/last-good");
	assert_int_equal(k->earlier_count, 2);
	assert_string_equal(k->earlier[0], "/cars/tried-2");
	assert_string_equal(k->earlier[1], "/cars/tried-1");
	/* the old trouble was over: it is one solved car */
	assert_int_equal(k->solved, 1);
	assert_string_equal(k->senders[0].name, "seat unit");
	assert_string_equal(
		k->brief, "Known: its last good sleep, 2 earlier sessions, 1 solved car like it.");
	end(&t);
}

static void test_what_is_given_is_not_looked_for(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	add(&t, "/cars/good", VIN, 90)->good = true;
	solve(add(&t, "/cars/tried", VIN, 9), "seat unit", 0x0C);
	const struct nod_recall_wish wish = {.no_good = true, .no_earlier = true};
	assert_int_equal(
		nod_recall(&t.known, &t.arena, &t.self, t.scene.found, t.cars, t.count, &wish), 0);
	assert_null(t.known.good);
	assert_int_equal(t.known.earlier_count, 0);
	assert_int_equal(t.known.solved, 0); /* of this trouble: it is earlier, not solved */
	end(&t);
}

/* The same recording, a copy of it, another tap at the same time. */
static void test_itself_is_left_out(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	solve(add(&t, "/cars/self", VIN, 50), "seat unit", 0x0C);
	solve(add(&t, "/cars/copy", VIN, 0), "seat unit", 0x0C);
	solve(add(&t, "/cars/scrubbed", "", 0), "seat unit", 0x0C);
	assert_int_equal(recall(&t)->solved, 0);
	solve(add(&t, "/cars/beside-it", OTHER, 0), "seat unit", 0x0C);
	assert_int_equal(recall(&t)->solved, 1);
	end(&t);
}

static void test_each_car_counts_once(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	solve(add(&t, "/cars/a1", OTHER, 400), "seat unit", 0x0C);
	solve(add(&t, "/cars/a2", OTHER, 300), "seat unit", 0x0C);
	solve(add(&t, "/cars/b1", "", 200), "roof unit", 0x03);
	solve(add(&t, "/cars/b2", "", 190), "roof unit", 0x03);
	solve(add(&t, "/cars/c", "", 100), "roof unit", 0x03);
	const struct nod_known *k = recall(&t);
	assert_int_equal(k->solved, 3);
	assert_int_equal(k->sender_count, 2);
	assert_string_equal(k->senders[0].name, "roof unit");
	assert_int_equal(k->senders[0].cars, 2);
	assert_int_equal(k->senders[1].cars, 1);
	end(&t);
}

/* What it sends says who it is; the name only where none of that is heard. */
static void test_by_messages_before_names(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	solve(add(&t, "/cars/a", OTHER, 400), "ID 102", 0x04);
	const struct nod_known *k = recall(&t);
	assert_string_equal(k->senders[0].name, "seat unit");
	solve(&t.cars[0], "Roof Unit", 0);
	assert_string_equal(recall(&t)->senders[0].name, "roof unit");
	solve(&t.cars[0], "trailer unit", 0);
	k = recall(&t);
	assert_int_equal(k->sender_count, 0);
	assert_int_equal(k->solved, 1);
	assert_string_equal(k->brief, "");
	end(&t);
}

static void name_and_mend(struct nod_car *car)
{
	solve(car, "seat unit", 0x0C);
	car->proved = car->tried = false;
	car->mended = true;
}

/* Named, a repair noted, and a good sleep of the same car later: all three. */
static void test_mended(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	name_and_mend(add(&t, "/cars/a1", OTHER, 400));
	assert_int_equal(recall(&t)->solved, 0);
	struct nod_car *good = add(&t, "/cars/a2", OTHER, 390);
	good->good = true;
	assert_int_equal(recall(&t)->solved, 1);
	good->mended = true;
	good->part = "roof unit"; /* it was another one, then */
	assert_int_equal(recall(&t)->solved, 0);
	good->part = "";
	t.cars[0].mended = false;
	assert_int_equal(recall(&t)->solved, 1);
	good->mended = false;
	assert_int_equal(recall(&t)->solved, 0);
	end(&t);
}

static void make_unlike(struct nod_car *car, unsigned from)
{
	for (unsigned i = from; i < 8; i++)
		car->messages[i].id += 0x100;
}

/* By its messages; by the title of its map only where these do not contradict it. */
static void test_who_is_like(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	solve(add(&t, "/cars/a", OTHER, 400), "seat unit", 0x0C)->map = "";
	assert_int_equal(recall(&t)->solved, 1);
	make_unlike(&t.cars[0], 6); /* six of ten messages */
	assert_true(nod_car_likeness(&t.self, &t.cars[0]) == 0.6);
	assert_int_equal(recall(&t)->solved, 0);
	t.cars[0].map = "Estate, invented";
	assert_int_equal(recall(&t)->solved, 1);
	make_unlike(&t.cars[0], 0);
	assert_int_equal(recall(&t)->solved, 0);
	end(&t);
}

static void test_without_a_date_nothing_is_before(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	struct nod_car *good = add(&t, "/cars/good", VIN, 0);
	good->good = true;
	good->start.ns = 0;
	good->end.ns = 3600 * NOD_NS_PER_S;
	assert_null(recall(&t)->good);
	end(&t);
}

static void test_earlier_ones_are_bounded(void **state)
{
	(void)state;
	struct folder t;
	begin(&t);
	for (int i = 0; i < 40; i++)
		add(&t, "/cars/tried", VIN, 2 + i)->tried = true;
	const struct nod_known *k = recall(&t);
	assert_int_equal(k->earlier_count, NOD_EARLIER_MAX);
	assert_true(strlen(k->brief) <= 80);
	end(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_nothing_there),
		cmocka_unit_test(test_last_good_sleep_and_what_was_tried_since),
		cmocka_unit_test(test_what_is_given_is_not_looked_for),
		cmocka_unit_test(test_itself_is_left_out),
		cmocka_unit_test(test_each_car_counts_once),
		cmocka_unit_test(test_by_messages_before_names),
		cmocka_unit_test(test_mended),
		cmocka_unit_test(test_who_is_like),
		cmocka_unit_test(test_without_a_date_nothing_is_before),
		cmocka_unit_test(test_earlier_ones_are_bounded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
