/* SPDX-License-Identifier: MIT */
/* nodoff session cut: a piece of a session as a session of its own. */
#include <errno.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "option.h"
#include "paragraph.h"
#include "progress.h"
#include "session-commands.h"
#include "session-cut.h"
#include "settings.h"
#include "when.h"

static const char help[] =
	"usage: nodoff session cut DIR --from TIME --to TIME --into NEW [OPTION ...]\n"
	"\n"
	"Makes the session NEW of a piece of the session (or capture) DIR: frames,\n"
	"current, journal and vehicle file. The lock mark goes along even when it lies\n"
	"outside the piece; the time between is then marked as not listened to.\n"
	"\n"
	"      --from TIME    +35 min (after the lock), -2 min, start, start+1h,\n"
	"      --to TIME      end-5min, 14:03:12, 2023-11-14 23:13:20 or UNIX seconds\n"
	"      --into NEW     where to make it; must not exist\n"
	"      --title TEXT   another title\n"
	"      --scrub WHAT   payload: every payload byte of application frames becomes\n"
	"                     00; network management, error reports and the first three\n"
	"                     bytes of diagnostic frames stay. What only payload tells\n"
	"                     (stuck inputs, counters) is gone.\n"
	"                     vin: vehicle identification numbers become XXXX, in frames\n"
	"                     (also when spread over several of one ID), journal, title\n"
	"                     and vehicle file. Look through the result before you give\n"
	"                     it away: one that is packed in another way is not found.\n"
	"                     IDs, lengths and times stay in both.\n"
	"  -h, --help         print this help\n";

struct options {
	const char *path, *from, *to, *into;
	struct nod_session_cut cut;
};

static int parse_times(struct options *options, const struct nod_survey *survey)
{
	struct nod_when_base base = {
		.lock = survey->lock.time, .start = survey->lock.start, .end = survey->end};
	struct nod_error err = {""};

	if (nod_when_parse(&options->cut.from, options->from, &base, &err))
		return nod_usage("session cut", "--from: %s", err.text);
	if (nod_when_parse(&options->cut.to, options->to, &base, &err))
		return nod_usage("session cut", "--to: %s", err.text);
	if (options->cut.from.ns > options->cut.to.ns)
		return nod_usage("session cut", "--from is later than --to");
	return NOD_EXIT_OK;
}

static int tell(const struct options *options, const struct nod_survey *survey,
		const struct nod_session_cut_result *result)
{
	printf("%s: %" PRIu64 " frames, %" PRIu64 " samples of the current, %" PRIu64 " marks\n",
	       options->into, result->frames, result->samples, result->marks);
	if (result->marks_left_out)
		printf("  %" PRIu64 " marks lie outside and were left out\n",
		       result->marks_left_out);
	if (result->lock_assumed)
		nod_paragraph_print(stdout, "  ",
				    "nothing says when the car was locked: the start of the old "
				    "recording is taken and noted in the new journal");
	else if (result->lock_outside)
		nod_paragraph_printf(
			stdout, "  ",
			"the lock mark is kept although it lies outside (%s); the time "
			"between is marked as not listened to",
			nod_session_lock_text(survey->lock.source));
	if (options->cut.scrub != NOD_SCRUB_NOTHING)
		printf("  %" PRIu64 " frames changed (%s)\n", result->scrubbed,
		       nod_scrub_kind_name(options->cut.scrub));
	return nod_option_finish();
}

static volatile sig_atomic_t interrupted;

static void interrupt(int number)
{
	(void)number;
	interrupted = 1;
}

/* Ctrl-C takes what was made so far away again. */
static bool step(void *context, nod_time time)
{
	nod_progress_step(context, time, 1);
	return interrupted;
}

static int cut_piece(struct options *options, const struct nod_survey *survey,
		     struct nod_session_cut_result *result)
{
	struct sigaction action = {.sa_handler = interrupt};
	struct nod_progress progress;
	struct nod_error err = {""};

	sigaction(SIGINT, &action, NULL);
	sigaction(SIGTERM, &action, NULL);
	options->cut.step = step;
	options->cut.context = &progress;
	nod_progress_begin(&progress, "cutting");
	int failed = nod_session_cut(options->path, survey, options->into, &options->cut, result,
				     &err);
	nod_progress_end(&progress);
	return failed ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

static int cut(struct options *options, struct nod_survey *survey)
{
	struct nod_session_cut_result result;
	int status = nod_session_survey_path(survey, options->path);

	if (!status)
		status = parse_times(options, survey);
	if (!status)
		status = cut_piece(options, survey, &result);
	return status ? status : tell(options, survey, &result);
}

static int check(const struct options *options)
{
	if (!options->path)
		return nod_usage("session cut", "name the session");
	if (!options->from || !options->to || !options->into)
		return nod_usage("session cut", "expected --from, --to and --into");
	if (!strcmp(options->path, "-"))
		return nod_usage("session cut", "standard input cannot be read twice");
	return NOD_EXIT_OK;
}

/* Returns NOD_EXIT_OK or another status; -1: help was asked for. */
static int take_scrub(void *self, const struct nod_given *given)
{
	struct options *wanted = self;

	if (nod_scrub_kind_parse(&wanted->cut.scrub, given->value))
		return nod_usage("session cut", "--scrub: `%s` is neither payload nor vin",
				 given->value);
	return NOD_EXIT_OK;
}

int nod_session_cut_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "from", struct options, from),
						 NOD_TEXT(0, "to", struct options, to),
						 NOD_TEXT(0, "into", struct options, into),
						 NOD_TEXT(0, "title", struct options, cut.title),
						 NOD_TAKE(0, "scrub", take_scrub),
						 {0}};
	static const struct nod_options options = {
		.command = "session cut", .help = help, .list = list};
	struct options wanted = {0};
	int status, first = nod_options_walk(&options, &wanted, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first > 1)
		return nod_usage("session cut", "one session at a time");
	wanted.path = nod_find_session(argv[first]);
	status = check(&wanted);
	if (status)
		return status;
	struct nod_survey *survey = malloc(sizeof(*survey));
	status = survey ? cut(&wanted, survey) : nod_unreadable("out of memory");
	free(survey);
	return status;
}
