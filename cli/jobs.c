/* SPDX-License-Identifier: MIT */
#include "jobs.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "door.h"

struct job {
	pid_t pid; /* 0: free */
	size_t piece;
};

static int start(struct job *job, const struct nod_jobs *jobs, size_t piece)
{
	int code = jobs->prepare ? jobs->prepare(jobs->context, piece) : NOD_EXIT_OK;

	if (code)
		return code;
	job->piece = piece;
	fflush(NULL);
	job->pid = fork();
	if (job->pid == 0) {
		jobs->work(jobs->context, piece);
		_exit(NOD_EXIT_FAILED);
	}
	if (job->pid > 0)
		return NOD_EXIT_OK;
	job->pid = 0;
	return nod_unreadable("cannot start a process: %s", strerror(errno));
}

/* Waits for one of them. */
static int collect(struct job *list, const struct nod_jobs *jobs)
{
	int status;
	pid_t pid;

	while ((pid = wait(&status)) < 0)
		if (errno != EINTR)
			return nod_unreadable("wait: %s", strerror(errno));
	for (unsigned i = 0; i < jobs->most; i++)
		if (list[i].pid == pid) {
			list[i].pid = 0;
			return jobs->finish(jobs->context, list[i].piece, status);
		}
	return NOD_EXIT_OK;
}

static struct job *free_job(struct job *list, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (!list[i].pid)
			return &list[i];
	return NULL;
}

static bool is_busy(const struct job *list, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (list[i].pid)
			return true;
	return false;
}

/* After a failure of our own. */
static void stop(struct job *list, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		if (list[i].pid) {
			kill(list[i].pid, SIGTERM);
			waitpid(list[i].pid, NULL, 0);
		}
}

/* A terminal sees how far it is; nothing else does. */
static void tell_progress(const struct nod_jobs *jobs, size_t done)
{
	if (!isatty(STDERR_FILENO) || !jobs->name)
		return;
	nod_door_control(stderr, "\r");
	fprintf(stderr, "%s%zu of %zu", jobs->name, done, jobs->count);
	nod_door_control(stderr, done == jobs->count ? "\r\033[K" : "\033[K");
}

int nod_jobs_run(const struct nod_jobs *jobs, size_t *finished)
{
	struct job *list = calloc(jobs->most, sizeof(*list));
	size_t next = 0, done = 0;
	int code = list ? NOD_EXIT_OK : nod_unreadable("out of memory");

	while (!code) {
		bool more = next < jobs->count && !(jobs->is_enough && jobs->is_enough());
		struct job *job = more ? free_job(list, jobs->most) : NULL;
		if (!job && !is_busy(list, jobs->most))
			break;
		if (job) {
			code = start(job, jobs, next++);
			continue;
		}
		code = collect(list, jobs);
		tell_progress(jobs, ++done);
	}
	if (list)
		stop(list, jobs->most);
	free(list);
	if (finished)
		*finished = done;
	return code;
}
