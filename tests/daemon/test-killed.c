/* SPDX-License-Identifier: MIT */
/* kill -9 at random moments of a recording, and what is there afterwards.
 *
 * NODOFF_KILL_SEED and NODOFF_KILL_MOMENTS repeat or extend a run; NODOFF is
 * the command line program, for every 10th moment. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <sys/wait.h>
#include <time.h>

#include "../lib/scratch.h"
#include "killed.h"
#include "session.h"

/* Chosen: what the project promises to have tried. */
#define MOMENTS 200
#define SEED 20261125

/* Longest wait after the message that was waited for. Chosen: longer than most
 * of the steps between two messages, so that a moment falls into them. */
#define WAIT_MAX_NS 150000

/* Parts of a recording that are short, but where much can go wrong, get more
 * than their share of the moments: messages at the beginning and at the end. */
#define BEGIN_MESSAGES 36
#define END_MESSAGES 30
#define MESSAGES_MAX 2000

static struct feed feed;
/* Of a whole recording, by the way it is made: how many messages, and after
 * which of them the child is in a system call or in a flush. */
static struct messages {
	int count, busy[MESSAGES_MAX], busy_count;
} messages_of[2];
static const char *program;
static struct {
	int moments, during_creation, torn, unpublished, finished, seen;
	nod_duration worst;
} total;

/* ---- killing ---- */

static uint64_t random_next(uint64_t *state)
{
	/* xorshift64*, S. Vigna, "An experimental exploration of Marsaglia's
	 * xorshift generators, scrambled" */
	*state ^= *state >> 12;
	*state ^= *state << 25;
	*state ^= *state >> 27;
	return (*state * UINT64_C(2685821657736338717)) >> 33;
}

static void wait_busily(int ns)
{
	struct timespec begin, now;

	clock_gettime(CLOCK_MONOTONIC, &begin);
	do
		clock_gettime(CLOCK_MONOTONIC, &now);
	while ((now.tv_sec - begin.tv_sec) * NOD_NS_PER_S + now.tv_nsec - begin.tv_nsec < ns);
}

/* A pipe that holds one message: the child is never far ahead. */
static void open_pipe(int ends[2])
{
	assert_int_equal(pipe2(ends, O_CLOEXEC | O_DIRECT), 0);
	assert_true(fcntl(ends[1], F_SETPIPE_SZ, (int)sysconf(_SC_PAGESIZE)) > 0);
}

static bool hear(struct moment *m, int pipe)
{
	struct progress progress;

	if (read(pipe, &progress, sizeof(progress)) != sizeof(progress))
		return false;
	NEED(progress.kind >= 0 && progress.kind < DID_KINDS);
	m->did[progress.kind] = progress.done;
	m->last = progress.kind;
	return true;
}

/* The second of two messages about a call is about its end. */
static void note_message(struct messages *messages, const struct moment *m, int heard, bool *inside)
{
	assert_true(heard < MESSAGES_MAX);
	*inside = m->last == DID_CALL && !*inside;
	if (*inside || m->did[DID_TAKE] % (FEED_FRAMES + 3) == 0)
		messages->busy[messages->busy_count++] = heard;
	messages->count = heard;
}

/* Lets a recording be made up to the moment. `messages`: filled in, or NULL. */
static void run_child(struct moment *m, struct messages *messages)
{
	int ends[2], heard = 0, status;
	bool inside = false;

	open_pipe(ends);
	for (int i = 0; i < DID_KINDS; i++)
		m->did[i] = -1;
	fflush(NULL);
	pid_t child = fork();
	assert_true(child >= 0);
	if (!child)
		child_run(&feed, m->way, m->path, ends[1]);
	close(ends[1]);
	while (heard < m->message && hear(m, ends[0])) {
		heard++;
		if (messages)
			note_message(messages, m, heard, &inside);
	}
	if (heard == m->message) {
		wait_busily(m->wait_ns);
		kill(child, SIGKILL);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	while (hear(m, ends[0]))
		;
	close(ends[0]);
	NEED(WIFSIGNALED(status) ? WTERMSIG(status) == SIGKILL : WEXITSTATUS(status) == 0);
}

/* ---- judging ---- */

/* How much time is missing: from the first event of those taken that is not
 * there to the last one taken. */
static nod_duration lost_time(const struct moment *m, const struct found *found)
{
	int seen[NOD_EVENT_DEFECT + 1] = {0};

	for (int i = 0; i < m->did[DID_TAKE]; i++) {
		enum nod_event_kind kind = feed.events[i].kind;
		if (seen[kind]++ >= found->events[kind])
			return nod_time_since(feed.events[m->did[DID_TAKE] - 1].time,
					      feed.events[i].time);
	}
	return (nod_duration){0};
}

static int taken_of(const struct moment *m, enum nod_event_kind kind)
{
	int count = 0;

	for (int i = 0; i < m->did[DID_TAKE]; i++)
		count += feed.events[i].kind == kind;
	return count;
}

static void check_found(struct moment *m, const struct found *found)
{
	int flushes = m->did[DID_FLUSH] < 0 ? 0 : m->did[DID_FLUSH];
	nod_time next_flush = {FEED_START + (flushes + 1) * flush_period(m->way).ns};
	nod_duration lost = lost_time(m, found);

	NEED(lost.ns < NOD_NS_PER_S);
	if (lost.ns > total.worst.ns)
		total.worst = lost;
	/* marks are there when they are taken */
	NEED(found->events[NOD_EVENT_MARK] >= taken_of(m, NOD_EVENT_MARK));
	NEED(found->events[NOD_EVENT_DEFECT] <=
	     2); /* the last line of the journal, the last piece */
	/* silence is not claimed for longer than was listened */
	if (nod_time_is_set(found->ended))
		NEED(found->ended.ns <= next_flush.ns);
	if (m->did[DID_FINISH] == 0) {
		NEED(lost.ns == 0 && found->events[NOD_EVENT_DEFECT] == 0 && !found->torn);
		NEED(m->did[DID_TAKE] == feed.count);
		NEED(found->stopped == (m->way == WAY_LIVE));
	}
	total.torn += found->torn > 0;
	total.finished += m->did[DID_FINISH] == 0;
}

/* Opens by the program, too, which says what it says of any recording. */
static void check_program(struct moment *m, const char *command)
{
	char line[512];

	if (!program)
		return;
	snprintf(line, sizeof(line), "'%s' %s '%s' > /dev/null 2> '%s/said'", program, command,
		 m->path, m->parent);
	int status = system(line);
	NEED(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	total.seen++;
}

static void record_again(struct moment *m)
{
	struct nod_recorder_settings settings = {
		.directory = m->path, .interfaces = &child_names, .digits = 6};
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {AGAIN}};
	struct nod_recorder *recorder = nod_recorder_new(&settings, NULL);

	NEED(recorder);
	event.frame.time = event.time;
	NEED(!nod_recorder_take(recorder, &event));
	event.kind = NOD_EVENT_MARK;
	event.mark = (struct nod_mark){event.time, NOD_MARK_NOTE, "again"};
	NEED(!nod_recorder_take(recorder, &event));
	NEED(!nod_recorder_close(recorder, (nod_time){AGAIN + NOD_NS_PER_S}));
}

/* Another recording follows in the same session, and takes nothing from it. */
static void check_next_recording(struct moment *m, const struct found *before)
{
	struct found found;

	record_again(m);
	killed_read(m, &feed, &found);
	NEED(found.again == 2);
	NEED(found.started == before->started && found.stopped == before->stopped);
	for (int i = 0; i < NOD_EVENT_DEFECT; i++)
		NEED(found.events[i] == before->events[i]);
}

/* The session was not there yet: what is left is not taken for one, and is
 * not in the way. */
static void check_unpublished(struct moment *m)
{
	struct nod_session_about about = {"again", {FEED_START}, NULL, NULL};

	NEED(m->did[DID_CREATE] < 0);
	NEED(!nod_session_open(m->path, NULL) && errno == ENOENT);
	NEED(!nod_session_create(m->path, &about, NULL, NULL, NULL));
	total.unpublished++;
	check_next_recording(m, &(struct found){.ended = NOD_TIME_NONE});
}

static void check_moment(struct moment *m)
{
	struct found found;

	total.during_creation += m->did[DID_CREATE] < 0;
	if (access(m->path, F_OK)) {
		check_unpublished(m);
		return;
	}
	killed_read(m, &feed, &found);
	check_found(m, &found);
	if (m->number % 20 == 0 || m->number % 20 == 11) {
		check_program(m, "session show");
		check_program(m, "analyse");
	}
	check_next_recording(m, &found);
}

/* ---- the moments ---- */

static void set_paths(struct moment *m, const struct scratch *scratch)
{
	snprintf(m->parent, sizeof(m->parent), "%s/%d", scratch->path, m->way);
	snprintf(m->path, sizeof(m->path), "%s/session", m->parent);
	assert_int_equal(mkdir(m->parent, 0777), 0);
}

static int number_from(const char *name, int otherwise)
{
	const char *text = getenv(name);

	return text && *text ? atoi(text) : otherwise;
}

static int choose_message(uint64_t *state, const struct messages *messages)
{
	switch (random_next(state) % 4) {
	case 0:
		return (int)(random_next(state) % BEGIN_MESSAGES);
	case 1:
		return messages->count - (int)(random_next(state) % END_MESSAGES);
	case 2:
		return messages->busy[random_next(state) % (unsigned)messages->busy_count];
	default:
		return (int)(random_next(state) % (unsigned)messages->count);
	}
}

static struct moment choose_moment(unsigned seed, int number)
{
	struct moment m = {.seed = seed, .number = number};
	uint64_t state = ((uint64_t)seed << 32 | (unsigned)number) + 1;

	for (int i = 0; i < 4; i++)
		random_next(&state); /* neighbouring numbers begin alike */
	m.way = random_next(&state) % 3 ? WAY_RECORDER : WAY_LIVE;
	m.message = choose_message(&state, &messages_of[m.way]);
	m.wait_ns = (int)(random_next(&state) % WAIT_MAX_NS);
	return m;
}

/* Three of four in memory, where a sync takes no time: what a process has
 * written stays when it is killed, synced or not. */
static void make_scratch(struct scratch *scratch, int number)
{
	if (number % 4 == 1)
		scratch_make(scratch);
	else
		scratch_make_in_memory(scratch);
}

/* Nothing happens to it, and nothing is missing. */
static void test_whole(void **state)
{
	struct scratch scratch;

	(void)state;
	scratch_make(&scratch);
	for (enum way way = WAY_RECORDER; way <= WAY_LIVE; way++) {
		struct moment one = {.number = 0, .way = way, .message = INT32_MAX}, *m = &one;
		set_paths(m, &scratch);
		run_child(m, &messages_of[way]);
		NEED(m->did[DID_FINISH] == 0);
		check_moment(m);
	}
	scratch_remove(&scratch);
}

/* The small pieces must be changed a few times for that to be hit. */
static void test_pieces(void **state)
{
	struct scratch scratch;
	struct moment one = {.way = WAY_RECORDER, .message = INT32_MAX}, *m = &one;
	char third[256];

	(void)state;
	scratch_make(&scratch);
	set_paths(m, &scratch);
	run_child(m, NULL);
	snprintf(third, sizeof(third), "%s/frames-000003.log.zst", m->path);
	assert_int_equal(access(third, F_OK), 0);
	scratch_remove(&scratch);
}

static void test_killed(void **state)
{
	unsigned seed = (unsigned)number_from("NODOFF_KILL_SEED", SEED);
	int moments = number_from("NODOFF_KILL_MOMENTS", MOMENTS);
	struct scratch scratch;

	(void)state;
	memset(&total, 0, sizeof(total));
	for (int i = 0; i < moments; i++) {
		struct moment m = choose_moment(seed, i);
		make_scratch(&scratch, i);
		set_paths(&m, &scratch);
		run_child(&m, NULL);
		check_moment(&m);
		scratch_remove(&scratch);
		total.moments++;
	}
	print_message(
		"%d moments, seed %u: %d while the session was made (%d before it was there), "
		"%d with a torn end, %d after the end; %d looks by the program; worst loss "
		"%.3f s\n",
		total.moments, seed, total.during_creation, total.unpublished, total.torn,
		total.finished, total.seen, (double)total.worst.ns / 1e9);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_whole),
		cmocka_unit_test(test_pieces),
		cmocka_unit_test(test_killed),
	};

	program = getenv("NODOFF");
	if (program && !*program)
		program = NULL;
	feed_make(&feed);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
