/* SPDX-License-Identifier: MIT */
/* The timeline: bins that double, extremes that stay, senders in their order. */
#include "scene.h"
#include "timeline.h"
#include "timeline-text.h"

static const char car[] = "vehicle: invented\n"
			  "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n"
			  "modules:\n"
			  "  roof unit: { networks: [body], ids: [100] }\n"
			  "  boot unit: { networks: [body], ids: [200] }\n";

struct world {
	struct nod_interfaces interfaces;
	struct nod_timeline *timeline;
};

static void begin(struct world *w)
{
	memset(w, 0, sizeof(*w));
	assert_int_equal(nod_interfaces_index(&w->interfaces, "can0", 4), 0);
	w->timeline = nod_timeline_new(&w->interfaces);
	assert_non_null(w->timeline);
}

static void send(struct world *w, int64_t ms, uint32_t id, uint8_t byte)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};

	e.frame.time = e.time;
	e.frame.id = id;
	e.frame.length = 1;
	e.frame.data[0] = byte;
	assert_int_equal(nod_timeline_take(w->timeline, &e, (nod_duration){0}), 0);
}

static void sample(struct world *w, int64_t ms, int64_t ua)
{
	struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {ms * NOD_NS_PER_MS}};

	e.current.microamps = ua;
	assert_int_equal(nod_timeline_take(w->timeline, &e, (nod_duration){0}), 0);
}

static uint64_t sum(const struct nod_timeline_row *row)
{
	uint64_t all = 0;

	for (size_t i = 0; i < NOD_TIMELINE_BINS; i++)
		all += row->frames[i];
	return all;
}

static void a_minute_is_kept_by_tenths(void **state)
{
	struct world w;

	(void)state;
	begin(&w);
	for (int i = 0; i < 600; i++)
		send(&w, 100 * i, 0x100, 1);
	assert_int_equal(nod_timeline_bin(w.timeline).ns, 100 * NOD_NS_PER_MS);
	assert_int_equal(nod_timeline_bins(w.timeline), 600);
	assert_int_equal(nod_timeline_row_count(w.timeline), 1);
	for (int i = 0; i < 600; i++)
		assert_int_equal(nod_timeline_row(w.timeline, 0)->frames[i], 1);
	nod_timeline_free(w.timeline);
}

/* Three days: no frame is lost to the bins, and one spike of one sample is still the
 * highest and one dip the lowest. */
static void three_days_keep_their_extremes(void **state)
{
	const int64_t day = 86400000;
	struct world w;
	int64_t high = INT64_MIN, low = INT64_MAX;
	uint64_t samples = 0;

	(void)state;
	begin(&w);
	for (int64_t ms = 0; ms < 3 * day; ms += 10000) {
		if (ms == day)
			send(&w, ms, 0x7FF, 1);
		send(&w, ms, 0x100, 1);
		sample(&w, ms, ms == 2 * day ? 31000000 : ms == day + 50000 ? -7000 : 20000);
	}
	assert_true(nod_timeline_bins(w.timeline) > NOD_TIMELINE_BINS / 2);
	assert_true(nod_timeline_bins(w.timeline) <= NOD_TIMELINE_BINS);
	assert_int_equal(sum(nod_timeline_row(w.timeline, 0)), 25920);
	assert_int_equal(sum(nod_timeline_row(w.timeline, 1)), 1);
	const struct nod_timeline_current *c = nod_timeline_currents(w.timeline);
	for (size_t i = 0; i < nod_timeline_bins(w.timeline); i++) {
		samples += c[i].count;
		high = c[i].count && c[i].high > high ? c[i].high : high;
		low = c[i].count && c[i].low < low ? c[i].low : low;
	}
	assert_int_equal(samples, 25920);
	assert_int_equal(high, 31000000);
	assert_int_equal(low, -7000);
	/* The lone frame is in the bin of its time. */
	size_t bin = (size_t)(day * NOD_NS_PER_MS / nod_timeline_bin(w.timeline).ns);
	assert_int_equal(nod_timeline_row(w.timeline, 1)->frames[bin], 1);
	nod_timeline_free(w.timeline);
}

/* Times from a broken file: no overflow, no endless loop. */
static void absurd_times_are_taken(void **state)
{
	struct world w;

	(void)state;
	begin(&w);
	send(&w, 0, 0x100, 1);
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {INT64_MAX}};
	e.frame.id = 0x100;
	assert_int_equal(nod_timeline_take(w.timeline, &e, nod_seconds(5)), 0);
	e.time.ns = INT64_MIN + 1;
	assert_int_equal(nod_timeline_take(w.timeline, &e, nod_seconds(-5)), 0);
	assert_int_equal(sum(nod_timeline_row(w.timeline, 0)), 3);
	size_t bins = nod_timeline_bins(w.timeline);
	nod_time begin_of_last = nod_timeline_bin_begin(w.timeline, bins - 1);
	assert_true(begin_of_last.ns > nod_timeline_origin(w.timeline).ns);
	assert_true(nod_timeline_bin_begin(w.timeline, bins).ns >= begin_of_last.ns);
	assert_int_equal(nod_timeline_bin_begin(w.timeline, NOD_TIMELINE_BINS * 2).ns, INT64_MAX);
	nod_timeline_free(w.timeline);
}

static void more_ids_than_rows_are_counted(void **state)
{
	struct world w;

	(void)state;
	begin(&w);
	for (uint32_t i = 0; i < NOD_TIMELINE_ROWS + 10; i++)
		send(&w, i, NOD_ID_EXTENDED | i, 1);
	assert_int_equal(nod_timeline_row_count(w.timeline), NOD_TIMELINE_ROWS);
	assert_int_equal(nod_timeline_unshown(w.timeline), 10);
	nod_timeline_free(w.timeline);
}

static void bits_count_from_the_lock(void **state)
{
	struct world w;
	struct nod_event lock = {.kind = NOD_EVENT_MARK, .time = {NOD_NS_PER_S}};

	(void)state;
	begin(&w);
	send(&w, 0, 0x100, 0xFF);
	lock.mark = (struct nod_mark){lock.time, NOD_MARK_LOCKED, ""};
	assert_int_equal(nod_timeline_take(w.timeline, &lock, (nod_duration){0}), 0);
	send(&w, 2000, 0x100, 0x01);
	send(&w, 3000, 0x100, 0x03);
	const struct nod_timeline_row *row = nod_timeline_row(w.timeline, 0);
	assert_int_equal(row->ones, 0x03);
	assert_int_equal(row->zeros, 0xFE);
	nod_timeline_free(w.timeline);
}

static void gaps_and_losses_are_kept(void **state)
{
	struct world w;
	struct nod_event gap = {.kind = NOD_EVENT_MARK,
				.time = nod_time_after((nod_time){0}, nod_seconds(20))};
	struct nod_event loss = {.kind = NOD_EVENT_LOSS, .time = {30 * NOD_NS_PER_S}};

	(void)state;
	begin(&w);
	send(&w, 0, 0x100, 1);
	gap.mark = (struct nod_mark){gap.time, NOD_MARK_GAP, "can0 5 s"};
	assert_int_equal(nod_timeline_take(w.timeline, &gap, (nod_duration){0}), 0);
	assert_int_equal(nod_timeline_take(w.timeline, &loss, (nod_duration){0}), 0);
	assert_int_equal(nod_timeline_gap_count(w.timeline), 1);
	assert_int_equal(nod_timeline_gap(w.timeline, 0)->from.ns, 15 * NOD_NS_PER_S);
	assert_int_equal(nod_timeline_gap(w.timeline, 0)->to.ns, 20 * NOD_NS_PER_S);
	assert_int_equal(nod_timeline_losses(w.timeline)[300], 1);
	nod_timeline_free(w.timeline);
}

/* The same events into an engine and a timeline. */
static void both(struct scene *s, struct nod_timeline *t, int64_t ms, const char *text)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};

	frame_at(s, ms, 0, text);
	e.frame.time = e.time;
	assert_int_equal(nod_id_parse(&e.frame.id, text, 3), 0);
	assert_int_equal(nod_timeline_take(t, &e, nod_engine_clock_shift(s->engine)), 0);
}

static struct nod_timeline *held(struct scene *s)
{
	scene_begin(s, car);
	struct nod_timeline *t = nod_timeline_new(&s->interfaces);
	assert_non_null(t);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int i = 1; i < 1200; i++) {
		both(s, t, 100 * i, "100#11");
		if (i < 300)
			both(s, t, 100 * i + 1, "200#22");
	}
	found_at(s, 120000);
	return t;
}

static void senders_are_ranked_and_added_up(void **state)
{
	struct scene s;
	struct nod_timeline *t = held(&s);
	uint64_t counts[NOD_TIMELINE_BINS] = {0}, all = 0;
	int senders[4];

	(void)state;
	assert_int_equal(nod_timeline_senders(s.found, senders, 4), 2);
	assert_string_equal(s.found->senders[senders[0]].name, "roof unit");
	nod_timeline_add_sender(t, s.found, senders[1], counts);
	for (size_t i = 0; i < NOD_TIMELINE_BINS; i++)
		all += counts[i];
	assert_int_equal(all, 299);
	nod_timeline_free(t);
	scene_end(&s);
}

static char *drawn(struct scene *s, struct nod_timeline *t, int columns, bool ascii)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_int_equal(
		nod_timeline_print(out, s->found, t, (struct nod_timeline_style){columns, ascii}),
		0);
	fclose(out);
	return text;
}

static void text_shows_late_in_its_place(void **state)
{
	struct scene s;
	struct nod_timeline *t = held(&s);
	char *text = drawn(&s, t, 60, true);

	(void)state;
	/* 40 columns of 3 s: 20 in time, then late; the boot unit stops after ten. */
	assert_non_null(
		strstr(text, "\nbody                ====================####################\n"));
	assert_non_null(strstr(text, "\nboot unit           88"));
	assert_null(strstr(text, "\nboot unit           88888888888"));
	for (const char *c = text; *c; c++)
		assert_true((unsigned char)*c < 0x80);
	free(text);
	nod_timeline_free(t);
	scene_end(&s);
}

static void an_empty_session_is_drawn(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, car);
	struct nod_timeline *t = nod_timeline_new(&s.interfaces);
	s.found = nod_engine_findings(s.engine);
	assert_non_null(s.found);
	char *text = drawn(&s, t, 80, false);
	assert_memory_equal(text, s.found->sentence, 20);
	assert_non_null(strstr(text, "\nbody                nothing heard"));
	free(text);
	nod_timeline_free(t);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_minute_is_kept_by_tenths),
		cmocka_unit_test(three_days_keep_their_extremes),
		cmocka_unit_test(absurd_times_are_taken),
		cmocka_unit_test(more_ids_than_rows_are_counted),
		cmocka_unit_test(bits_count_from_the_lock),
		cmocka_unit_test(gaps_and_losses_are_kept),
		cmocka_unit_test(senders_are_ranked_and_added_up),
		cmocka_unit_test(text_shows_late_in_its_place),
		cmocka_unit_test(an_empty_session_is_drawn),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
