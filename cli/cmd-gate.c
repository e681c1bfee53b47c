/* SPDX-License-Identifier: MIT */
/* nodoff gate: does nodoff still say of each session what it must say? */
#include <ctype.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "gate-digest.h"
#include "gate-lines.h"
#include "gate.h"
#include "option.h"
#include "output.h"
#include "text-stream.h"

/* Chosen: more processes than any machine at hand has cores. */
#define JOBS_MAX 1024

struct gate {
	const char *junit, *update, *results;
	bool tap, json, yes, merge;
	unsigned jobs;
	struct nod_gate_shard shard;
};

int nod_cmd_gate(int argc, char **argv);

static const char help[] =
	"usage: nodoff gate [OPTION ...] FOLDER\n"
	"       nodoff gate --merge [OPTION ...] RESULTS ...\n"
	"       nodoff gate --update SESSION [--yes]\n"
	"\n"
	"Judges every session in and below a folder and compares with what is expected\n"
	"of it: expect.txt in a session directory, CAPTURE.expect.txt beside a bare\n"
	"capture. A session directory without one fails.\n"
	"\n"
	"      --tap            TAP version 13 instead of text for a person\n"
	"      --junit FILE     JUnit XML, too (- for standard output, alone)\n"
	"      --json           JSON Lines: the shard, then a session a line\n"
	"      --jobs N         sessions at a time (default: the cores there are)\n"
	"      --results FILE   keeps them in FILE as JSON Lines, each as soon as it is\n"
	"                       known. What stands there is not judged again unless the\n"
	"                       session, its expectation or nodoff itself changed: a run\n"
	"                       that was killed goes on where it was.\n"
	"      --shard K/N      only the Kth of N parts of the sessions, by their names\n"
	"      --merge          puts the results of all shards together, shows them as\n"
	"                       above, and ends with their exit status\n"
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
	if (g->json)
		nod_gate_show_lines(stdout, &g->shard, sessions, results);
	else if (g->tap)
		nod_gate_show_tap(stdout, sessions, results);
	else if (!g->junit || strcmp(g->junit, "-"))
		nod_gate_show(stdout, sessions, results);
	if (!code)
		code = nod_option_finish();
	return code ? code : exit_status(results, sessions->count);
}

static void free_all(struct nod_gate_sessions *sessions, struct nod_gate_result *results)
{
	for (size_t i = 0; results && i < sessions->count; i++)
		free(results[i].text);
	free(results);
	nod_gate_sessions_free(sessions);
}

/* Leaves those of the shard. */
static void take_shard(const struct nod_gate_shard *shard, struct nod_gate_sessions *sessions)
{
	size_t kept = 0;

	for (size_t i = 0; i < sessions->count; i++)
		if (nod_gate_shard_has(shard, sessions->list[i].name))
			sessions->list[kept++] = sessions->list[i];
		else
			nod_gate_session_free(&sessions->list[i]);
	sessions->count = kept;
}

static int add_line(void *lines, size_t session)
{
	return nod_gate_lines_add(lines, session);
}

static int judge(const struct gate *g, const struct nod_gate_sessions *sessions,
		 struct nod_gate_result *results)
{
	struct nod_gate_plan plan = {.jobs = g->jobs,
				     .program = *g->shard.program ? g->shard.program : NULL};
	struct nod_gate_lines *lines = NULL;

	if (g->results) {
		lines = nod_gate_lines_open(g->results, &g->shard, sessions, results);
		if (!lines)
			return NOD_EXIT_UNREADABLE;
		plan.done = add_line;
		plan.context = lines;
	}
	int code = nod_gate_run(sessions, results, &plan), closed;
	closed = nod_gate_lines_close(lines, !code);
	return code ? code : closed;
}

static int run(struct gate *g, const char *folder)
{
	struct nod_gate_sessions sessions;
	struct nod_gate_result *results = NULL;
	int code = nod_gate_find(&sessions, folder);

	if (!code && (g->results || g->json))
		code = nod_gate_digest_program(g->shard.program);
	if (!code) {
		take_shard(&g->shard, &sessions);
		results = calloc(sessions.count + 1, sizeof(*results));
		code = results ? judge(g, &sessions, results) : nod_unreadable("out of memory");
	}
	if (!code)
		code = show(g, &sessions, results);
	free_all(&sessions, results);
	return code;
}

static int merge(struct gate *g, char **paths, int count)
{
	struct nod_gate_sessions sessions;
	struct nod_gate_result *results;
	int code = nod_gate_merge(paths, (size_t)count, &g->shard, &sessions, &results);

	if (!code)
		code = show(g, &sessions, results);
	free_all(&sessions, results);
	return code;
}

static int set_shard(void *self, const struct nod_given *given)
{
	struct gate *g = self;
	char *slash, *end;
	unsigned long shard = strtoul(given->value, &slash, 10);
	unsigned long shards = *slash == '/' ? strtoul(slash + 1, &end, 10) : 0;

	if (!isdigit((unsigned char)*given->value) || !shards ||
	    !isdigit((unsigned char)slash[1]) || *end || !shard || shard > shards ||
	    shards > NOD_GATE_SHARDS_MAX)
		return nod_usage("gate", "--shard: expected K/N, such as 3/16");
	g->shard.shard = (unsigned)shard;
	g->shard.shards = (unsigned)shards;
	return NOD_EXIT_OK;
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
	if (g->update && (left || g->tap || g->json || g->junit || g->merge || g->results))
		return nod_usage("gate", "--update takes one session and nothing else");
	if (g->yes && !g->update)
		return nod_usage("gate", "--yes belongs to --update");
	if ((g->tap || g->json) && g->junit && !strcmp(g->junit, "-"))
		return nod_usage("gate", "--%s and --junit - both want standard output",
				 g->tap ? "tap" : "json");
	if (g->tap && g->json)
		return nod_usage("gate", "--tap and --json both want standard output");
	if (g->merge && (g->results || g->shard.shards > 1))
		return nod_usage("gate", "--merge takes the files of results and judges nothing");
	if (g->merge)
		return left ? NOD_EXIT_OK : nod_usage("gate", "--merge: no file of results given");
	if (!g->update && left != 1)
		return nod_usage("gate", left ? "one folder at a time" : "no folder given");
	return NOD_EXIT_OK;
}

int nod_cmd_gate(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_FLAG(0, "tap", struct gate, tap),
						 NOD_FLAG(0, "json", struct gate, json),
						 NOD_TEXT(0, "junit", struct gate, junit),
						 NOD_TAKE(0, "jobs", set_jobs),
						 NOD_TEXT(0, "results", struct gate, results),
						 NOD_TAKE(0, "shard", set_shard),
						 NOD_FLAG(0, "merge", struct gate, merge),
						 NOD_TAKE(0, "update", set_update),
						 NOD_FLAG(0, "yes", struct gate, yes),
						 {0}};
	static const struct nod_options options = {.command = "gate", .help = help, .list = list};
	struct gate g = {.jobs = cores(), .shard = {1, 1, ""}};
	int status, first = nod_options_walk(&options, &g, argc, argv, &status);

	if (!first)
		return status;
	status = check(&g, argc - first);
	if (status)
		return status;
	if (g.update)
		return nod_gate_update(g.update, g.yes);
	return g.merge ? merge(&g, argv + first, argc - first) : run(&g, argv[first]);
}
