/* SPDX-License-Identifier: MIT */
/* Sessions judged side by side. Each has a process of its own: a crash in one
 * is a result like any other, and no memory is shared. */
#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "door.h"
#include "gate-digest.h"
#include "gate.h"

/* A process that judged to the end leaves with this and its state; anything
 * else (a sanitizer's 1, say) is no outcome. */
#define EXIT_BASE 64

/* ... or with this: the result that is there is that of the same session. */
#define UNCHANGED (NOD_GATE_UNREADABLE + 1)

struct job {
	pid_t pid; /* 0: free */
	size_t session;
	FILE *outcome;
};

/* One run. */
struct run {
	const struct nod_gate_sessions *sessions;
	struct nod_gate_result *results;
	const struct nod_gate_plan *plan;
};

/* Says the digest, where digests are wanted. */
static bool is_unchanged(const struct run *run, size_t index, FILE *out)
{
	const struct nod_gate_result *before = &run->results[index];
	char digest[NOD_DIGEST_TEXT];

	if (!run->plan->program ||
	    nod_gate_digest(digest, &run->sessions->list[index], run->plan->program))
		return false;
	fprintf(out, "X %s\n", digest);
	return before->text && before->state != NOD_GATE_UNREADABLE &&
	       !strcmp(digest, before->digest);
}

/* In the child: everything it says goes into the outcome. */
__attribute__((noreturn)) static void work(const struct run *run, size_t index, FILE *outcome)
{
	const struct nod_gate_session *session = &run->sessions->list[index];
	dup2(fileno(outcome), STDERR_FILENO);
	FILE *out = fdopen(STDERR_FILENO, "w");
	setvbuf(stderr, NULL, _IONBF, 0);
	if (!out) {
		nod_unreadable("%s", strerror(errno));
		_exit(EXIT_BASE + NOD_GATE_UNREADABLE);
	}
	if (is_unchanged(run, index, out))
		_exit(EXIT_BASE + UNCHANGED);
	enum nod_gate_state state = nod_gate_judge(session, out);
	_exit(fflush(out) ? NOD_EXIT_FAILED : EXIT_BASE + (int)state);
}

static int start(struct job *job, const struct run *run, size_t index)
{
	job->outcome = tmpfile();
	if (!job->outcome)
		return nod_unreadable("temporary file: %s", strerror(errno));
	job->session = index;
	fflush(NULL);
	job->pid = fork();
	if (job->pid == 0)
		work(run, index, job->outcome);
	if (job->pid > 0)
		return NOD_EXIT_OK;
	job->pid = 0;
	fclose(job->outcome);
	return nod_unreadable("cannot start a process: %s", strerror(errno));
}

/* NULL with errno when it cannot be read. */
static char *read_outcome(FILE *file)
{
	char *text = NULL;
	size_t size;

	rewind(file);
	errno = 0;
	if (getdelim(&text, &size, '\0', file) < 0) { /* nothing in it, or an error */
		free(text);
		text = errno || ferror(file) ? NULL : strdup("");
	}
	return text;
}

static int keep(const struct run *run, size_t index, enum nod_gate_state state, char *text)
{
	struct nod_gate_result *result = &run->results[index];

	free(result->text);
	nod_gate_result_read(result, state, text);
	return run->plan->done ? run->plan->done(run->plan->context, index) : NOD_EXIT_OK;
}

static int finish(struct job *job, int status, const struct run *run)
{
	char *text = read_outcome(job->outcome), *more = NULL;
	int code = errno;
	enum nod_gate_state state = NOD_GATE_UNREADABLE;
	int left = WIFEXITED(status) ? WEXITSTATUS(status) - EXIT_BASE : -1;

	fclose(job->outcome);
	job->pid = 0;
	if (left == UNCHANGED) {
		run->results[job->session].unchanged = true;
		free(text);
		return NOD_EXIT_OK;
	}
	if (left >= 0 && left <= NOD_GATE_UNREADABLE)
		state = (enum nod_gate_state)left;
	else if (text && asprintf(&more, "D the analysis broke off (%s)\n%s",
				  WIFSIGNALED(status) ? strsignal(WTERMSIG(status)) : "by itself",
				  text) >= 0) {
		free(text);
		text = more;
	}
	if (!text)
		return nod_unreadable("what was found cannot be read: %s", strerror(code));
	return keep(run, job->session, state, text);
}

/* Waits for one of the jobs. */
static int collect(struct job *jobs, const struct run *run)
{
	int status;
	pid_t pid;

	while ((pid = wait(&status)) < 0)
		if (errno != EINTR)
			return nod_unreadable("wait: %s", strerror(errno));
	for (unsigned i = 0; i < run->plan->jobs; i++)
		if (jobs[i].pid == pid)
			return finish(&jobs[i], status, run);
	return NOD_EXIT_OK;
}

static struct job *free_job(struct job *jobs, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (!jobs[i].pid)
			return &jobs[i];
	return NULL;
}

static bool busy(const struct job *jobs, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (jobs[i].pid)
			return true;
	return false;
}

/* After a failure of our own: nobody is left behind. */
static void stop(struct job *jobs, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (jobs[i].pid) {
			kill(jobs[i].pid, SIGTERM);
			waitpid(jobs[i].pid, NULL, 0);
			fclose(jobs[i].outcome);
		}
}

/* A terminal sees how far it is; nothing else does. */
static void tell_progress(size_t done, size_t all)
{
	if (!isatty(STDERR_FILENO))
		return;
	nod_door_control(stderr, "\r");
	fprintf(stderr, "%zu of %zu", done, all);
	nod_door_control(stderr, done == all ? "\r\033[K" : "");
}

int nod_gate_run(const struct nod_gate_sessions *sessions, struct nod_gate_result *results,
		 const struct nod_gate_plan *plan)
{
	const struct run run = {sessions, results, plan};
	unsigned count = plan->jobs;
	struct job *jobs = calloc(count, sizeof(*jobs));
	size_t next = 0, done = 0;
	int code = jobs ? NOD_EXIT_OK : nod_unreadable("out of memory");

	while (!code && (next < sessions->count || busy(jobs, count))) {
		struct job *job = next < sessions->count ? free_job(jobs, count) : NULL;
		if (job) {
			code = start(job, &run, next++);
			continue;
		}
		code = collect(jobs, &run);
		tell_progress(++done, sessions->count);
	}
	if (jobs)
		stop(jobs, count);
	free(jobs);
	return code;
}
