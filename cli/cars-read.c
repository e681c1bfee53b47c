/* SPDX-License-Identifier: MIT */
#include "cars-read.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "door.h"
#include "terminal.h"

/* A child that has put in what it found leaves with this; anything else is a crash. */
#define DONE 64

#define JOBS_MAX 8

struct job {
	pid_t pid; /* 0: free */
	const struct nod_cars_session *session;
};

int nod_cars_describe(struct nod_car *car, struct nod_arena *arena, const struct nod_judged *j,
		      const char *path)
{
	const char *said = nod_session_about(j->session, "vin");
	const char *title = nod_session_about(j->session, "title");
	char vin[NOD_VIN_LENGTH + 1] = "";

	if (said)
		nod_vin_find_text(vin, said);
	if (!*vin && title)
		nod_vin_find_text(vin, title);
	return nod_car_describe(car, arena, j->findings, path,
				*vin ? vin : nod_vin_heard_text(&j->vin));
}

__attribute__((noreturn)) static void work(struct nod_cars_index *index,
					   const struct nod_cars_session *session)
{
	const struct nod_judge_options options = {.quiet = true, .vin = true};
	struct nod_arena arena = {0};
	struct nod_judged judged;
	struct nod_car car;
	int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);

	if (nowhere >= 0) {
		dup2(nowhere, STDERR_FILENO);
		dup2(nowhere, STDOUT_FILENO);
	}
	const char *path = session->path;
	int code = nod_judge(&judged, &path, 1, &options);
	if (code == NOD_EXIT_OK && nod_cars_describe(&car, &arena, &judged, path))
		_exit(NOD_EXIT_UNREADABLE);
	_exit(nod_cars_index_put(index, session, code == NOD_EXIT_OK ? &car : NULL)
		      ? NOD_EXIT_FAILED
		      : DONE);
}

static int start(struct job *job, struct nod_cars_index *index,
		 const struct nod_cars_session *session)
{
	if (session->endless) {
		nod_cars_index_put(index, session, NULL);
		return NOD_EXIT_OK;
	}
	fflush(NULL);
	job->session = session;
	job->pid = fork();
	if (job->pid == 0)
		work(index, session);
	if (job->pid > 0)
		return NOD_EXIT_OK;
	job->pid = 0;
	return nod_unreadable("cannot start a process: %s", strerror(errno));
}

/* Waits for one of the jobs; one that crashed stands for a recording that cannot be read. */
static void collect(struct job jobs[JOBS_MAX], struct nod_cars_index *index)
{
	int status;
	pid_t pid;

	do
		pid = wait(&status);
	while (pid < 0 && errno == EINTR);
	for (int i = 0; i < JOBS_MAX; i++) {
		if (jobs[i].pid && (jobs[i].pid == pid || pid < 0))
			jobs[i].pid = 0;
		else
			continue;
		bool done = WIFEXITED(status) && WEXITSTATUS(status) == DONE;
		if (pid > 0 && !done && !nod_terminal_is_interrupted())
			nod_cars_index_put(index, jobs[i].session, NULL);
	}
}

static struct job *free_job(struct job *jobs, long count)
{
	for (long i = 0; i < count; i++)
		if (!jobs[i].pid)
			return &jobs[i];
	return NULL;
}

static bool is_busy(const struct job *jobs)
{
	for (int i = 0; i < JOBS_MAX; i++)
		if (jobs[i].pid)
			return true;
	return false;
}

static void tell_progress(size_t done, size_t all)
{
	if (!isatty(STDERR_FILENO) || all < 2)
		return;
	nod_door_control(stderr, "\r");
	fprintf(stderr, "recordings of cars: %zu of %zu", done, all);
	nod_door_control(stderr, done == all ? "\r\033[K" : "\033[K");
}

int nod_cars_read(struct nod_cars_index *index, const struct nod_cars_sessions *missing)
{
	struct job jobs[JOBS_MAX] = {{0, NULL}};
	long processors = sysconf(_SC_NPROCESSORS_ONLN);
	long count = processors < 1 ? 1 : processors > JOBS_MAX ? JOBS_MAX : processors;
	size_t next = 0, done = 0;
	int code = NOD_EXIT_OK;

	nod_terminal_catch_interrupt();
	while (is_busy(jobs) || (!code && next < missing->count)) {
		bool more = !code && next < missing->count && !nod_terminal_is_interrupted();
		struct job *job = more ? free_job(jobs, count) : NULL;
		if (job) {
			code = start(job, index, &missing->list[next++]);
		} else if (is_busy(jobs)) {
			collect(jobs, index);
			tell_progress(++done, missing->count);
		} else {
			break;
		}
	}
	if (nod_terminal_is_interrupted())
		fprintf(stderr, "interrupted: %zu recordings are not known yet\n",
			missing->count - done);
	nod_terminal_let_go();
	return code;
}
