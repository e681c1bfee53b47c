/* SPDX-License-Identifier: MIT */
/* The clock is set, the machine suspended, or the adapter pulled out while frames arrive: at
 * any moment between two looks of the pump and within one. What is told live must be told by the
 * recording, and be what happened. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "answer-json.h"
#include "clock-watch.h"
#include "mishap.h"
#include "session.h"
#include "view.h"

/* One minute awake, twenty seconds asleep. */
#define AWAKE (60 * S)
#define END (80 * S)

/* A mark with all that a terminal would act on, as a client makes it. */
static void mark_over_the_socket(struct run *run)
{
	static const char request[] = "{\"do\":\"mark\",\"kind\":\"note\",\"subject\":"
				      "\" a\\tb\\u001b[31m\\nc\\u009b2J \\u007f #cut-off\"}\n";
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	strcpy(address.sun_path, run->socket);
	assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	assert_int_equal(write(fd, request, sizeof(request) - 1), sizeof(request) - 1);
	for (int i = 0; i < 4; i++)
		ev_run(run->daemon.loop, EVRUN_NOWAIT);
	close(fd);
}

static char *told(const struct nod_findings *f)
{
	json_t *json = nod_answer_json(f);
	char *text = json_dumps(json, JSON_INDENT(1));

	json_decref(json);
	assert_non_null(text);
	return text;
}

static char *told_again(const char *path)
{
	struct nod_error err;
	struct nod_session *session = nod_session_open(path, &err);
	const struct nod_event *event;
	int status;

	assert_non_null(session);
	struct nod_engine *engine = nod_engine_new(NULL, nod_session_interfaces(session));
	assert_non_null(engine);
	while ((status = nod_session_next(session, &event, &err)) > 0)
		assert_int_equal(nod_engine_take(engine, event), 0);
	assert_int_equal(status, 0);
	struct nod_findings *f = nod_engine_findings(engine);
	char *text = told(f);
	nod_findings_free(f);
	nod_engine_free(engine);
	nod_session_close(session);
	return text;
}

static void show_difference(const char *live, const char *again)
{
	while (*live == *again) {
		live++;
		again++;
	}
	print_message("live:     %.200s\nreplayed: %.200s\n", live, again);
}

/* The live view reckons by the clock of now. */
static void check_view(struct run *run)
{
	json_t *view = nod_view_make(&run->daemon);
	int64_t now = json_integer_value(json_object_get(view, "now_ns")),
		lock = json_integer_value(json_object_get(view, "lock_ns"));

	assert_in_range(now - lock, END + kernel.suspended - LOCKED - 300 * MS,
			END + kernel.suspended - LOCKED + 300 * MS);
	json_decref(view);
}

/* Plays it with the jumps. Returns what was found live; *steps is how many were told. */
static struct nod_findings *play(int64_t period, const struct jump *jumps, size_t count,
				 unsigned *steps)
{
	struct run *run = calloc(1, sizeof(*run));
	char path[PATH_MAX];
	struct nod_error err;

	memset(&kernel, 0, sizeof(kernel));
	kernel.period = period;
	kernel.next = period + 7;
	kernel.last = AWAKE;
	memcpy(kernel.jumps, jumps, count * sizeof(*jumps));
	mishap_begin(run);
	mishap_go_on(run, END);
	mark_over_the_socket(run);
	mishap_mark(run, NOD_MARK_NOTE, "the end");
	assert_int_equal(kernel.jumped, count);
	strcpy(path, run->daemon.live.directory);
	nod_pump_flush(run->daemon.pump);
	check_view(run);
	assert_int_equal(nod_live_finish(&run->daemon.live,
					 nod_clock_to_microseconds(nod_clock_now()), &err),
			 0);
	struct nod_findings *f = nod_engine_findings(run->daemon.live.engine);
	char *live = told(f), *again = told_again(path);
	if (strcmp(live, again))
		show_difference(live, again);
	assert_string_equal(live, again);
	*steps = (unsigned)f->clock_steps;
	free(live);
	free(again);
	mishap_finish(run);
	return f;
}

/* One span of a minute, whatever the clock did. */
static void check(int64_t period, const struct jump *jumps, size_t count)
{
	unsigned steps;
	struct nod_findings *f = play(period, jumps, count, &steps);

	assert_int_equal(steps, count);
	assert_int_equal(f->network_count, 1);
	assert_int_equal(f->networks[0].span_count, 1);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	/* the clocks were read within microseconds */
	nod_duration length = nod_time_since(f->networks[0].spans[0].to,
					     f->networks[0].spans[0].from);
	assert_in_range(length.ns, AWAKE - 3 * period - MS, AWAKE + MS);
	nod_findings_free(f);
}

static const int64_t steps[] = {3600 * S, -3600 * S, 24 * 3600 * S, 2 * S,
				-2 * S,   200 * MS,  -200 * MS};

/* Every two milliseconds of a tick. */
static void set_between_two_looks(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++)
		for (int64_t ms = 0; ms < 20; ms += 2) {
			struct jump jump = {30 * S + ms * MS + 1, steps[i], 0, 0};
			check(10 * MS, &jump, 1);
			check(MS, &jump, 1);
		}
}

/* Between any two of the calls that a look makes, reading included. */
static void set_within_a_look(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++)
		for (int calls = 1; calls < 14; calls++) {
			struct jump jump = {30 * S - 1, steps[i], 0, calls};
			check(MS, &jump, 1);
		}
}

static void set_again_and_again(void **state)
{
	struct jump three[] = {{20 * S + 3 * MS, 3600 * S, 0, 0},
			       {30 * S + 11 * MS, 3600 * S, 0, 0},
			       {40 * S + 17 * MS, 3600 * S, 0, 0}};
	struct jump there_and_back[] = {{20 * S + 3 * MS, 3600 * S, 0, 0},
					{30 * S + 11 * MS, -3600 * S, 0, 0},
					{30500 * MS, -60 * S, 0, 0},
					{50 * S, 7 * S, 0, 0}};

	(void)state;
	check(10 * MS, three, 3);
	check(MS, there_and_back, 4);
}

/* Nobody listened: silence in between is not sleep, and the first frame afterwards is not
 * before the mark that says so. */
static void suspended(void **state)
{
	(void)state;
	for (int64_t ms = 0; ms < 20; ms += 2) {
		struct jump jump = {30 * S + ms * MS + 1, ms % 4 ? 0 : -3 * S, 600 * S, 0};
		unsigned told_steps;
		struct nod_findings *f = play(10 * MS, &jump, 1, &told_steps);
		assert_int_equal(told_steps, ms % 4 ? 0 : 1);
		assert_int_equal(f->gaps, 1);
		assert_int_equal(f->wake_count, 0);
		nod_findings_free(f);
	}
}

/* What the view says of the network, and whether a recording that ends now says it, too. */
static void check_unheard(struct run *run)
{
	static const char by_the_wall[] = "Nobody has listened to can0 since 22:13:50";
	static const char since[] = "Nobody has listened to can0 since lock+29.8";

	json_t *view = nod_view_make(&run->daemon);
	json_t *network = json_array_get(json_object_get(view, "networks"), 0);

	assert_string_equal(json_string_value(json_object_get(network, "state")), "unknown");
	assert_true(json_is_false(json_object_get(network, "listening")));
	assert_string_equal(json_string_value(json_object_get(view, "verdict")), "cannot tell");
	assert_non_null(strstr(json_string_value(json_object_get(view, "sentence")), by_the_wall));
	json_decref(view);
	char *again = told_again(run->daemon.live.directory);
	assert_non_null(strstr(again, since));
	assert_non_null(strstr(again, "\"verdict\": \"cannot tell\""));
	free(again);
}

/* Pulled out of a car that talks: never asleep, on the disk at once, no wake-up afterwards. */
static void pulled_out(void **state)
{
	struct run *run = calloc(1, sizeof(*run));

	(void)state;
	memset(&kernel, 0, sizeof(kernel));
	kernel.period = 10 * MS;
	kernel.next = kernel.period;
	kernel.last = 30 * S + 5 * MS;
	mishap_begin(run);
	mishap_go_on(run, kernel.last);
	mishap_plug(false);
	mishap_go_on(run, 30 * S + 200 * MS);
	check_unheard(run);
	for (int64_t second = 31; second < 200; second += 3) {
		mishap_go_on(run, second * S);
		check_unheard(run);
	}
	kernel.next = 200 * S + kernel.period;
	kernel.last = 210 * S;
	mishap_go_on(run, 200 * S);
	mishap_plug(true);
	mishap_go_on(run, 220 * S);
	struct nod_findings *f = nod_engine_findings(run->daemon.live.engine);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->gaps, 1);
	nod_findings_free(f);
	mishap_finish(run);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(set_between_two_looks),
		cmocka_unit_test(set_within_a_look),
		cmocka_unit_test(set_again_and_again),
		cmocka_unit_test(suspended),
		cmocka_unit_test(pulled_out),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
