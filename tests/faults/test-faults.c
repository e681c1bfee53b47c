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

	snprintf(text, sizeof(text), "%s %ld%s%s%s", fault->of == FAULT_OF_CALL   ? "call"
						    : fault->of == FAULT_OF_ROOM ? "room"
										 : "allocation",
		 fault->at, fault->lasting ? " and all after it" : "",
		 fault->tear ? ", torn" : "",
		 fault->of == FAULT_OF_CALL ? strerrorname_np(fault->error) : "");
	return text;
}

static void crashed(int signal)
{
	char text[256];
	int length = snprintf(text, sizeof(text), "crashed (signal %d): %s, %s\n", signal,
			      playing_name, fault_text(&playing));

	dprintf(100, "%.*s", length, text);
	_exit(1);
}

static void fail(struct run *run, const struct fault *fault, const char *what,
		 const struct outcome *o)
{
	if (run->failures++ >= FAILURES_SHOWN)
		return;
	printf("not ok - %s, %s %s: %s (status %d)\n", run->scenario->name, fault_text(fault),
	       faults_struck_call(), what, o->status);
	printf("#   said: %.300s\n#   addr2line -ipfs -e test-faults", o->said);
	faults_print_place(stdout);
	puts("");
}

/* What went wrong in this run, or NULL. */
static const char *judge(const struct run *run, const struct fault *fault, const struct outcome *o)
{
	const struct outcome *whole = &run->whole;

	/* It says what could not be read, and goes on with the rest. */
	bool told = fault->of != FAULT_OF_ALLOCATION && o->status == whole->status &&
		    o->said_length > whole->said_length;

	if (o->files)
		return "a file stays open";
	if (o->left && !fault->lasting)
		return "an unfinished session is left";
	if (run->scenario->made && !run->scenario->tolerant && o->made != run->before && o->made != whole->made && !told)
		return "something half made is left";
	if (o->status == whole->status) {
		bool same = o->length == whole->length && !memcmp(o->out, whole->out, o->length) &&
			    o->made == whole->made;
		return same || told ? NULL : "calls it a success, but says something else";
	}
	if (o->said_length <= whole->said_length)
		return "does not say why";
	if (fault->of == FAULT_OF_ALLOCATION && !strstr(o->said, "emory"))
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
	run->refusals += o.status != run->whole.status;
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
	if (run->whole.status > 1 || (!run->whole.length && !run->scenario->made))
		fail(run, &none, "the scenario does not do its work", &run->whole);
}

static void play_allocations(struct run *run, const long *at, size_t count)
{
	for (size_t i = 0; i < count; i++)
		play_one(run, &(struct fault){.of = FAULT_OF_ALLOCATION, .at = at[i]});
	static long first[PLACES_MAX];
	const struct fault none = {.of = FAULT_OF_NONE};
	struct outcome o;
	stage_play(&run->stage, run->scenario, &none, &o);
	count = faults_places(first, PLACES_MAX, FAULT_OF_ALLOCATION, 0, 2);
	for (size_t i = 0; i < count; i++)
		play_one(run, &(struct fault){.of = FAULT_OF_ALLOCATION, .at = first[i],
					      .lasting = true});
}

static void play_calls(struct run *run, const long *at, size_t count)
{
	static const int errors[] = {ENOSPC, EIO, EROFS};

	for (size_t i = 0; i < count; i++)
		for (size_t e = 0; e < sizeof(errors) / sizeof(*errors); e++) {
			struct fault fault = {.of = FAULT_OF_CALL, .at = at[i], .error = errors[e]};
			play_one(run, &fault);
			fault.lasting = true;
			play_one(run, &fault);
			fault.lasting = false;
			fault.tear = true;
			if (errors[e] == ENOSPC)
				play_one(run, &fault);
		}
}

/* From no room at all until everything fits. */
static size_t play_room(struct run *run)
{
	unsigned refusals = run->refusals;
	size_t count = 0;

	for (long bytes = 0; bytes < 1 << 22; bytes += 1 + bytes / 16, count++) {
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

static unsigned play_scenario(struct run *run, enum fault_of of, long only)
{
	static long at[PLACES_MAX];
	struct timespec from, to;

	clock_gettime(CLOCK_MONOTONIC, &from);
	playing_name = run->scenario->name;
	play_whole(run);
	long calls = faults_count(of);
	size_t count = of == FAULT_OF_ROOM ? 0 : of == FAULT_OF_CALL
		? faults_places(at, PLACES_MAX, of, PLACES_MAX, 1)
		: faults_places(at, PLACES_MAX, of, FAULTS_FIRST, FAULTS_DEPTH);
	if (only) {
		at[0] = only;
		count = 1;
	}
	if (of == FAULT_OF_ROOM)
		count = play_room(run);
	else if (of == FAULT_OF_CALL)
		play_calls(run, at, count);
	else
		play_allocations(run, at, count);
	clock_gettime(CLOCK_MONOTONIC, &to);
	printf("%s - %s: %ld %s, %zu places, %u runs, %u refused, %u wrong, %.2f s\n",
	       run->failures ? "not ok" : "ok", run->scenario->name, calls,
	       of == FAULT_OF_ALLOCATION ? "allocations" : "system calls", count, run->plays,
	       run->refusals, run->failures,
	       (double)(to.tv_sec - from.tv_sec) + (double)(to.tv_nsec - from.tv_nsec) / 1e9);
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

	stage_open(&stage);
	dup2(STDOUT_FILENO, 100);
	signal(SIGSEGV, crashed);
	signal(SIGABRT, crashed);
	signal(SIGXFSZ, SIG_IGN); /* write() says EFBIG */
	for (const struct scenario *s = scenarios; s->name; s++) {
		struct run run = {.stage = stage, .scenario = s};
		if ((argc > 2 && strcmp(argv[2], s->name) != 0) ||
		    (of == FAULT_OF_ROOM && !s->made))
			continue;
		failures += play_scenario(&run, of, argc > 3 ? atol(argv[3]) : 0);
		played++;
	}
	stage_close(&stage);
	return failures || !played;
}
