/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] =
	"networks:\n"
	"  a network with quite a long name:\n"
	"    interfaces: [can0]\n"
	"    sleeps within: 10 min\n"
	"    quiet time: 3 s\n"
	"    management: { scheme: none }\n"
	"modules:\n"
	"  roof unit with all the lamps and the antenna: { ids: [100], fuses: [F1] }\n"
	"  seat unit: { ids: [200], fuses: [F2] }\n"
	"  t\xC3\xBCr unit: { ids: [300], fuses: [F3] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A, feeds: [interior lamps, the radio in the second row] }\n"
	"  F2: { rating: 15 A, box: cabin }\n"
	"  F3: { rating: 5 A, cautions: [alarm] }\n";

/* A car in which much happens: wake-ups, an isolation, a door. */
static const struct nod_findings *play_all(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#0011", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 200},
	     {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, "F2");
	PLAY(s, {0, "100#0011", 20 * MIN, 20 * MIN + 15000, 100});
	mark_at(s, 30 * MIN, NOD_MARK_REFITTED, "F2");
	PLAY(s, {0, "200#00", 30 * MIN, 40 * MIN, 200}, {0, "100#0011", 30 * MIN, 40 * MIN, 100});
	loss_at(s, 40 * MIN, 0);
	mark_at(s, 50 * MIN, NOD_MARK_DOOR, "left");
	for (int64_t t = 55 * MIN; t < 90 * MIN; t += 7 * MIN)
		PLAY(s, {0, "300#00", t, t + 9000, 100}, {0, "18FF0010#00", t + 30, t + 9000, 500});
	return found_at(s, 100 * MIN);
}

static char *printed(const struct nod_findings *f, struct nod_answer_style style)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	assert_int_equal(nod_answer_print(out, f, style), 0);
	assert_int_equal(fclose(out), 0);
	return text;
}

static unsigned columns(const char *line, size_t length)
{
	unsigned count = 0;
	for (size_t i = 0; i < length; i++)
		count += ((unsigned char)line[i] & 0xC0) != 0x80;
	return count;
}

static void test_text_fits_a_terminal(void **state)
{
	(void)state;
	struct scene s;
	char *text = printed(play_all(&s), (struct nod_answer_style){.all_idents = true});
	for (const char *line = text; *line;) {
		const char *end = strchr(line, '\n');
		assert_non_null(end);
		if (columns(line, (size_t)(end - line)) > 80)
			fail_msg("too wide: %.*s", (int)(end - line), line);
		if (end > line && (end[-1] == ' ' || end[-1] == '\t'))
			fail_msg("blank at the end: %.*s", (int)(end - line), line);
		line = end + 1;
	}
	free(text);
	scene_end(&s);
}

static void test_the_answer_comes_first_then_why_then_what_next(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = play_all(&s);
	char *text = printed(f, (struct nod_answer_style){.full = true});
	assert_int_equal(strncmp(text, "KEPT AWAKE\n", 11), 0);
	const char *why = strstr(text, "\nWhy\n"), *next = strstr(text, "\nNext\n");
	assert_non_null(why);
	assert_non_null(next);
	assert_true(why < next);
	assert_true(next < strstr(text, "\nNetworks\n"));
	free(text);
	scene_end(&s);
}

static void test_the_short_answer_fits_one_screen(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = play_all(&s);
	char *text = printed(f, (struct nod_answer_style){.zone = "UTC"});
	int lines = 0;

	for (const char *c = text; *c; c++)
		lines += *c == '\n';
	assert_true(lines <= 20);
	assert_int_equal(strncmp(text, "KEPT AWAKE\n", 11), 0);
	assert_non_null(strstr(text, "\nNext: "));
	assert_null(strstr(text, "lock+"));             /* a person reads the clock */
	for (size_t i = 0; i < f->caution_count; i++) { /* these are never left out */
		char begin[24];
		snprintf(begin, sizeof(begin), "! %.20s", f->cautions[i]);
		assert_non_null(strstr(text, begin));
	}
	free(text);
	scene_end(&s);
}

/* Colour is never the only signal, and only where it was asked for. */
static void test_colour_only_adds_to_the_text(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = play_all(&s);
	char *plain = printed(f, (struct nod_answer_style){0});
	char *colour = printed(f, (struct nod_answer_style){.colour = true});
	assert_null(strchr(plain, '\033'));
	assert_non_null(strchr(colour, '\033'));
	char *to = colour;
	for (const char *from = colour; *from; from++)
		if (*from == '\033')
			from = strchr(from, 'm');
		else
			*to++ = *from;
	*to = 0;
	assert_string_equal(plain, colour);
	free(plain);
	free(colour);
	scene_end(&s);
}

static void test_the_same_session_gives_the_same_bytes(void **state)
{
	(void)state;
	struct scene a, b;
	struct nod_answer_style style = {.all_idents = true};
	const struct nod_findings *f = play_all(&a), *g = play_all(&b);
	char *texts[] = {printed(f, style), printed(g, style), answer_text(f), answer_text(g)};
	assert_string_equal(texts[0], texts[1]);
	assert_string_equal(texts[2], texts[3]);
	for (int i = 0; i < 4; i++)
		free(texts[i]);
	scene_end(&a);
	scene_end(&b);
}

static void test_every_message_is_listed_when_asked(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = play_all(&s);
	char *all = printed(f, (struct nod_answer_style){.all_idents = true});
	char *few = printed(f, (struct nod_answer_style){0});
	assert_non_null(strstr(all, "\nMessages\n"));
	assert_non_null(strstr(all, "18FF0010"));
	assert_null(strstr(few, "\nMessages\n"));
	free(all);
	free(few);
	scene_end(&s);
}

static void test_an_empty_recording_is_said_to_be_empty(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	s.found = nod_engine_findings(s.engine);
	assert_non_null(s.found);
	char *text = printed(s.found, (struct nod_answer_style){.full = true});
	assert_int_equal(strncmp(text, "CANNOT TELL\n", 12), 0);
	assert_non_null(strstr(text, "  empty\n"));
	free(text);
	free(answer_text(s.found));
	scene_end(&s);
}

/* ---- JSON, as answer-json.c documents it ---- */

static void check_keys(const json_t *object, const char *const *keys)
{
	assert_true(json_is_object(object));
	for (; *keys; keys++)
		if (!json_object_get(object, *keys))
			fail_msg("no \"%s\"", *keys);
}

#define KEYS(object, ...) check_keys((object), (const char *const[]){__VA_ARGS__, NULL})

static const json_t *first(const json_t *object, const char *key)
{
	const json_t *array = json_object_get(object, key);
	if (!json_is_array(array) || !json_array_size(array))
		fail_msg("\"%s\" is no array or is empty", key);
	return json_array_get(array, 0);
}

static void test_json_has_all_documented_keys(void **state)
{
	(void)state;
	struct scene s;
	json_t *json = nod_answer_json(play_all(&s));
	KEYS(json, "nodoff", "verdict", "sentence", "culprits", "facts", "next", "cautions",
	     "doubts", "record_longer", "recording", "lock", "networks", "holes", "wakes",
	     "suspects", "tests", "isolations", "journal", "ids");
	KEYS(json_object_get(json, "recording"), "start", "end", "frames", "lost", "errors", "gaps",
	     "clock_steps");
	KEYS(json_object_get(json, "lock"), "time", "source", "settle_clock_from",
	     "settle_clock_cause");
	KEYS(first(json, "networks"), "name", "state", "since", "verdict", "reason", "deadline",
	     "slept_at", "awake_late", "wakes", "wakes_explained", "load", "management", "frames",
	     "lost", "errors", "spans");
	const json_t *span = first(first(json, "networks"), "spans");
	KEYS(span, "from", "to", "open", "slept_before", "silence_known", "slept_after", "asleep",
	     "frames", "bits", "first", "last", "alone", "alone_from");
	KEYS(first(span, "first"), "id", "sender", "time");
	KEYS(first(json, "wakes"), "time", "network", "id", "sender", "lead", "awake_for",
	     "networks", "cause");
	KEYS(first(json, "suspects"), "name", "kind", "role", "probability", "network", "in_map",
	     "proved", "ids", "fuses", "evidence");
	KEYS(first(first(json, "suspects"), "evidence"), "kind", "weight", "text");
	KEYS(first(json, "isolations"), "subject", "isolated", "refitted", "network", "result",
	     "slept_after", "by_chance", "refit", "text", "vanished");
	KEYS(first(json, "journal"), "time", "kind", "subject");
	KEYS(first(json, "ids"), "id", "network", "sender", "frames", "frames_late", "first",
	     "last", "rhythm", "period", "jitter", "period_late", "counter_bits", "checksum_bits",
	     "changing_bits", "changes_late");
	json_decref(json);
	scene_end(&s);
}

/* Points in time do not fit a double: text; lengths are numbers of seconds. */
static void test_json_keeps_times_exact(void **state)
{
	(void)state;
	struct scene s;
	json_t *json = nod_answer_json(play_all(&s));
	assert_int_equal(json_integer_value(json_object_get(json, "nodoff")), 1);
	const json_t *isolation = first(json, "isolations");
	assert_string_equal(json_string_value(json_object_get(isolation, "isolated")),
			    "1200.000000000");
	assert_true(json_is_number(json_object_get(isolation, "slept_after")));
	assert_true(json_real_value(json_object_get(isolation, "slept_after")) == 14.9);
	const json_t *suspect = first(json, "suspects");
	double p = json_number_value(json_object_get(suspect, "probability"));
	assert_true(p >= 0 && p <= 1);
	json_decref(json);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_text_fits_a_terminal),
		cmocka_unit_test(test_the_answer_comes_first_then_why_then_what_next),
		cmocka_unit_test(test_the_short_answer_fits_one_screen),
		cmocka_unit_test(test_colour_only_adds_to_the_text),
		cmocka_unit_test(test_the_same_session_gives_the_same_bytes),
		cmocka_unit_test(test_every_message_is_listed_when_asked),
		cmocka_unit_test(test_an_empty_recording_is_said_to_be_empty),
		cmocka_unit_test(test_json_has_all_documented_keys),
		cmocka_unit_test(test_json_keeps_times_exact),
	};
	setenv("COLUMNS", "80", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
