/* SPDX-License-Identifier: MIT */
/* nodoff analyse: from a recording to the answer. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "answer.h"
#include "command.h"
#include "door.h"
#include "option.h"
#include "terminal.h"
#include "cars.h"
#include "judged.h"

struct analyse {
	struct nod_judge_options judge;
	const char *good_path;
	const char *earlier_paths[NOD_EARLIER_MAX];
	size_t earlier_count;
	struct nod_judged good, earlier[NOD_EARLIER_MAX];
	const struct nod_findings *earlier_findings[NOD_EARLIER_MAX];
	struct nod_cars_choice cars;
	bool json, full, idents, colour;
};

int nod_cmd_analyse(int argc, char **argv);

static const char help[] =
	"usage: nodoff analyse [OPTION ...] CAPTURE|SESSION ...\n"
	"\n"
	"Says whether each network of a parked car slept in time, and if not, which\n"
	"module stops it, why, and what to isolate next. Reads candump logs (plain, gzip,\n"
	"zstd), pcap and pcapng, several merged by time, a session directory, or - for\n"
	"standard input.\n"
	"\n"
	"  -v, --vehicle FILE     your map of the car (default: the session's own)\n"
	"  -l, --locked TIME      when the car was locked: 19:30, 14:03:12, \"+12 min\"\n"
	"                         (from the start), 2023-11-14 23:13 Europe/Berlin,\n"
	"                         ISO 8601 or UNIX seconds (default: the journal, a\n"
	"                         header \"# locked: SECONDS\", or else the start)\n"
	"  -g, --good SESSION     a recording of the same or a like car that slept well:\n"
	"                         what is different here becomes evidence\n"
	"  -e, --earlier SESSION  an earlier session of this car: what was isolated there\n"
	"                         counts here as well (may be given several times)\n"
	"      --cars DIRECTORY   a folder of recordings: the last good sleep of this car\n"
	"                         (by its VIN) is its --good, what was isolated since\n"
	"                         counts as --earlier, and solved cars with the same\n"
	"                         messages tell what it was (default: the setting)\n"
	"      --no-cars          without the folder of the settings\n"
	"  -j, --json             the same as one JSON object\n"
	"  -f, --full             all reasons and the tables, not only one screen\n"
	"  -i, --ids              list every message, too\n"
	"      --strict           stop at the first line that cannot be read\n"
	"      --color WHEN       always, never, or auto (a terminal, without NO_COLOR)\n"
	"      --colour WHEN      the same\n"
	"\n"
	"Ctrl-C while it reads gives the answer so far.\n"
	"Exit status: 0 whatever was found, 2 usage, 4 unreadable input.\n";

static int show(const struct analyse *a, const struct nod_findings *f)
{
	struct nod_answer_style style = {
		.full = a->full, .colour = a->colour, .all_idents = a->idents, .zone = NULL};
	if (a->colour)
		nod_door_allow_colours();
	if (!a->json)
		nod_terminal_page();
	int status = a->json ? nod_answer_print_json(stdout, f)
			     : nod_answer_print(stdout, f, style);

	if (status == -ENOMEM)
		return nod_unreadable("out of memory");
	if (status && !ferror(stdout))
		return nod_unreadable("the answer: %s", strerror(-status));
	return fflush(stdout) || ferror(stdout)
		       ? nod_unreadable("standard output: %s", strerror(errno))
		       : NOD_EXIT_OK;
}

/* The good and the earlier recordings are judged first, each by its own map. */
static int judge_others(struct analyse *a)
{
	struct nod_judge_options plain = {.vehicle = a->judge.vehicle};
	int code = NOD_EXIT_OK;

	if (a->good_path) {
		code = nod_judge(&a->good, &a->good_path, 1, &plain);
		a->judge.good = a->good.findings;
	}
	for (size_t i = 0; !code && i < a->earlier_count; i++) {
		code = nod_judge(&a->earlier[i], &a->earlier_paths[i], 1, &plain);
		a->earlier_findings[i] = a->earlier[i].findings;
	}
	a->judge.earlier = a->earlier_findings;
	a->judge.earlier_count = a->earlier_count;
	return code;
}

static int run(struct analyse *a, char **paths, int count)
{
	struct nod_judged judged = {0};
	struct nod_recalled recalled = {0};
	struct nod_cars *cars = NULL;
	int code = judge_others(a);

	if (!code)
		code = nod_cars_open(&cars, &a->cars);
	a->judge.vin = cars != NULL;
	if (!code)
		code = nod_judge(&judged, (const char *const *)paths, (size_t)count, &a->judge);
	if (!code)
		code = nod_cars_recall(cars, &recalled, &judged, &a->judge);
	if (!code)
		code = show(a, judged.findings);
	nod_judged_close(&judged);
	nod_cars_forget(&recalled);
	nod_cars_close(cars);
	nod_judged_close(&a->good);
	for (size_t i = 0; i < a->earlier_count; i++)
		nod_judged_close(&a->earlier[i]);
	return code;
}

static int add_earlier(void *self, const struct nod_given *given)
{
	struct analyse *a = self;

	if (a->earlier_count == NOD_EARLIER_MAX)
		return nod_usage("analyse", "--earlier: at most %d sessions", NOD_EARLIER_MAX);
	a->earlier_paths[a->earlier_count++] = given->value;
	return NOD_EXIT_OK;
}

int nod_cmd_analyse(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('v', "vehicle", struct analyse, judge.vehicle),
		NOD_TEXT('l', "locked", struct analyse, judge.locked),
		NOD_TEXT('g', "good", struct analyse, good_path),
		NOD_TAKE('e', "earlier", add_earlier),
		NOD_TEXT(0, "cars", struct analyse, cars.folder),
		NOD_FLAG(0, "no-cars", struct analyse, cars.none),
		NOD_FLAG('j', "json", struct analyse, json),
		NOD_FLAG('f', "full", struct analyse, full),
		NOD_FLAG('i', "ids", struct analyse, idents),
		NOD_FLAG(0, "strict", struct analyse, judge.strict),
		NOD_COLOUR(struct analyse, colour),
		{0}};
	static const struct nod_options options = {
		.command = "analyse", .help = help, .list = list};
	struct analyse a = {.colour = nod_terminal_has_colour()};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("analyse", "no capture or session given");
	return run(&a, argv + first, argc - first);
}
