/* SPDX-License-Identifier: MIT */
/* Every shipped session judged frame by frame, each looked at with all care, and frames by
 * the hundred: the same answer, byte for byte. */
#include <dirent.h>
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "answer-json.h"
#include "engine-internal.h"
#include "session.h"

static void feed(struct nod_session *session, struct nod_engine *engine, size_t *by_the_hundred)
{
	const struct nod_event *event;
	const struct nod_frame *frames;
	struct nod_error err = {""};
	size_t count;
	int status;

	while ((status = nod_session_next(session, &event, &err)) > 0) {
		if (!by_the_hundred && event->kind == NOD_EVENT_FRAME)
			assert_int_not_equal(nod_engine_take_any(engine, &event->frame), -ENOMEM);
		else
			assert_int_not_equal(nod_engine_take(engine, event), -ENOMEM);
		if (!by_the_hundred || event->kind != NOD_EVENT_FRAME)
			continue;
		while ((count = nod_session_frames(session, &frames)) > 0) {
			*by_the_hundred += count;
			assert_int_equal(nod_engine_take_frames(engine, frames, count), 0);
		}
	}
	assert_int_equal(status, 0);
}

static char *judge(const char *path, size_t *by_the_hundred)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);
	struct nod_vehicle *vehicle = NULL;

	if (!session)
		fail_msg("%s", err.text);
	if (nod_session_vehicle(session)) {
		vehicle = nod_vehicle_load(nod_session_vehicle(session), &err);
		assert_non_null(vehicle);
	}
	struct nod_engine *engine = nod_engine_new(vehicle, nod_session_interfaces(session));
	assert_non_null(engine);
	feed(session, engine, by_the_hundred);
	struct nod_findings *findings = nod_engine_findings(engine);
	assert_non_null(findings);
	json_t *json = nod_answer_json(findings);
	assert_non_null(json);
	char *text = json_dumps(json, JSON_INDENT(1));
	json_decref(json);
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_session_close(session);
	return text;
}

static void test_same_answer_either_way(void **state)
{
	DIR *directory = opendir(CAPTURES_DIR);
	const struct dirent *entry;
	size_t sessions = 0, taken = 0;
	char path[600];

	(void)state;
	assert_non_null(directory);
	while ((entry = readdir(directory))) {
		snprintf(path, sizeof(path), CAPTURES_DIR "/%s/expect.txt", entry->d_name);
		FILE *file = fopen(path, "r");
		if (!file)
			continue;
		fclose(file);
		*strrchr(path, '/') = '\0';
		char *one_by_one = judge(path, NULL), *by_the_hundred = judge(path, &taken);
		assert_string_equal(by_the_hundred, one_by_one);
		free(one_by_one);
		free(by_the_hundred);
		sessions++;
	}
	closedir(directory);
	assert_true(sessions >= 30);
	assert_true(taken > 10000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_same_answer_either_way),
	};
	return cmocka_run_group_tests_name("by-the-hundred", tests, NULL, NULL);
}
