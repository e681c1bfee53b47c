/* nodoff timeline: what happened when, in text. */
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "command.h"
#include "judged.h"
#include "option.h"
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
	"  -l, --locked TIME    when the car was locked, as for `nodoff analyse`\n";

static int terminal_columns(void)
{
	const char *columns = getenv("COLUMNS");
	struct winsize size;

	if (isatty(STDOUT_FILENO) && !ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) && size.ws_col)
		return size.ws_col;
	int given = columns ? atoi(columns) : 0;
	return given > 0 ? given : 80;
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

static int parse_width(struct nod_timeline_style *style, const char *text)
{
	char *end;
	long columns = strtol(text, &end, 10);

	if (end == text || *end || columns < NOD_TIMELINE_COLUMNS_LEAST ||
	    columns > NOD_TIMELINE_COLUMNS_MOST)
		return nod_usage("timeline", "--width: `%s` is not a number from %d to %d", text,
				 NOD_TIMELINE_COLUMNS_LEAST, NOD_TIMELINE_COLUMNS_MOST);
	style->columns = (int)columns;
	return NOD_EXIT_OK;
}

static int run(const char *path, const char *vehicle, const char *locked,
	       struct nod_timeline_style style)
{
	struct nod_judge_options options = {.vehicle = vehicle, .locked = locked, .timeline = true};
	struct nod_judged judged;
	int code = nod_judge(&judged, &path, 1, &options);

	int status = code ? 0
			  : nod_timeline_print(stdout, judged.findings, judged.timeline, style);
	if (status)
		code = nod_unreadable("the timeline could not be written: %s", strerror(-status));
	nod_judged_close(&judged);
	return code ? code : nod_option_finish();
}

int nod_cmd_timeline(int argc, char **argv)
{
	static const struct option options[] = {{"width", required_argument, NULL, 'w'},
						{"ascii", no_argument, NULL, 'a'},
						{"unicode", no_argument, NULL, 'u'},
						{"vehicle", required_argument, NULL, 'v'},
						{"locked", required_argument, NULL, 'l'},
						{"help", no_argument, NULL, 'h'},
						{0}};
	struct nod_timeline_style style = {terminal_columns(), is_ascii()};
	const char *vehicle = NULL, *locked = NULL;
	int option;

	opterr = 0;
	while ((option = getopt_long(argc, argv, "w:auv:l:h", options, NULL)) != -1)
		switch (option) {
		case 'w':
			if (parse_width(&style, optarg))
				return NOD_EXIT_USAGE;
			break;
		case 'a': style.ascii = true; break;
		case 'u': style.ascii = false; break;
		case 'v': vehicle = optarg; break;
		case 'l': locked = optarg; break;
		case 'h': fputs(help, stdout); return nod_option_finish();
		default:
			return nod_usage("timeline", "`%s` is unknown or lacks its value",
					 argv[optind - 1]);
		}
	if (optind + 1 != argc)
		return nod_usage("timeline", "expected one session or capture");
	return run(argv[optind], vehicle, locked, style);
}
