/* SPDX-License-Identifier: MIT */
/* Each allocation, or each system call, fails in turn: nothing crashes, nothing
 * leaks, nothing half written is left, and what succeeds all the same says what it
 * says without the fault; what does not says why.
 *
 * Or the disk fills at every so many bytes of a file.
 *
 * usage: test-faults allocations|calls|room [SCENARIO [NUMBER]] */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "stage.h"

#define PLACES_MAX 20000
#define LONGEST 100       /* s of one scenario: it hangs */
#define FAILURES_SHOWN 20 /* of one scenario */

struct run {
	struct stage stage;
	const struct scenario *scenario;
	struct outcome whole; /* without a fault */
	uint64_t before;      /* digest of the stage before */
	unsigned plays, failures, refusals;
	char *whole_out, *whole_said;
};

static struct fault playing; /* for the message of a crash */
static const char *playing_name = "";

static const char *fault_text(const struct fault *fault)
{
	static char text[128];

	snprintf(text, sizeof(text), "%s %ld%s%s%s",
		 fault->of == FAULT_OF_CALL   ? "call"
		 : fault->of == FAULT_OF_ROOM ? "room"
					      : "allocation",
		 fault->at, fault->lasting ? " and all after it" : "",
		 fault->tear        ? ", torn"
		 : fault->elsewhere ? " in another thread"
				    : "",
		 fault->of == FAULT_OF_CALL ? strerrorname_np(fault->error) : "");
	return text;
}

static void crashed(int signal)
{
	char text[256];
	int length = snprintf(text, sizeof(text), "crashed (signal %d): %s, %s\n", signal,
			      playing_name, fault_text(&playing));

	if (write(100, text, (size_t)length) < 0) /* dprintf() would allocate */
		_exit(2);
	_exit(1);
}

static void fail(struct run *run, const struct fault *fault, const char *what,
		 const struct outcome *o)
{
	if (run->failures++ >= FAILURES_SHOWN)
		return;
	printf("not ok - %s, %s %s: %s (status %d)\n", run->scenario->name, fault_text(fault),
	       faults_struck_call(), what, o->status);
	const char *wrong = strstr(o->said, "WRONG");
	printf("#   said: %.300s\n#   addr2line -ipfs -e test-faults", wrong ? wrong : o->said);
	faults_print_place(stdout);
	size_t same = 0;
	while (run->whole.out && same < o->length && same < run->whole.length &&
	       o->out[same] == run->whole.out[same])
		same++;
	size_t from = same < 100 ? 0 : same - 100;
	printf("\n#   made: %s, put out, at byte %zu: %.300s\n",
	       o->made == run->whole.made ? "the same" : "something else", same, o->out + from);
	if (run->whole.out)
		printf("#   without the fault: %.300s\n", run->whole.out + from);
}

/* Whether a line was said that is not said without a fault. */
static bool said_more(const struct outcome *o, const struct outcome *whole)
{
	char line[512];

	for (const char *at = o->said; *at; at += strcspn(at, "\n"), at += *at == '\n') {
		snprintf(line, sizeof(line), "%.*s", (int)strcspn(at, "\n"), at);
		if (*line && !strstr(whole->said, line))
			return true;
	}
	return false;
}

/* Why it failed: on standard error, or among the results. */
static bool says(const struct run *run, const struct outcome *o, const char *what)
{
	return strstr(o->said, what) || (run->scenario->explains && strstr(o->out, what));
}

static bool can_be_made_again(void)
{
	const char *call = faults_struck_call();

	return !strcmp(call, "poll") || !strcmp(call, "recv") || !strcmp(call, "send");
}

/* Some fail without a fault, too, and then in another way. */
static bool has_failed(const struct outcome *o, const struct outcome *whole)
{
	return o->status != whole->status || (whole->status > 1 && said_more(o, whole));
}

/* What went wrong in this run, or NULL. */
static const char *judge(const struct run *run, const struct fault *fault, const struct outcome *o)
{
	const struct outcome *whole = &run->whole;

	/* It says what could not be read, and goes on with the rest. */
	bool told = fault->of != FAULT_OF_ALLOCATION && o->status == whole->status &&
		    said_more(o, whole);
	bool same = o->length == whole->length && !memcmp(o->out, whole->out, o->length) &&
		    o->made == whole->made;
	bool failed = has_failed(o, whole);

	if (o->status == SCENARIO_WRONG)
		return "see WRONG";
	if (o->files)
		return "a file stays open";
	if (o->left && !fault->lasting)
		return "an unfinished session is left";
	if (run->scenario->made && !run->scenario->tolerant && o->made != run->before &&
	    o->made != whole->made && !told)
		return "something half made is left";
	if (!failed)
		return same || told ? NULL : "calls it a success, but says something else";
	if (fault->of == FAULT_OF_CALL && fault->error == EINTR && can_be_made_again())
		return "does not try again";
	if (fault->of == FAULT_OF_ALLOCATION && strstr(o->out, "broke off"))
		return "a process that it started has crashed";
	if (!said_more(o, whole) && !(run->scenario->explains && !same))
		return "does not say why";
	if (fault->of == FAULT_OF_ALLOCATION && !says(run, o, "emory"))
		return "does not say that memory ran out";
	return NULL;
}

static void play_one(struct run *run, const struct fault *fault)
{
	struct outcome o;
	const char *wrong;

	playing = *fault;
	stage_play(&run->stage, run->scenario, fault, &o);
	run->plays++;
	run->refusals += has_failed(&o, &run->whole);
	wrong = judge(run, fault, &o);
	if (!wrong && o.blocks) { /* kept once by somebody's cache, or lost? */
		stage_play(&run->stage, run->scenario, fault, &o);
		if (o.blocks && !faults_struck_in("libyaml")) /* which loses one itself */
			wrong = "memory is lost";
	}
	if (wrong)
		fail(run, fault, wrong, &o);
}

static char *keep(const char *text, size_t length)
{
	char *copy = malloc(length + 1);

	if (!copy)
		abort();
	return memcpy(copy, text, length + 1);
}

/* Without a fault, several times: what is to come out, and what is called. */
static void play_whole(struct run *run)
{
	const struct fault none = {.of = FAULT_OF_NONE};

	int left;

	stage_prepare(&run->stage, run->scenario);
	run->before = stage_digest(&run->stage, &left);
	for (int i = 0; i < 3; i++)
		stage_play(&run->stage, run->scenario, &none, &run->whole);
	run->whole.out = run->whole_out = keep(run->whole.out, run->whole.length);
	run->whole.said = run->whole_said = keep(run->whole.said, run->whole.said_length);
	if (run->whole.blocks || run->whole.files)
		fail(run, &none, "something is lost even without a fault", &run->whole);
	int expected = run->scenario->status;
	if ((expected ? run->whole.status != expected : run->whole.status > 1) ||
	    (!run->whole.length && !run->scenario->made))
		fail(run, &none, "the scenario does not do its work", &run->whole);
}

/* In the first thread; in the others; in the processes it starts, which count on from
 * where they were started. */
static size_t list_places(const struct run *run, long *at, enum fault_of of, bool elsewhere,
			  long all, int depth)
{
	size_t count = faults_places(at, PLACES_MAX, of, elsewhere, all, depth);
	size_t most = of == FAULT_OF_CALL ? run->scenario->most / 8 : run->scenario->most;
	if (most && count > most) {
		for (size_t i = 0; i < most; i++)
			at[i] = at[i * count / most];
		count = most;
	}
	long beyond = elsewhere || depth < 3 ? 0 : run->scenario->beyond;
	long last = faults_count(of, elsewhere);

	long children = of == FAULT_OF_CALL ? 8 : 60;
	for (long n = 1; n <= children && beyond; n++)
		at[count++] = last + 1 + (of == FAULT_OF_CALL ? n * 2 : beyond * n / children);
	return count;
}

static size_t play_allocations(struct run *run, bool elsewhere)
{
	static long at[PLACES_MAX], first[PLACES_MAX];
	size_t count = list_places(run, at, FAULT_OF_ALLOCATION, elsewhere, FAULTS_FIRST,
				   FAULTS_DEPTH);
	size_t lasting = list_places(run, first, FAULT_OF_ALLOCATION, elsewhere, 0, 2);

	for (size_t i = 0; i < count; i++)
		play_one(run, &(struct fault){.of = FAULT_OF_ALLOCATION,
					      .at = at[i],
					      .elsewhere = elsewhere});
	for (size_t i = 0; i < lasting; i++)
		play_one(run, &(struct fault){.of = FAULT_OF_ALLOCATION,
					      .at = first[i],
					      .elsewhere = elsewhere,
					      .lasting = true});
	return count;
}

static size_t play_calls(struct run *run, bool elsewhere)
{
	static const int errors[] = {ENOSPC, EIO, EROFS};
	static long at[PLACES_MAX];
	size_t count = list_places(run, at, FAULT_OF_CALL, elsewhere, PLACES_MAX, FAULTS_DEPTH);

	for (size_t i = 0; i < count; i++) {
		struct fault fault = {.of = FAULT_OF_CALL, .at = at[i], .elsewhere = elsewhere};
		for (size_t e = 0; e < sizeof(errors) / sizeof(*errors); e++) {
			fault.error = errors[e];
			play_one(run, &fault);
			fault.lasting = true;
			play_one(run, &fault);
			fault.lasting = false;
		}
		fault.error = ENOSPC;
		fault.tear = true;
		play_one(run, &fault);
		fault.error = EINTR;
		fault.tear = false;
		if (run->scenario->patient)
			play_one(run, &fault);
	}
	return count;
}

/* One of them, for looking at it. */
static size_t play_only(struct run *run, enum fault_of of, long at)
{
	struct fault fault = {.of = of, .at = at, .error = ENOSPC};

	play_one(run, &fault);
	fault.lasting = true;
	play_one(run, &fault);
	fault.lasting = false;
	fault.elsewhere = true;
	if (run->scenario->threads)
		play_one(run, &fault);
	return 1;
}

/* From no room at all until everything fits. */
static size_t play_room(struct run *run)
{
	unsigned refusals = run->refusals;
	size_t count = 0;
	long finesse = run->scenario->most ? 6 : 16;

	for (long bytes = 0; bytes < 1 << 22; bytes += 1 + bytes / finesse, count++) {
		play_one(run, &(struct fault){.of = FAULT_OF_ROOM, .at = bytes});
		if (run->refusals == refusals && !run->failures)
			break;
		refusals = run->refusals;
	}
	if (!run->refusals)
		fail(run, &(struct fault){.of = FAULT_OF_ROOM}, "a full disk is no hindrance",
		     &run->whole);
	return count;
}

static size_t play_all(struct run *run, enum fault_of of)
{
	const struct fault none = {.of = FAULT_OF_NONE};
	struct outcome o;

	if (run->scenario->once)
		return 0;
	if (of == FAULT_OF_ROOM)
		return play_room(run);
	size_t (*play)(struct run * run, bool elsewhere) = of == FAULT_OF_CALL ? play_calls
									       : play_allocations;
	size_t count = play(run, false);
	if (run->scenario->threads) {
		stage_play(&run->stage, run->scenario, &none, &o);
		count += play(run, true);
	}
	return count;
}

static unsigned play_scenario(struct run *run, enum fault_of of, long only)
{
	struct timespec from, to;

	clock_gettime(CLOCK_MONOTONIC, &from);
	playing_name = run->scenario->name;
	alarm(LONGEST);
	play_whole(run);
	long calls = faults_count(of, false) + faults_count(of, true);
	size_t count = only ? play_only(run, of, only) : play_all(run, of);
	clock_gettime(CLOCK_MONOTONIC, &to);
	printf("%s - %s: %ld %s, %zu places, %u runs, %u refused, %u wrong, %.2f s\n",
	       run->failures ? "not ok" : "ok", run->scenario->name, calls,
	       of == FAULT_OF_ALLOCATION ? "allocations" : "system calls", count, run->plays,
	       run->refusals, run->failures,
	       (double)(to.tv_sec - from.tv_sec) + (double)(to.tv_nsec - from.tv_nsec) / 1e9);
	fflush(stdout);
	free(run->whole_out);
	free(run->whole_said);
	return run->failures;
}

int main(int argc, char **argv)
{
	const char *what = argc > 1 ? argv[1] : "";
	enum fault_of of = !strcmp(what, "calls")  ? FAULT_OF_CALL
			   : !strcmp(what, "room") ? FAULT_OF_ROOM
						   : FAULT_OF_ALLOCATION;
	unsigned failures = 0, played = 0;
	struct stage stage;

	setenv("TZ", "UTC", 1);
	stage_open(&stage);
	dup2(STDOUT_FILENO, 100);
	signal(SIGSEGV, crashed);
	signal(SIGABRT, crashed);
	signal(SIGXFSZ, SIG_IGN); /* write() says EFBIG */
	for (const struct scenario *s = scenarios; s->name; s++) {
		struct run run = {.stage = stage, .scenario = s};
		if (argc > 2 && strcmp(argv[2], s->name) != 0)
			continue;
		failures += play_scenario(&run, of, argc > 3 ? atol(argv[3]) : 0);
		played++;
	}
	stage_close(&stage);
	return failures || !played;
}
