/* SPDX-License-Identifier: MIT */
/* Expectations: reading them, comparing, and bringing them up to date. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "current-trace.h"
#include "expectation.h"

#define S(x) ((nod_time){(x)*NOD_NS_PER_S})

static char path[] = "/tmp/nodoff-expectation-XXXXXX";

static void put(const char *text)
{
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	fputs(text, file);
	assert_int_equal(fclose(file), 0);
}

static int make_file(void **state)
{
	(void)state;
	strcpy(path + sizeof(path) - 7, "XXXXXX");
	int fd = mkstemp(path);
	return fd < 0 ? -1 : close(fd);
}

static int remove_file(void **state)
{
	(void)state;
	return unlink(path);
}

/* ---- findings of an invented car ---- */

static struct nod_network_finding networks[2];
static struct nod_suspect suspects[3];
static struct nod_sender_finding senders[2];
static struct nod_wake_finding wakes[3];
static struct nod_current_findings current;

static struct nod_findings held(void)
{
	networks[0] = (struct nod_network_finding){.name = "body",
						   .verdict = NOD_VERDICT_KEPT_AWAKE,
						   .state = NOD_STATE_AWAKE,
						   .slept_at = NOD_TIME_NONE,
						   .first_slept_at = NOD_TIME_NONE};
	networks[1] = (struct nod_network_finding){.name = "drive",
						   .verdict = NOD_VERDICT_SLEEPS,
						   .state = NOD_STATE_ASLEEP,
						   .slept_at = S(1060),
						   .first_slept_at = {1050123400000},
						   .wakes = 3,
						   .wakes_explained = 1};
	suspects[0] = (struct nod_suspect){.kind = NOD_SUSPECT_SENDER,
					   .role = NOD_ROLE_HOLDER,
					   .probability = 0.92,
					   .name = "seat heater unit"};
	suspects[1] = (struct nod_suspect){.kind = NOD_SUSPECT_SENDER,
					   .role = NOD_ROLE_HOLDER,
					   .probability = 0.75,
					   .name = "roof unit"};
	suspects[2] = (struct nod_suspect){.kind = NOD_SUSPECT_UNSEEN,
					   .probability = 0.02,
					   .role = NOD_ROLE_OTHER,
					   .name = "something unseen"};
	senders[0].name = "seat heater unit";
	senders[1].name = "roof unit";
	for (int i = 0; i < 3; i++)
		wakes[i] = (struct nod_wake_finding){.sender = i == 0, .cause = ""};
	current = (struct nod_current_findings){.quiescent_known = true, .quiescent_ua = 31000};
	return (struct nod_findings){.verdict = NOD_VERDICT_KEPT_AWAKE,
				     .lock = S(1000),
				     .networks = networks,
				     .network_count = 2,
				     .suspects = suspects,
				     .suspect_count = 3,
				     .senders = senders,
				     .sender_count = 2,
				     .wakes = wakes,
				     .wake_count = 3,
				     .current = &current,
				     .sentence = "Two units keep body awake."};
}

static struct nod_findings nobody(void)
{
	struct nod_findings f = held();
	f.culprit = NOD_NONE;
	suspects[0].probability = 0.34;
	suspects[1].probability = 0.3;
	return f;
}

/* ---- reading ---- */

static void refuses(const char *text, const char *message)
{
	struct nod_error err = {""};
	char expected[600];

	put(text);
	assert_null(nod_expectation_load(path, &err));
	snprintf(expected, sizeof(expected), "%s:%s", path, message);
	if (strncmp(err.text, expected, strlen(expected)))
		fail_msg("expected \"%s\", got \"%s\"", expected, err.text);
}

static void test_mistakes_are_told_with_their_line(void **state)
{
	(void)state;
	refuses("verdict: kept awake\nculprits: x\n",
		"2: there is no key \"culprits\"; expected one of");
	refuses("# only a comment\n", " it demands no verdict");
	refuses("verdict: asleep\n", "1: there is no verdict \"asleep\"; expected sleeps in time");
	refuses("verdict: kept awake\nrole: boss\n", "2: there is no role \"boss\"");
	refuses("verdict: kept awake\nprobability: >= 90\n", "2: ");
	refuses("verdict: kept awake\nprobability: >= 120 %\n", "2: a probability is 0 % to 100 %");
	refuses("verdict: kept awake\nwakes: 3\n",
		"2: \"wakes\" needs to say of what: \"wakes body: ...\"");
	refuses("verdict: kept awake\nwakes body: 3x\n", "2: expected a number of wake-ups");
	refuses("verdict: kept awake\nrole body: holder\n", "2: \"role\" stands alone");
	refuses("verdict: kept awake\nslept-at body: soon\n", "2: expected UNIX seconds");
	refuses("verdict: kept awake\nslept-at body: <= x after lock\n",
		"2: expected UNIX seconds");
	refuses("verdict: kept awake\nquiescent: <= 50\n", "2: ");
	refuses("verdict: kept awake\nculprit:\n", "2: \"culprit\" has no value");
	refuses("verdict: kept awake\nculprit\n", "2: expected \"key: value\"");
	refuses("verdict: kept awake\nverdict: kept awake\n",
		"2: \"verdict\" is already in line 1");
	refuses("verdict: kept awake\nculprit: a\nculprit: none named\n",
		"3: \"culprit\" is already in line 2");
	refuses("verdict: kept awake\nwakes body: <= 1\nwakes body: <= 2\n",
		"3: \"wakes body\" is already in line 2");
	refuses("verdict: kept awake\nknown-miss role: why\n",
		"2: \"role\" is known to be missed, but it is not demanded");
	refuses("verdict: kept awake", "1: the last line is cut off");
}

static void test_a_missing_file_is_told_apart(void **state)
{
	struct nod_error err = {""};
	(void)state;
	assert_null(nod_expectation_load("/nonexistent/expect.txt", &err));
	assert_int_equal(errno, ENOENT);
}

/* ---- comparing ---- */

struct checked {
	struct nod_expectation *x;
	struct nod_differences *d;
};

static struct checked check(const char *text, const struct nod_findings *f)
{
	struct nod_error err = {""};
	struct checked c;

	put(text);
	c.x = nod_expectation_load(path, &err);
	if (!c.x)
		fail_msg("%s", err.text);
	c.d = nod_expectation_compare(c.x, f);
	assert_non_null(c.d);
	return c;
}

static void done(struct checked *c)
{
	nod_differences_free(c->d);
	nod_expectation_free(c->x);
}

static void same(const char *text, const struct nod_findings *f)
{
	struct checked c = check(text, f);
	if (c.d->count)
		fail_msg("%s", c.d->list[0].text);
	done(&c);
}

static void differs(const char *text, const struct nod_findings *f, const char *sentence)
{
	struct checked c = check(text, f);
	assert_int_equal(c.d->count, 1);
	assert_string_equal(c.d->list[0].text, sentence);
	assert_int_equal(c.d->failures, 1);
	done(&c);
}

static void test_what_is_met(void **state)
{
	struct nod_findings f = held(), none = nobody();
	(void)state;
	f = held();
	same("# a comment\n\n\tverdict :  kept awake \r\nculprit: roof unit\nculprit: seat heater unit\n"
	     "role: holder\nprobability: >= 75 %\nprobability: <= 80 %\n"
	     "network  body: kept awake\nslept-at body: never\n"
	     "slept-at drive: 1050.123\n"
	     "slept-at drive: <= 60 s after lock\nslept-at drive: >= 1050.1234\n"
	     "sleeps-by drive: 1 min after lock\nwakes drive: 3\nwakes-explained drive: >= 1\n"
	     "wakes-by: seat heater unit\nquiescent: <= 50 mA\nquiescent: 31 mA\n"
	     "sentence: Two units keep body awake.\nlocked: +1 min\nvehicle: car.yaml\n",
	     &f);
	none = nobody();
	same("verdict: kept awake\nculprit: none named\nprobability: <= 34 %\n", &none);
}

static void test_differences_are_sentences(void **state)
{
	struct nod_findings f = held();
	(void)state;
	differs("verdict: cannot tell\n", &f, "verdict: expected cannot tell, found kept awake");
	differs("verdict: kept awake\nculprit: roof unit\n", &f,
		"culprit: expected roof unit, found seat heater unit and roof unit");
	differs("verdict: kept awake\nculprit: none named\n", &f,
		"culprit: expected none named, found seat heater unit and roof unit");
	differs("verdict: kept awake\nculprit: seat heater unit\nculprit: door unit\n", &f,
		"culprit: expected seat heater unit and door unit, found seat heater unit and roof "
		"unit");
	suspects[2].kind = NOD_SUSPECT_SENDER; /* innocent: its probability is not meant */
	same("verdict: kept awake\nprobability: 75 %\n", &f);
	suspects[2].kind = NOD_SUSPECT_UNSEEN;
	differs("verdict: kept awake\nrole: waker\n", &f, "role: expected waker, found holder");
	differs("verdict: kept awake\nprobability: >= 80 %\n", &f,
		"probability: expected >= 80 %, found 75 % for roof unit");
	differs("verdict: kept awake\nslept-at drive: 50.125 after lock\n", &f,
		"slept-at drive: expected 50.125 after lock, found 50.123 s after lock");
	differs("verdict: kept awake\nslept-at drive: 1050.122\n", &f,
		"slept-at drive: expected 1050.122, found 1050.123400");
	differs("verdict: kept awake\nslept-at drive: never\n", &f,
		"slept-at drive: expected never, found 1050.123400");
	differs("verdict: kept awake\nsleeps-by body: 2 min after lock\n", &f,
		"sleeps-by body: expected 2 min after lock, found nothing: at the end it is awake");
	differs("verdict: kept awake\nsleeps-by drive: 59 s after lock\n", &f,
		"sleeps-by drive: expected 59 s after lock, found 60.000 s after lock");
	differs("verdict: kept awake\nwakes drive: <= 2\n", &f,
		"wakes drive: expected <= 2, found 3");
	differs("verdict: kept awake\nwakes chassis: 0\n", &f,
		"wakes chassis: expected 0, found nothing: there is no network chassis");
	differs("verdict: kept awake\nquiescent: <= 30 mA\n", &f,
		"quiescent: expected <= 30 mA, found 31.2 mA");
	current.quiescent_known = false;
	differs("verdict: kept awake\nquiescent: <= 30 mA\n", &f,
		"quiescent: expected <= 30 mA, found nothing: no current at rest is known");
	f = nobody();
	differs("verdict: kept awake\nculprit: seat heater unit\n", &f,
		"culprit: expected seat heater unit, found nobody named (seat heater unit 34 %)");
}

static void test_a_known_miss_is_no_failure_but_is_told(void **state)
{
	struct nod_findings f = nobody();
	struct checked c = check("verdict: kept awake\nculprit: seat heater unit\nrole: holder\n"
				 "known-miss culprit: the evidence is not weighed yet\n"
				 "known-miss verdict: once\n",
				 &f);
	(void)state;
	assert_int_equal(c.d->count, 2);
	assert_int_equal(c.d->failures, 1);
	assert_string_equal(c.d->list[0].known, "the evidence is not weighed yet");
	assert_null(c.d->list[1].known);
	assert_int_equal(c.d->healed_count, 1);
	assert_string_equal(c.d->healed[0]->object, "verdict");
	done(&c);
}

/* ---- writing ---- */

static char *drafted(const struct nod_findings *f)
{
	char *text;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_int_equal(nod_expectation_draft(out, f), 0);
	fclose(out);
	return text;
}

static void test_a_draft_is_met_by_what_it_was_made_from(void **state)
{
	(void)state;
	for (int i = 0; i < 2; i++) {
		struct nod_findings f = i ? nobody() : held();
		char *text = drafted(&f);
		same(text, &f);
		assert_non_null(
			strstr(text, i ? "culprit: none named\n"
				       : "culprit: seat heater unit\nculprit: roof unit\n"));
		free(text);
	}
}

static void test_a_revision_changes_only_what_is_not_met(void **state)
{
	struct nod_findings f = held();
	struct nod_error err = {""};
	char *text;
	size_t size;
	(void)state;
	struct checked c = check("# mine\nverdict: kept awake\nculprit: door unit\n\n"
				 "culprit: radio\nrole: waker\nprobability: >= 80 %\n"
				 "wakes drive: <= 2\nslept-at drive: <= 50.1 s after lock\n"
				 "slept-at body: <= 60 s after lock\n"
				 "sleeps-by body: 9 s after lock\nquiescent: <= 30 mA\n"
				 "known-miss role: was so\n",
				 &f);
	FILE *out = open_memstream(&text, &size);

	assert_int_equal(nod_expectation_revise(out, path, c.d, &err), 0);
	fclose(out);
	assert_string_equal(text, "# mine\nverdict: kept awake\nculprit: seat heater unit\n"
				  "culprit: roof unit\n\nrole: holder\nprobability: >= 75 %\n"
				  "wakes drive: <= 3\nslept-at drive: <= 50.123 s after lock\n"
				  "slept-at body: never\n"
				  "quiescent: <= 31.2 mA\n");
	done(&c);
	same(text, &f);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_mistakes_are_told_with_their_line),
		cmocka_unit_test(test_a_missing_file_is_told_apart),
		cmocka_unit_test(test_what_is_met),
		cmocka_unit_test(test_differences_are_sentences),
		cmocka_unit_test(test_a_known_miss_is_no_failure_but_is_told),
		cmocka_unit_test(test_a_draft_is_met_by_what_it_was_made_from),
		cmocka_unit_test(test_a_revision_changes_only_what_is_not_met),
	};
	return cmocka_run_group_tests(tests, make_file, remove_file);
}
