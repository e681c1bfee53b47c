/* SPDX-License-Identifier: MIT */
/* A week of a parked car: the verdict, every frame on the disk, memory that does not grow. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock-watch.h"
#include "session.h"
#include "soak.h"
#include "track.h"

/* By so much the memory in use may grow after the first day, bytes: not at all with time
 * or frames, but by how the allocator cuts its pages; by the cells of the battery current
 * (8192), which a car that is rarely awake fills later; and with wake-ups by their awake
 * spans, in an array that doubles. */
#define SLACK (64 * 1024)
#define SLACK_CELLS (256 * 1024)
#define SLACK_WAKE (2 * sizeof(struct nod_span))

/* What live and replayed must agree in. The caller frees it. */
static char *told(const struct nod_findings *f)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	fprintf(out, "%s\n%s\n%zu wake-ups\n", f->sentence, f->next, f->wake_count);
	for (size_t i = 0; i < f->network_count; i++)
		fprintf(out, "%s %zu\n", f->networks[i].reason, f->networks[i].span_count);
	for (size_t i = 0; i < f->suspect_count; i++)
		fprintf(out, "%s %.17g\n", f->suspects[i].name, f->suspects[i].probability);
	assert_int_equal(fclose(out), 0);
	return text;
}

/* The recording must hold every frame, and tell an engine what it told the one that was
 * fed live. */
static struct sum read_again(const char *path, const char *told_live)
{
	struct nod_error err;
	struct nod_session *session = nod_session_open(path, &err);
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *findings;
	const struct nod_event *event;
	struct sum sum = {0};

	assert_non_null(session);
	vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
	assert_non_null(vehicle);
	engine = nod_engine_new(vehicle, nod_session_interfaces(session));
	assert_non_null(engine);
	while (nod_session_next(session, &event, &err) > 0) {
		assert_int_equal(nod_engine_take(engine, event), 0);
		if (event->kind == NOD_EVENT_FRAME)
			add_frame(&sum, &event->frame);
	}
	findings = nod_engine_findings(engine);
	assert_non_null(findings);
	char *told_again = told(findings);
	assert_string_equal(told_live, told_again);
	free(told_again);
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return sum;
}

static void check(struct soak *soak, const char *verdict, const char *culprit)
{
	struct nod_findings *findings = nod_engine_findings(soak->daemon.live.engine);
	char path[PATH_MAX];
	struct sum again;

	assert_non_null(findings);
	print_message("verdict: %s; %s %.3f\n", nod_verdict_name(findings->verdict),
		      findings->suspect_count ? findings->suspects[0].name : "-",
		      findings->suspect_count ? findings->suspects[0].probability : 0.);
	assert_string_equal(nod_verdict_name(findings->verdict), verdict);
	if (culprit) {
		assert_true(findings->suspect_count > 0);
		assert_string_equal(findings->suspects[0].name, culprit);
		assert_true(findings->suspects[0].probability >= 0.9);
	}
	char *told_live = told(findings);
	nod_findings_free(findings);
	int64_t size = soak_end_record(soak, path);
	again = read_again(path, told_live);
	free(told_live);
	print_message("%llu frames in %lld s of the car, %u wake-ups after a day; %u views; "
		      "memory in use %zu KiB after a day, %zu KiB at most; session %lld KiB\n",
		      (unsigned long long)soak->fed.frames, (long long)(LENGTH / NOD_NS_PER_S),
		      soak->wakes, soak->views, soak->day_one / 1024, soak->peak / 1024,
		      (long long)size / 1024);
	assert_int_equal(again.frames, soak->fed.frames);
	assert_true(again.digest == soak->fed.digest);
	if (!SANITIZED)
		assert_true(soak->peak <=
			    soak->day_one + SLACK + SLACK_CELLS + soak->wakes * SLACK_WAKE);
}

/* A module wakes the network about every minute, but not before `begins`. */
static void wake_from(int64_t begins)
{
	struct nod_generator_options options = {.small = true, .frames = 2200};
	struct nod_generator *generator = nod_generator_open("repeated-waker", 3, &options, NULL);
	static struct soak soak;
	const struct nod_event *event;
	char culprit[64];

	memset(&soak, 0, sizeof(soak));
	assert_non_null(generator);
	soak_begin(&soak, generator, nod_generator_now(generator).ns - NOD_NS_PER_S);
	nod_generator_extend(generator, (nod_duration){LENGTH});
	while (nod_generator_next(generator, &event) && event->time.ns < soak.end) {
		int64_t since = event->time.ns - soak.start;
		if (since < HOUR || since >= begins)
			soak_take(&soak, event);
	}
	soak_go_on(&soak, soak.end);
	snprintf(culprit, sizeof(culprit), "%s", nod_generator_truth(generator)->culprits[0]);
	nod_generator_close(generator);
	check(&soak, "woken again", culprit);
	soak_finish(&soak);
}

static void names_who_wakes_the_network_all_week(void **state)
{
	(void)state;
	wake_from(0);
}

static void names_who_began_to_wake_it_on_day_five(void **state)
{
	(void)state;
	wake_from(LENGTH * 4 / 7);
}

/* Somebody opens a healthy car every six hours and locks it again. */
static void a_healthy_car_sleeps_in_time_all_week(void **state)
{
	static struct soak soak;
	struct nod_generator_options options = {.small = true, .frames = 2200};
	const struct nod_event *event;
	int64_t shift = 0;

	(void)state;
	memset(&soak, 0, sizeof(soak));
	for (options.session = 0; options.session * 6 * HOUR < LENGTH - HOUR; options.session++) {
		struct nod_generator *generator = nod_generator_open("healthy", 5, &options, NULL);
		assert_non_null(generator);
		if (!options.session)
			soak_begin(&soak, generator,
				   nod_generator_now(generator).ns - NOD_NS_PER_S);
		shift = soak.start + NOD_NS_PER_S + options.session * 6 * HOUR -
			nod_generator_now(generator).ns;
		while (nod_generator_next(generator, &event)) {
			struct nod_event later = *event;
			if (!nod_time_is_set(later.time))
				continue;
			later.time.ns += shift;
			later.time = nod_clock_to_microseconds(later.time);
			later.frame.time = later.kind == NOD_EVENT_FRAME ? later.time
									 : later.frame.time;
			soak_take(&soak, &later);
		}
		nod_generator_close(generator);
	}
	soak_go_on(&soak, soak.end);
	check(&soak, "sleeps in time", NULL);
	soak_finish(&soak);
}

/* One case each run, by its name, so that two run at once. */
int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(names_who_wakes_the_network_all_week),
		cmocka_unit_test(names_who_began_to_wake_it_on_day_five),
		cmocka_unit_test(a_healthy_car_sleeps_in_time_all_week),
	};

	if (argc > 1)
		cmocka_set_test_filter(argv[1]);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
