/* SPDX-License-Identifier: MIT */
/* nodoff wakeups: the wake-ups of a recording, all or some. */
#include <inttypes.h>
#include <stdio.h>

#include "answer.h"
#include "command.h"
#include "json-build.h"
#include "judged.h"
#include "moment-text.h"
#include "option.h"
#include "paragraph.h"
#include "table-row.h"
#include "search.h"
#include "terminal.h"
#include "when.h"

int nod_cmd_wakeups(int argc, char **argv);

static const char help[] =
	"usage: nodoff wakeups [OPTION ...] CAPTURE|SESSION ...\n"
	"\n"
	"Lists the wake-ups: when something was heard after a silence that counts as\n"
	"sleep, which network woke first, who spoke first and for how long alone, how\n"
	"long it was awake, and which mark of the journal explains it. Times are the\n"
	"clock on the wall and seconds after the lock.\n"
	"\n"
	"  -b, --by WHO        only those in which this ID (2A0) or sender (\"roof unit\")\n"
	"                      spoke first\n"
	"  -n, --network NAME  only those in which this network woke first\n"
	"  -a, --after TIME    only later ones: \"+35 min\" after the lock, 14:03:12,\n"
	"                      start + 1 h, end-30s, ISO 8601, UNIX seconds\n"
	"  -z, --before TIME   only earlier ones\n"
	"  -u, --unexplained   only those that nothing in the journal explains\n"
	"  -v, --vehicle FILE  your map of the car (default: the session's own)\n"
	"  -l, --locked TIME   when the car was locked (default: as the session says)\n"
	"  -j, --json          as one JSON object\n"
	"  -h, --help          print this help\n";

struct wakeups {
	struct nod_judge_options judge;
	const char *by, *network, *after_text, *before_text;
	bool unexplained, json;
	struct nod_wanted wanted;
	int network_index;
	nod_time after, before;
};

static bool is_wanted(const struct wakeups *w, const struct nod_findings *f,
		      const struct nod_wake_finding *wake)
{
	if (w->by && !nod_wanted_fits(&w->wanted, f, &f->idents[wake->ident]))
		return false;
	if (w->network && wake->network != w->network_index)
		return false;
	if (w->unexplained && *wake->cause)
		return false;
	return (!nod_time_is_set(w->after) || wake->time.ns >= w->after.ns) &&
	       (!nod_time_is_set(w->before) || wake->time.ns < w->before.ns);
}

/* Columns that a time of so many leaves for the sender, of 80. */
#define SENDER(at) ((at) < 33 ? 39 - (at) : 6)

static void print_wake(const struct nod_findings *f, const struct nod_wake_finding *wake, int width)
{
	char at[NOD_MOMENT_TEXT], id[NOD_ID_TEXT], lead[NOD_TIME_TEXT], awake[NOD_TIME_TEXT];

	nod_duration_print(awake, wake->awake_for);
	if (wake->lead.ns == NOD_DURATION_NONE.ns)
		snprintf(lead, sizeof(lead), "always");
	else
		nod_duration_print(lead, wake->lead);
	NOD_ROW(stdout, {-width, nod_moment_print_cell(at, f, wake->time, NULL)},
		{10, f->networks[wake->network].name},
		{8, nod_id_print(id, f->idents[wake->ident].id)},
		{SENDER(width), f->senders[wake->sender].name}, {-8, lead}, {-8, awake});
	if (*wake->cause)
		nod_paragraph_printf(stdout, "        ", "explained by the journal: %s",
				     wake->cause);
}

static int print_text(const struct wakeups *w, const struct nod_findings *f)
{
	size_t shown = 0;
	int at = nod_moment_cell_width(f, NULL);

	for (size_t i = 0; i < f->wake_count; i++) {
		if (!is_wanted(w, f, &f->wakes[i]))
			continue;
		if (!shown++)
			NOD_ROW(stdout, {-at, nod_moment_cell_heading(f)}, {10, "network"},
				{8, "ID"}, {SENDER(at), "sender"}, {-8, "alone"}, {-8, "awake"});
		print_wake(f, &f->wakes[i], at);
	}
	printf("%s%zu of %zu wake-up%s\n", shown ? "\n" : "", shown, f->wake_count,
	       f->wake_count == 1 ? "" : "s");
	return nod_option_finish();
}

static json_t *wake_json(const struct nod_findings *f, const struct nod_wake_finding *wake)
{
	char id[NOD_ID_TEXT];

	return json_pack("{s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:i, s:o}", "time",
			 nod_json_time(wake->time), "after_lock",
			 nod_json_length(nod_time_since(wake->time, f->lock)), "network",
			 nod_json_text(f->networks[wake->network].name), "id",
			 nod_id_print(id, f->idents[wake->ident].id), "sender",
			 nod_json_text(f->senders[wake->sender].name), "alone",
			 nod_json_length(wake->lead), "awake_for", nod_json_length(wake->awake_for),
			 "networks", (int)wake->networks_woken, "cause",
			 *wake->cause ? nod_json_text(wake->cause) : json_null());
}

static int print_json(const struct wakeups *w, const struct nod_findings *f)
{
	json_t *array = json_array();

	for (size_t i = 0; i < f->wake_count; i++)
		if (is_wanted(w, f, &f->wakes[i]))
			nod_json_append(&array, wake_json(f, &f->wakes[i]));
	return nod_option_print_json(json_pack("{s:i, s:o, s:I, s:o}", "nodoff", 1, "lock",
					       nod_json_time(f->lock), "wakeups",
					       (json_int_t)(f->wake_count), "shown", array));
}

static int parse_time(nod_time *time, const char *option, const char *text,
		      const struct nod_findings *f)
{
	struct nod_when_base base = {.lock = f->lock, .start = f->start, .end = f->end};
	struct nod_error err = {""};

	*time = NOD_TIME_NONE;
	if (!text || !nod_when_parse(time, text, &base, &err))
		return NOD_EXIT_OK;
	return nod_usage("wakeups", "%s: %s", option, err.text);
}

static int show(struct wakeups *w, const struct nod_findings *f)
{
	int code = parse_time(&w->after, "--after", w->after_text, f);

	if (!code)
		code = parse_time(&w->before, "--before", w->before_text, f);
	if (code)
		return code;
	if (w->by)
		nod_wanted_parse(&w->wanted, w->by);
	if (w->network) {
		w->network_index = nod_search_network(f, w->network);
		if (w->network_index == NOD_NONE)
			return nod_usage("wakeups", "there is no network `%s`", w->network);
	}
	if (!w->json)
		nod_terminal_page();
	return w->json ? print_json(w, f) : print_text(w, f);
}

static int run(struct wakeups *w, char **paths, int count)
{
	struct nod_judged judged;
	int code = nod_judge(&judged, (const char *const *)paths, (size_t)count, &w->judge);

	if (!code)
		code = show(w, judged.findings);
	nod_judged_close(&judged);
	return code;
}

int nod_cmd_wakeups(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('b', "by", struct wakeups, by),
		NOD_TEXT('n', "network", struct wakeups, network),
		NOD_TEXT('a', "after", struct wakeups, after_text),
		NOD_TEXT('z', "before", struct wakeups, before_text),
		NOD_FLAG('u', "unexplained", struct wakeups, unexplained),
		NOD_TEXT('v', "vehicle", struct wakeups, judge.vehicle),
		NOD_TEXT('l', "locked", struct wakeups, judge.locked),
		NOD_FLAG('j', "json", struct wakeups, json),
		{0}};
	static const struct nod_options options = {
		.command = "wakeups", .help = help, .list = list};
	struct wakeups w = {0};
	int status, first = nod_options_walk(&options, &w, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("wakeups", "no capture or session given");
	return run(&w, argv + first, argc - first);
}
