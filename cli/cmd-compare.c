/* SPDX-License-Identifier: MIT */
/* nodoff compare: before and after a repair. */
#include <stdio.h>

#include "command.h"
#include "compare.h"
#include "judged.h"
#include "option.h"

int nod_cmd_compare(int argc, char **argv);

static const char help[] =
	"usage: nodoff compare BEFORE AFTER [OPTION ...]\n"
	"\n"
	"Compares two sessions of one car: what slept when, wake-ups, current, messages\n"
	"that appeared, vanished or changed. The answer is fixed, better, no change,\n"
	"worse or cannot tell; a fix counts as proved only by a long enough sleep, and\n"
	"how long follows from the session before.\n"
	"\n"
	"  -v, --vehicle FILE   your map of the car (default: each session's own)\n"
	"  -j, --json           for programs\n";

static int show(const struct nod_judged *before, const struct nod_judged *after, bool json)
{
	struct nod_arena arena = {0};
	struct nod_comparison *c = nod_compare(
		&arena, (struct nod_compare_side){before->findings, before->timeline},
		(struct nod_compare_side){after->findings, after->timeline});
	int code;

	if (!c) {
		code = nod_unreadable("out of memory");
	} else if (json) {
		code = nod_option_print_json(nod_comparison_json(c));
	} else {
		nod_comparison_print(stdout, c);
		code = nod_option_finish();
	}
	nod_arena_free(&arena);
	return code;
}

static int run(char **paths, const char *vehicle, bool json)
{
	struct nod_judge_options options = {.vehicle = vehicle, .timeline = true};
	struct nod_judged before = {0}, after = {0};
	int code = nod_judge(&before, (const char *const *)&paths[0], 1, &options);

	if (!code)
		code = nod_judge(&after, (const char *const *)&paths[1], 1, &options);
	if (!code)
		code = show(&before, &after, json);
	nod_judged_close(&after);
	nod_judged_close(&before);
	return code;
}

struct arguments {
	const char *vehicle;
	bool json;
};

int nod_cmd_compare(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('v', "vehicle", struct arguments, vehicle),
		NOD_FLAG('j', "json", struct arguments, json),
		{0}};
	static const struct nod_options options = {
		.command = "compare", .help = help, .list = list};
	struct arguments a = {0};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first + 2 != argc)
		return nod_usage("compare", "expected two sessions: before and after");
	return run(argv + first, a.vehicle, a.json);
}
