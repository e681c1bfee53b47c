/* What is summed up must not change the answer: the same events go to an engine
 * that keeps few awake spans and to one that keeps all of them. */
#include "scene.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "current-join.h"
#include "engine-internal.h"
#include "span-sums.h"

#define SECOND INT64_C(1000)
#define MIN (60 * SECOND)
#define ALL 100000

static const char car[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 2 s,\n"
	"          management: { scheme: autosar, ids: 500-53F, node byte: 0, control byte: 1 } }\n"
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s,\n"
	"           management: { scheme: none } }\n"
	"  comfort: { interfaces: [can2], bitrate: 125000, sleeps within: 5 min, quiet time: 2 s,\n"
	"             management: { scheme: none } }\n"
	"fuses:\n"
	"  F1: { family: mini, rating: 10 A, box: cabin }\n"
	"  F2: { family: mini, rating: 15 A, box: cabin }\n"
	"modules:\n"
	"  door unit: { networks: [body], ids: [300, 301], node: 10, fuses: [F1] }\n"
	"  seat unit: { networks: [body], ids: [200], node: 11, fuses: [F2] }\n"
	"  engine unit: { networks: [drive], ids: [100], fuses: [F2] }\n"
	"  roof unit: { networks: [comfort], ids: [400], fuses: [F1] }\n"
	"  gateway unit: { networks: [body, drive, comfort], ids: [7A0], gateway: yes }\n";

struct world {
	struct scene few, all;
	uint64_t random;
	int64_t now;
	int64_t next_wake;
	bool lossy, marked, relocked, regular;
};

static unsigned chance(struct world *w, unsigned of)
{
	w->random = w->random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return (unsigned)(w->random >> 33) % of;
}

static void frame(struct world *w, int interface, const char *text)
{
	frame_at(&w->few, w->now, interface, text);
	frame_at(&w->all, w->now, interface, text);
}

static void mark(struct world *w, enum nod_mark_kind kind, const char *subject)
{
	mark_at(&w->few, w->now, kind, subject);
	mark_at(&w->all, w->now, kind, subject);
}

/* The networks awake together, each from its own moment on. */
static void awake(struct world *w, unsigned networks, unsigned first, int64_t length)
{
	static const char *const text[3][3] = {{"300#00", "200#00", "7A0#00"},
					       {"100#00", "7A0#00", "100#01"},
					       {"400#00", "7A0#00", "400#01"}};
	int64_t begin = w->now, end = w->now + length, late[3] = {0};
	unsigned turn = 0;

	for (int n = 0; n < 3; n++) /* the gateway takes a moment, sometimes a long one */
		late[n] = w->regular ? (unsigned)n : chance(w, 3) ? chance(w, 2) * 3 : chance(w, 7000);
	do {
		for (int n = 0; n < 3; n++)
			if (networks & 1U << n && w->now >= begin + late[n])
				frame(w, n, text[n][(first + turn) % 3]);
		if (networks & 1 && w->now >= begin + late[0])
			frame(w, 0, chance(w, 3) ? "510#1010" : "511#1100");
		w->now += turn++ ? 300 + chance(w, 400) : 3;
	} while (w->now < end);
}

static void isolate(struct world *w)
{
	awake(w, 7, chance(w, 3), chance(w, 2) * 3 * MIN);
	w->now += chance(w, 2) * 5 * MIN;
	mark(w, NOD_MARK_ISOLATED, chance(w, 2) ? "F1" : "F2");
	w->now++;
	awake(w, 7, chance(w, 3), chance(w, 90) * SECOND);
	w->now += chance(w, 30) * MIN;
	if (!chance(w, 3))
		return;
	mark(w, NOD_MARK_REFITTED, "");
	w->now += SECOND;
	awake(w, 7, chance(w, 3), chance(w, 10) * MIN + 20 * SECOND);
}

static void trouble(struct world *w)
{
	if (w->lossy && !chance(w, 40)) {
		int interface = (int)chance(w, 3);
		loss_at(&w->few, w->now, interface);
		loss_at(&w->all, w->now, interface);
		w->now += SECOND;
	}
	if (w->marked && !chance(w, 60))
		mark(w, chance(w, 2) ? NOD_MARK_DOOR : NOD_MARK_TOUCHED, "left door");
	if (w->marked && !chance(w, 150))
		isolate(w);
	if (w->relocked && !chance(w, 500)) {
		mark(w, NOD_MARK_UNLOCKED, "");
		awake(w, 7, 0, 2 * MIN);
		mark(w, NOD_MARK_LOCKED, "");
	}
	if (!w->regular && !chance(w, 400))
		awake(w, 1U << chance(w, 3), chance(w, 3), 12 * MIN); /* past the deadline */
}

/* Some other sender is first: mostly one, in some worlds. */
static unsigned first_speaker(struct world *w)
{
	return w->regular ? !chance(w, 200) : chance(w, 3);
}

/* Several in short order, and then somebody notes why. */
static void volley(struct world *w)
{
	for (int i = 0; i < 4; i++, w->now += 3100)
		awake(w, 1, chance(w, 3), 200);
	mark(w, NOD_MARK_DOOR, "boot");
}

static void wake(struct world *w)
{
	unsigned networks = chance(w, 4) ? 1U << chance(w, 2) : 1 + chance(w, 7);

	if (w->regular)
		w->now = w->next_wake > w->now ? w->next_wake : w->now;
	w->next_wake = w->now + 90 * SECOND;
	awake(w, w->regular ? 1 : networks, first_speaker(w), 400 + chance(w, 8000));
	if (w->marked && !chance(w, 30)) { /* noted afterwards */
		w->now += chance(w, 30) * SECOND;
		mark(w, NOD_MARK_DOOR, "right");
	}
	if (w->marked && !chance(w, 10))
		volley(w);
}

static void begin(struct world *w, unsigned seed)
{
	memset(w, 0, sizeof(*w));
	w->random = seed;
	scene_begin(&w->few, car);
	scene_begin(&w->all, car);
	nod_engine_keep_spans(w->few.engine, 16, seed % 3 * 4); /* the answer tells the first */
	nod_engine_keep_spans(w->all.engine, ALL, ALL);
	w->lossy = seed & 1;
	w->marked = seed & 2;
	w->relocked = seed & 4;
	w->regular = seed >= 16;
	mark(w, NOD_MARK_LOCKED, "");
	awake(w, 7, 0, MIN);
}

static void end(struct world *w)
{
	scene_end(&w->few);
	scene_end(&w->all);
}

/* Removes what is said of single spans, and of there being sums. */
static char *judgement(const struct nod_findings *f)
{
	json_t *answer = nod_answer_json(f), *network;
	json_t *doubts = json_object_get(answer, "doubts");
	size_t i;
	char *text;

	json_array_foreach(json_object_get(answer, "networks"), i, network) {
		json_object_del(network, "spans");
		json_object_del(network, "spans_summed");
	}
	for (i = json_array_size(doubts); i-- > 0;)
		if (strstr(json_string_value(json_array_get(doubts, i)), "but judged and summed up"))
			json_array_remove(doubts, i);
	json_object_del(answer, "wakes");
	json_object_del(answer, "wakes_summed");
	json_object_del(answer, "wakers_summed");
	text = json_dumps(answer, NOD_JSON_FLAGS);
	json_decref(answer);
	return text;
}

static void same_proof(const struct nod_findings *few, const struct nod_findings *all, size_t n)
{
	struct nod_arena arena = {0};
	const char *why_few, *why_all;
	nod_duration few_needed = nod_proof_needed(&arena, few, &few->networks[n], &why_few);
	nod_duration all_needed = nod_proof_needed(&arena, all, &all->networks[n], &why_all);

	assert_int_equal(few_needed.ns, all_needed.ns);
	assert_string_equal(why_few, why_all);
	for (int fault = 0; fault < NOD_VERDICTS; fault++)
		assert_int_equal(
			nod_proof_slept(few, &few->networks[n], (enum nod_verdict)fault).ns,
			nod_proof_slept(all, &all->networks[n], (enum nod_verdict)fault).ns);
	nod_arena_free(&arena);
}

static void same_answer(struct world *w, int64_t at)
{
	const struct nod_findings *few = found_at(&w->few, at), *all = found_at(&w->all, at);
	char *judged_few = judgement(few), *judged_all = judgement(all);

	assert_string_equal(judged_few, judged_all);
	assert_int_equal(few->wake_count + few->wakes_summed, all->wake_count);
	for (size_t n = 0; n < few->network_count; n++) {
		const struct nod_network_finding *x = &few->networks[n], *y = &all->networks[n];
		assert_int_equal(x->span_count + x->spans_summed, y->span_count);
		assert_int_equal(y->spans_summed, 0);
		assert_int_equal(x->asleep_known.ns, y->asleep_known.ns);
		assert_int_equal(x->first_slept_at.ns, y->first_slept_at.ns);
		same_proof(few, all, n);
	}
	free(judged_few);
	free(judged_all);
}

static void test_any_week_gets_the_same_answer_with_few_spans_kept(void **state)
{
	(void)state;
	for (unsigned seed = 0; seed < 24; seed++) {
		struct world w;
		size_t summed = 0;
		begin(&w, seed);
		for (int i = 0; i < 700; i++) {
			w.now += 20 * SECOND + chance(&w, w.regular ? 10 : 90) * SECOND;
			trouble(&w);
			wake(&w);
			if (i % 233 == 232)
				same_answer(&w, w.now);
		}
		same_answer(&w, w.now + 2 * MIN);
		for (size_t n = 0; n < 3; n++)
			summed += w.few.found->networks[n].spans_summed;
		assert_true(summed > 200);
		end(&w);
	}
}

/* Who is first by a hair is so less clearly; the sums tell the two apart. */
static void test_how_clearly_one_was_first_is_counted(void **state)
{
	(void)state;
	struct scene s;
	struct nod_ident_wakes sum;

	scene_begin(&s, car);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t i = 1; i <= 1000; i++) {
		frame_at(&s, i * MIN, 0, "300#00");
		if (i % 4)
			frame_at(&s, i * MIN + (i % 4 > 1 ? 1 : 50), 0, "200#00");
	}
	found_at(&s, 1001 * MIN);
	sum = nod_span_sums_ident(&s.engine->sums, 0, 0);
	assert_true(sum.first_of > 300);
	assert_in_range(sum.only_of, sum.first_of / 4 - 1, sum.first_of / 4 + 1);
	assert_in_range(sum.clear, sum.first_of / 2 - 1, sum.first_of / 2 + 1);
	assert_in_range(sum.lead_ns, (sum.first_of / 4 - 1) * 52 * NOD_NS_PER_MS,
			(sum.first_of / 4 + 1) * 52 * NOD_NS_PER_MS);
	scene_end(&s);
}

/* Seven hundred wake-ups of 20 s in ten hours, at 1 A; else 20 mA flow. */
static const struct nod_findings *measured(struct scene *s, size_t first, size_t last)
{
	scene_begin(s, car);
	nod_engine_keep_spans(s->engine, first, last);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int64_t t = 0; t < 700 * 50 * SECOND; t += SECOND) {
		bool on = t % (50 * SECOND) < 20 * SECOND;
		struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {t * NOD_NS_PER_MS}};
		e.current.microamps = (on ? 1000000 : 20000) + t / SECOND % 3 * 300;
		scene_take(s, &e);
		if (on)
			frame_at(s, t, 1, "100#00");
	}
	return found_at(s, 700 * 50 * SECOND);
}

/* What flows while only sums are known is still explained; the steps of the current
 * are only looked at where the spans are kept. */
static void test_the_current_of_summed_wakeups_is_explained(void **state)
{
	(void)state;
	struct scene few, all;
	const struct nod_current_join *x = measured(&few, 128, 256)->join;
	const struct nod_current_join *y = measured(&all, ALL, ALL)->join;

	assert_true(few.found->networks[1].spans_summed > 200);
	assert_true(x->explained_all && y->explained_all);
	assert_true(x->charge_uah == y->charge_uah);
	assert_in_range(x->networks[1].awake.ns, y->networks[1].awake.ns - 700 * NOD_NS_PER_MS,
			y->networks[1].awake.ns + 700 * NOD_NS_PER_MS);
	assert_true(fabs(x->explained_uah / y->explained_uah - 1) < 0.02);
	assert_true(fabs(x->networks[1].ua - y->networks[1].ua) <= x->networks[1].uncertainty_ua);
	scene_end(&few);
	scene_end(&all);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_current_of_summed_wakeups_is_explained),
		cmocka_unit_test(test_how_clearly_one_was_first_is_counted),
		cmocka_unit_test(test_any_week_gets_the_same_answer_with_few_spans_kept),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
