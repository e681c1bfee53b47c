/* SPDX-License-Identifier: MIT */
/* nodoff timeline: what happened when, in text. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "command.h"
#include "judged.h"
#include "option.h"
#include "terminal.h"
#include "timeline-json.h"
#include "timeline-text.h"

int nod_cmd_timeline(int argc, char **argv);

static const char help[] =
	"usage: nodoff timeline SESSION|CAPTURE [OPTION ...]\n"
	"\n"
	"Draws what happened when on one time axis from the lock: networks awake and\n"
	"asleep, settle deadlines, wake-ups, the journal, who sends, the current.\n"
	"\n"
	"  -w, --width COLUMNS  40 to 1000 (default: the terminal's, else 80)\n"
	"  -a, --ascii          no characters beyond ASCII (default: as LANG says)\n"
	"  -u, --unicode        block characters, whatever LANG says\n"
	"  -v, --vehicle FILE   your map of the car (default: the session's own)\n"
	"  -l, --locked TIME    when the car was locked, as for `nodoff analyse`\n"
	"  -j, --json           the same as one JSON object\n";

/* More is no terminal's. Chosen. */
#define COLUMNS_MAX 10000

static int terminal_columns(void)
{
	const char *columns = getenv("COLUMNS");
	struct winsize size;

	if (isatty(STDOUT_FILENO) && !ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) && size.ws_col)
		return size.ws_col;
	long given = columns ? strtol(columns, NULL, 10) : 0;
	return given > 0 && given <= COLUMNS_MAX ? (int)given : 80;
}

/* The variables that name the character set, in their order. */
static bool is_ascii(void)
{
	static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
	const char *value = NULL;

	for (size_t i = 0; i < 3 && (!value || !*value); i++)
		value = getenv(names[i]);
	return !value || (!strcasestr(value, "utf-8") && !strcasestr(value, "utf8"));
}

struct arguments {
	const char *vehicle, *locked;
	struct nod_timeline_style style;
	bool unicode, json;
};

static int take_width(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	char *end;
	long columns = strtol(given->value, &end, 10);

	if (end == given->value || *end || columns < NOD_TIMELINE_COLUMNS_LEAST ||
	    columns > NOD_TIMELINE_COLUMNS_MOST)
		return nod_usage("timeline", "--width: `%s` is not a number from %d to %d",
				 given->value, NOD_TIMELINE_COLUMNS_LEAST,
				 NOD_TIMELINE_COLUMNS_MOST);
	a->style.columns = (int)columns;
	return NOD_EXIT_OK;
}

static int draw(const struct nod_judged *judged, struct nod_timeline_style style)
{
	nod_terminal_page();
	int status = nod_timeline_print(stdout, judged->findings, judged->timeline, style);

	return status ? nod_unreadable("the timeline could not be written: %s", strerror(-status))
		      : nod_option_finish();
}

static int run(const char *path, const struct arguments *a)
{
	struct nod_judge_options options = {
		.vehicle = a->vehicle, .locked = a->locked, .timeline = true};
	struct nod_judged judged;
	int code = nod_judge(&judged, &path, 1, &options);

	if (!code)
		code = a->json ? nod_option_print_json(
					 nod_timeline_json(judged.findings, judged.timeline))
			       : draw(&judged, a->style);
	nod_judged_close(&judged);
	return code;
}

int nod_cmd_timeline(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TAKE('w', "width", take_width),
		NOD_FLAG('a', "ascii", struct arguments, style.ascii),
		NOD_FLAG('u', "unicode", struct arguments, unicode),
		NOD_TEXT('v', "vehicle", struct arguments, vehicle),
		NOD_TEXT('l', "locked", struct arguments, locked),
		NOD_FLAG('j', "json", struct arguments, json),
		{0}};
	static const struct nod_options options = {
		.command = "timeline", .help = help, .list = list};
	struct arguments a = {.style = {terminal_columns(), is_ascii()}};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (a.unicode)
		a.style.ascii = false;
	if (first + 1 != argc)
		return nod_usage("timeline", "expected one session or capture");
	return run(argv[first], &a);
}
