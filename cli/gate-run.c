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
#include "gate.h"

/* A process that judged to the end leaves with this and its state; anything
 * else (a sanitizer's 1, say) is no outcome. */
#define EXIT_BASE 64

struct job {
	pid_t pid; /* 0: free */
	size_t session;
	FILE *outcome;
};

/* In the child: everything it says goes into the outcome. */
__attribute__((noreturn)) static void work(const struct nod_gate_session *session, FILE *outcome)
{
	dup2(fileno(outcome), STDERR_FILENO);
	FILE *out = fdopen(STDERR_FILENO, "w");
	setvbuf(stderr, NULL, _IONBF, 0);
	if (!out) {
		nod_unreadable("%s", strerror(errno));
		_exit(EXIT_BASE + NOD_GATE_UNREADABLE);
	}
	enum nod_gate_state state = nod_gate_judge(session, out);
	_exit(fflush(out) ? NOD_EXIT_FAILED : EXIT_BASE + (int)state);
}

static int start(struct job *job, const struct nod_gate_sessions *sessions, size_t index)
{
	job->outcome = tmpfile();
	if (!job->outcome)
		return nod_unreadable("temporary file: %s", strerror(errno));
	job->session = index;
	fflush(NULL);
	job->pid = fork();
	if (job->pid == 0)
		work(&sessions->list[index], job->outcome);
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

static int finish(struct job *job, int status, struct nod_gate_result *results)
{
	char *text = read_outcome(job->outcome), *more = NULL;
	int code = errno;
	enum nod_gate_state state = NOD_GATE_UNREADABLE;
	int left = WIFEXITED(status) ? WEXITSTATUS(status) - EXIT_BASE : -1;

	fclose(job->outcome);
	job->pid = 0;
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
	nod_gate_result_read(&results[job->session], state, text);
	return NOD_EXIT_OK;
}

/* Waits for one of the jobs. */
static int collect(struct job *jobs, unsigned count, struct nod_gate_result *results)
{
	int status;
	pid_t pid;

	while ((pid = wait(&status)) < 0)
		if (errno != EINTR)
			return nod_unreadable("wait: %s", strerror(errno));
	for (unsigned i = 0; i < count; i++)
		if (jobs[i].pid == pid)
			return finish(&jobs[i], status, results);
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
		 unsigned count)
{
	struct job *jobs = calloc(count, sizeof(*jobs));
	size_t next = 0, done = 0;
	int code = jobs ? NOD_EXIT_OK : nod_unreadable("out of memory");

	while (!code && (next < sessions->count || busy(jobs, count))) {
		struct job *job = next < sessions->count ? free_job(jobs, count) : NULL;
		if (job) {
			code = start(job, sessions, next++);
			continue;
		}
		code = collect(jobs, count, results);
		tell_progress(++done, sessions->count);
	}
	if (jobs)
		stop(jobs, count);
	free(jobs);
	return code;
}
