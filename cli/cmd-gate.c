/* SPDX-License-Identifier: MIT */
/* nodoff gate: does nodoff still say of each session what it must say? */
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "gate.h"
#include "option.h"
#include "output.h"
#include "text-stream.h"

/* Chosen: more processes than any machine at hand has cores. */
#define JOBS_MAX 1024

struct gate {
	const char *junit, *update;
	bool tap, yes;
	unsigned jobs;
};

int nod_cmd_gate(int argc, char **argv);

static const char help[] =
	"usage: nodoff gate [OPTION ...] FOLDER\n"
	"       nodoff gate --update SESSION [--yes]\n"
	"\n"
	"Judges every session in and below a folder and compares with what is expected\n"
	"of it: expect.txt in a session directory, CAPTURE.expect.txt beside a bare\n"
	"capture. A session directory without one fails.\n"
	"\n"
	"      --tap            TAP version 13 instead of text for a person\n"
	"      --junit FILE     JUnit XML, too (- for standard output, alone)\n"
	"      --jobs N         sessions at a time (default: the cores there are)\n"
	"      --update SESSION show how the expectation of one session would change, or\n"
	"                       what a first one would say; a terminal is asked\n"
	"      --yes            with --update: write it\n"
	"\n"
	"An expectation is one demand a line, \"key: value\", # begins a comment:\n"
	"  verdict: kept awake                 culprit: seat heater unit | none named\n"
	"  role: holder                        probability: >= 90 %\n"
	"  network body: kept awake            slept-at body: <= 120 s after lock | never\n"
	"  sleeps-by body: 120 s after lock    wakes body: 3\n"
	"  wakes-explained body: 1             wakes-by: light module left\n"
	"  quiescent: <= 50 mA                 sentence: the whole sentence\n"
	"  locked: +12 min                     vehicle: car.yaml\n"
	"  known-miss culprit: why it is not met yet (counted, but no failure)\n"
	"Bounds are <= and >=; without one a time is exact to the millisecond.\n"
	"\n"
	"Exit status: 0 all as expected, 1 a difference or no expectation, 2 usage,\n"
	"4 something cannot be read.\n";

/* All cores this process may use. */
static unsigned cores(void)
{
	cpu_set_t set;
	int count = sched_getaffinity(0, sizeof(set), &set) ? 1 : CPU_COUNT(&set);
	return count > 0 ? (unsigned)count : 1;
}

static int set_jobs(void *self, const struct nod_given *given)
{
	struct gate *g = self;
	char *end;
	unsigned long n = strtoul(given->value, &end, 10);

	if (*given->value < '0' || *given->value > '9' || *end || n < 1 || n > JOBS_MAX)
		return nod_usage("gate", "--jobs: expected a number from 1 to %d", JOBS_MAX);
	g->jobs = (unsigned)n;
	return NOD_EXIT_OK;
}

static int write_junit(const struct gate *g, const struct nod_gate_sessions *sessions,
		       const struct nod_gate_result *results)
{
	struct nod_text_stream page;

	if (nod_text_stream_open(&page))
		return nod_unreadable("out of memory");
	nod_gate_show_junit(page.out, sessions, results);
	int code = nod_text_stream_close(&page)
			   ? nod_unreadable("out of memory")
			   : nod_output_write(g->junit, page.text, page.size, true);
	free(page.text);
	return code;
}

static int exit_status(const struct nod_gate_result *results, size_t count)
{
	int code = NOD_EXIT_OK;

	for (size_t i = 0; i < count; i++) {
		if (results[i].state == NOD_GATE_UNREADABLE)
			return NOD_EXIT_UNREADABLE;
		if (results[i].state == NOD_GATE_DIFFERENT || results[i].state == NOD_GATE_MISSING)
			code = NOD_EXIT_FAILED;
	}
	return code;
}

static int show(const struct gate *g, const struct nod_gate_sessions *sessions,
		const struct nod_gate_result *results)
{
	int code = NOD_EXIT_OK;

	if (g->junit)
		code = write_junit(g, sessions, results);
	if (g->tap)
		nod_gate_show_tap(stdout, sessions, results);
	else if (!g->junit || strcmp(g->junit, "-"))
		nod_gate_show(stdout, sessions, results);
	if (!code)
		code = nod_option_finish();
	return code ? code : exit_status(results, sessions->count);
}

static int run(const struct gate *g, const char *folder)
{
	struct nod_gate_sessions sessions;
	struct nod_gate_result *results = NULL;
	int code = nod_gate_find(&sessions, folder);

	if (!code) {
		results = calloc(sessions.count, sizeof(*results));
		code = results ? nod_gate_run(&sessions, results, g->jobs)
			       : nod_unreadable("out of memory");
	}
	if (!code)
		code = show(g, &sessions, results);
	for (size_t i = 0; results && i < sessions.count; i++)
		free(results[i].text);
	free(results);
	nod_gate_sessions_free(&sessions);
	return code;
}

static int set_update(void *self, const struct nod_given *given)
{
	struct gate *g = self;

	if (g->update)
		return nod_usage("gate", "--update takes one session at a time");
	g->update = given->value;
	return NOD_EXIT_OK;
}

static int check(const struct gate *g, int left)
{
	if (g->update && (left || g->tap || g->junit))
		return nod_usage("gate", "--update takes one session and nothing else");
	if (g->yes && !g->update)
		return nod_usage("gate", "--yes belongs to --update");
	if (g->tap && g->junit && !strcmp(g->junit, "-"))
		return nod_usage("gate", "--tap and --junit - both want standard output");
	if (!g->update && left != 1)
		return nod_usage("gate", left ? "one folder at a time" : "no folder given");
	return NOD_EXIT_OK;
}

int nod_cmd_gate(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_FLAG(0, "tap", struct gate, tap), NOD_TEXT(0, "junit", struct gate, junit),
		NOD_TAKE(0, "jobs", set_jobs),        NOD_TAKE(0, "update", set_update),
		NOD_FLAG(0, "yes", struct gate, yes), {0}};
	static const struct nod_options options = {.command = "gate", .help = help, .list = list};
	struct gate g = {.jobs = cores()};
	int status, first = nod_options_walk(&options, &g, argc, argv, &status);

	if (!first)
		return status;
	status = check(&g, argc - first);
	if (status)
		return status;
	return g.update ? nod_gate_update(g.update, g.yes) : run(&g, argv[first]);
}
