/* SPDX-License-Identifier: MIT */
/* The report: all that was found is in it, and nothing that came in breaks it. */
#include "report.h"
#include "scene.h"

static const char hostile_car[] =
	"vehicle: \"<script>alert(1)</script> & 'car'\"\n"
	"networks:\n"
	"  \"<b>body\": { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n"
	"modules:\n"
	"  \"roof </td><script>\": { ids: [100], fuses: [\"F1\\\"<i>\"] }\n"
	"fuses: { \"F1\\\"<i>\": { rating: 5 A } }\n"
	"battery: { type: flooded, capacity: 70 Ah }\n";

struct told {
	struct scene scene;
	struct nod_timeline *timeline;
	struct nod_report_session session;
};

static void tell(struct told *t, struct nod_event event)
{
	scene_take(&t->scene, &event);
	assert_int_equal(
		nod_timeline_take(t->timeline, &event, nod_engine_clock_shift(t->scene.engine)), 0);
}

static void mark(struct told *t, int64_t ms, enum nod_mark_kind kind, const char *subject)
{
	struct nod_event e = {.kind = NOD_EVENT_MARK, .time = {ms * NOD_NS_PER_MS}};

	e.mark = (struct nod_mark){e.time, kind, subject};
	tell(t, e);
}

static void frame(struct told *t, int64_t ms, uint32_t id)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};

	e.frame.time = e.time;
	e.frame.id = id;
	e.frame.length = 1;
	tell(t, e);
}

static void current(struct told *t, int64_t ms, int64_t ua)
{
	struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {ms * NOD_NS_PER_MS}};

	e.current.microamps = ua;
	tell(t, e);
}

static void begin(struct told *t)
{
	memset(t, 0, sizeof(*t));
	scene_begin(&t->scene, hostile_car);
	t->timeline = nod_timeline_new(&t->scene.interfaces);
	assert_non_null(t->timeline);
}

/* Held for five minutes at 1.5 A, with all that a journal can hold. */
static void hold(struct told *t)
{
	mark(t, 0, NOD_MARK_LOCKED, "");
	for (int i = 1; i < 3000; i++) {
		frame(t, 100 * i, 0x100);
		if (i % 10 == 0)
			current(t, 100 * i, 1500000 + i % 7 * 1000);
		if (i == 2000)
			mark(t, 200050, NOD_MARK_NOTE,
			     "</svg><script src=\"http://x\">\x1b[31m\xFF");
	}
}

static char *page_of(struct told *t, const struct nod_report_session *before)
{
	static const struct nod_report_file file = {
		.name = "<frames>.log", .form = "candump log", .sha256 = "00ff", .entries = 7};
	char *page;
	size_t size;
	FILE *out = open_memstream(&page, &size);

	found_at(&t->scene, 300000);
	t->session = (struct nod_report_session){.title = "car <1>",
						 .tool = "a & b",
						 .clock = "kernel",
						 .findings = t->scene.found,
						 .timeline = t->timeline,
						 .files = &file,
						 .file_count = 1,
						 .vehicle_sha256 = ""};
	assert_int_equal(nod_report_write(out, &t->session, 1, before), 0);
	fclose(out);
	assert_int_equal(strlen(page), size);
	return page;
}

static void end(struct told *t)
{
	nod_timeline_free(t->timeline);
	scene_end(&t->scene);
}

static size_t count(const char *text, const char *what)
{
	size_t n = 0;

	for (const char *at = text; (at = strstr(at, what)); at += strlen(what))
		n++;
	return n;
}

static void nothing_that_comes_in_is_markup(void **state)
{
	struct told t;

	(void)state;
	begin(&t);
	hold(&t);
	char *page = page_of(&t, NULL);
	assert_int_equal(count(page, "<script"), 1); /* our own */
	assert_int_equal(count(page, "<b>body"), 0);
	assert_int_equal(count(page, "F1\"<i>"), 0);
	assert_int_equal(count(page, "\x1b"), 0);
	assert_int_equal(count(page, "\xFF"), 0);
	assert_true(count(page, "&lt;b&gt;body") > 3);
	free(page);
	end(&t);
}

static void the_answer_comes_first(void **state)
{
	/* clang-format off */
	static const char *const order[] = {
		"kept awake", "Timeline", "In short, for the owner", "What was found",
		"What was done", "How long the battery lasts", "What carries this", "Next step",
		"Take care", "Days until", "What was done",	   "Suspects",	"Networks",  "How it was measured",
		"SHA-256"};
	/* clang-format on */
	struct told t;

	(void)state;
	begin(&t);
	hold(&t);
	char *page = page_of(&t, NULL), *at = strstr(page, "<article");
	for (size_t i = 0; i < sizeof(order) / sizeof(order[0]); i++) {
		char *next = strstr(at, order[i]);
		if (!next)
			fail_msg("%s is missing or too early", order[i]);
		at = next;
	}
	free(page);
	end(&t);
}

static void it_needs_nothing_from_elsewhere(void **state)
{
	static const char *const none[] = {"src=\"", "href=", "@import", "url(h",
					   "<link",  "<img",  "<iframe", "xmlns="};
	struct told t;

	(void)state;
	begin(&t);
	hold(&t);
	char *page = page_of(&t, NULL);
	for (size_t i = 0; i < sizeof(none) / sizeof(none[0]); i++)
		assert_null(strstr(page, none[i]));
	assert_int_equal(count(page, "url("), count(page, "url(#p-"));
	assert_non_null(strstr(page, "default-src 'none'"));
	free(page);
	end(&t);
}

/* 70 Ah down to 60 % at 1.5 A: 28 Ah / 1.5 A = 18.7 h. */
static void days_follow_from_the_current(void **state)
{
	struct told t;
	struct nod_outlook o;

	(void)state;
	begin(&t);
	hold(&t);
	char *page = page_of(&t, NULL);
	nod_outlook_find(&o, t.scene.found, t.timeline);
	assert_true(o.battery.time_known);
	assert_true(o.battery.seconds.rule > 66500 && o.battery.seconds.rule < 67500);
	assert_non_null(strstr(page, "about 18 hours"));
	free(page);
	end(&t);
}

static void before_and_after_stand_side_by_side(void **state)
{
	struct told before, after;
	struct nod_outlook o;

	(void)state;
	begin(&before);
	hold(&before);
	free(page_of(&before, NULL));
	begin(&after);
	mark(&after, 0, NOD_MARK_LOCKED, "");
	for (int i = 1; i < 200; i++)
		frame(&after, 100 * i, 0x100);
	for (int i = 1; i < 3000; i++)
		current(&after, 100 * i, i < 200 ? 1500000 : 20000);
	char *page = page_of(&after, &before.session);
	assert_non_null(strstr(page, "<h2>Before and after</h2>"));
	assert_non_null(strstr(page, "Better"));
	assert_non_null(strstr(page, "<th scope=\"row\">before</th>"));
	assert_non_null(strstr(page, "<th scope=\"row\">after</th>"));
	assert_int_equal(count(page, "<article>"), 2);
	free(page);
	nod_outlook_find(&o, after.scene.found, after.timeline);
	assert_true(o.drain_ua > 19000 &&
		    o.drain_ua < 21000); /* what it took before is not of it */
	end(&after);
	end(&before);
}

/* What only some sessions have: made up here, to see each of them shown. */
static void readings_touches_and_differences_are_shown(void **state)
{
	struct nod_touch_finding touch = {.subject = "<handle>", .bit = 12, .toggles = 3};
	struct nod_difference_finding difference[] = {{.bits = 0x8001},
						      {.period = true,
						       .period_good = nod_milliseconds(100),
						       .period_here = nod_milliseconds(500)},
						      {.appeared = true}};
	struct nod_fuse_finding fuse = {.text = "F1 <2.3 mV>"};
	struct told t;
	char *page;
	size_t size;

	(void)state;
	begin(&t);
	hold(&t);
	free(page_of(&t, NULL));
	struct nod_findings all = *t.scene.found;
	all.touches = &touch;
	all.differences = difference;
	all.fuses = &fuse;
	all.touch_count = all.fuse_count = 1;
	all.difference_count = 3;
	t.session.findings = &all;
	FILE *out = open_memstream(&page, &size);
	assert_int_equal(nod_report_write(out, &t.session, 1, NULL), 0);
	fclose(out);
	assert_non_null(strstr(page, "F1 &lt;2.3 mV&gt;"));
	assert_non_null(strstr(page, "&lt;handle&gt;"));
	assert_non_null(strstr(page, "100 byte 1 bit 4"));
	assert_non_null(strstr(page, "byte 0 bit 0, byte 1 bit 7"));
	assert_non_null(strstr(page, "period 100 ms there, 500 ms here"));
	assert_non_null(strstr(page, "not in the good recording"));
	free(page);
	end(&t);
}

static void an_empty_recording_is_reported(void **state)
{
	struct told t;

	(void)state;
	begin(&t);
	char *page;
	size_t size;
	FILE *out = open_memstream(&page, &size);
	t.scene.found = nod_engine_findings(t.scene.engine);
	t.session = (struct nod_report_session){.title = "",
						.tool = "",
						.clock = "",
						.findings = t.scene.found,
						.timeline = t.timeline,
						.vehicle_sha256 = ""};
	assert_int_equal(nod_report_write(out, &t.session, 1, NULL), 0);
	fclose(out);
	assert_non_null(strstr(page, "</html>"));
	assert_non_null(strstr(page, "cannot tell"));
	free(page);
	end(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(nothing_that_comes_in_is_markup),
		cmocka_unit_test(the_answer_comes_first),
		cmocka_unit_test(it_needs_nothing_from_elsewhere),
		cmocka_unit_test(days_follow_from_the_current),
		cmocka_unit_test(before_and_after_stand_side_by_side),
		cmocka_unit_test(readings_touches_and_differences_are_shown),
		cmocka_unit_test(an_empty_recording_is_reported),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
