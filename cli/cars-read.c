/* SPDX-License-Identifier: MIT */
#include "cars-read.h"

#include <fcntl.h>
#include <stdio.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "jobs.h"
#include "terminal.h"

/* A child that has put in what it found leaves with this; anything else is a crash. */
#define DONE 64

#define JOBS_MAX 8

struct reading {
	struct nod_cars_index *index;
	const struct nod_cars_session *missing;
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

static void work(void *context, size_t piece)
{
	const struct reading *reading = context;
	const struct nod_cars_session *session = &reading->missing[piece];
	const struct nod_judge_options options = {.quiet = true, .vin = true};
	struct nod_arena arena = {0};
	struct nod_judged judged;
	struct nod_car car;

	if (session->endless)
		_exit(NOD_EXIT_UNREADABLE);
	int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);

	if (nowhere >= 0) {
		dup2(nowhere, STDERR_FILENO);
		dup2(nowhere, STDOUT_FILENO);
	}
	const char *path = session->path;
	int code = nod_judge(&judged, &path, 1, &options);
	if (code == NOD_EXIT_OK && nod_cars_describe(&car, &arena, &judged, path))
		_exit(NOD_EXIT_UNREADABLE);
	_exit(nod_cars_index_put(reading->index, session, code == NOD_EXIT_OK ? &car : NULL)
		      ? NOD_EXIT_FAILED
		      : DONE);
}

/* One that crashed stands for a recording that cannot be read. */
static int finish(void *context, size_t piece, int status)
{
	const struct reading *reading = context;
	bool done = WIFEXITED(status) && WEXITSTATUS(status) == DONE;

	if (!done && !nod_terminal_is_interrupted())
		nod_cars_index_put(reading->index, &reading->missing[piece], NULL);
	return NOD_EXIT_OK;
}

int nod_cars_read(struct nod_cars_index *index, const struct nod_cars_sessions *missing)
{
	long processors = sysconf(_SC_NPROCESSORS_ONLN);
	struct reading reading = {index, missing->list};
	const struct nod_jobs jobs = {.count = missing->count,
				      .most = processors < 1          ? 1
					      : processors > JOBS_MAX ? JOBS_MAX
								      : (unsigned)processors,
				      .name = missing->count < 2 ? NULL : "recordings of cars: ",
				      .work = work,
				      .finish = finish,
				      .is_enough = nod_terminal_is_interrupted,
				      .context = &reading};
	size_t done = 0;

	nod_terminal_catch_interrupt();
	int code = nod_jobs_run(&jobs, &done);
	if (nod_terminal_is_interrupted())
		fprintf(stderr, "interrupted: %zu recordings are not known yet\n",
			missing->count - done);
	nod_terminal_let_go();
	return code;
}
