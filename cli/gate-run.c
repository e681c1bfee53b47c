/* SPDX-License-Identifier: MIT */
/* Sessions judged side by side (jobs.h). */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command.h"
#include "gate-digest.h"
#include "gate.h"
#include "jobs.h"

/* A process that judged to the end leaves with this and its state; anything
 * else (a sanitizer's 1, say) is no outcome. */
#define EXIT_BASE 64

/* ... or with this: the result that is there is that of the same session. */
#define UNCHANGED (NOD_GATE_UNREADABLE + 1)

/* One run. */
struct run {
	const struct nod_gate_sessions *sessions;
	struct nod_gate_result *results;
	const struct nod_gate_plan *plan;
	FILE **outcomes; /* by session; NULL: none is open */
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
static void work(void *context, size_t index)
{
	const struct run *run = context;
	const struct nod_gate_session *session = &run->sessions->list[index];
	dup2(fileno(run->outcomes[index]), STDERR_FILENO);
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

static int prepare(void *context, size_t index)
{
	const struct run *run = context;

	run->outcomes[index] = tmpfile();
	return run->outcomes[index] ? NOD_EXIT_OK
				    : nod_unreadable("temporary file: %s", strerror(errno));
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

static int finish(void *context, size_t index, int status)
{
	const struct run *run = context;
	char *text = read_outcome(run->outcomes[index]), *more = NULL;
	int code = errno;
	enum nod_gate_state state = NOD_GATE_UNREADABLE;
	int left = WIFEXITED(status) ? WEXITSTATUS(status) - EXIT_BASE : -1;

	fclose(run->outcomes[index]);
	run->outcomes[index] = NULL;
	if (left == UNCHANGED) {
		run->results[index].unchanged = true;
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
	return keep(run, index, state, text);
}

int nod_gate_run(const struct nod_gate_sessions *sessions, struct nod_gate_result *results,
		 const struct nod_gate_plan *plan)
{
	struct run run = {sessions, results, plan, calloc(sessions->count + 1, sizeof(FILE *))};
	const struct nod_jobs jobs = {.count = sessions->count,
				      .most = plan->jobs,
				      .name = "",
				      .prepare = prepare,
				      .work = work,
				      .finish = finish,
				      .context = &run};
	int code = run.outcomes ? nod_jobs_run(&jobs, NULL) : nod_unreadable("out of memory");

	for (size_t i = 0; run.outcomes && i < sessions->count; i++)
		if (run.outcomes[i])
			fclose(run.outcomes[i]);
	free(run.outcomes);
	return code;
}
