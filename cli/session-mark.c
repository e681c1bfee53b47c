/* nodoff session mark: an entry in the journal of a session that was recorded. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command.h"
#include "journal-file.h"
#include "option.h"
#include "session-commands.h"
#include "when.h"

static const char help[] =
	"usage: nodoff session mark DIR KIND [WHAT ...] [--at TIME]\n"
	"\n"
	"Adds an entry to the journal of a session that was recorded before. (For one\n"
	"that is being recorded now, `nodoff mark` takes the time by itself.) When it\n"
	"returns, the entry is on the disk.\n"
	"\n"
	"      --at TIME  when: +35 min (after the lock), -2 min, start+1h, end-5min,\n"
	"                 2023-11-14T22:13:20Z or UNIX seconds; without it, the end of\n"
	"                 the recording\n"
	"  -h, --help     print this help\n"
	"\n"
	"  nodoff session mark car1 locked --at start+2min\n"
	"  nodoff session mark car1 isolated F12 --at '+35 min'\n"
	"  nodoff session mark car1 reading F12 2.3 mV --at '+36 min'\n"
	"\n"
	"Kinds of entries:\n";

static int print_help(void)
{
	fputs(help, stdout);
	for (int kind = 0; kind < NOD_MARK_KINDS; kind++)
		printf("  %-11s %s\n", nod_mark_kind_name((enum nod_mark_kind)kind),
		       nod_mark_kind_help((enum nod_mark_kind)kind));
	return nod_option_finish();
}

/* Puts the words together as a journal line has them, and reads it. */
static int parse(struct nod_mark *mark, char line[NOD_MARK_LINE_MAX], char **words)
{
	size_t used = (size_t)snprintf(line, NOD_MARK_LINE_MAX, "(0)");
	struct nod_error err = {"expected a kind of entry"};
	unsigned column;

	for (; *words; words++) {
		size_t length = strlen(*words);
		if (length + 2 > NOD_MARK_LINE_MAX - used)
			return nod_usage("session mark", "the entry is too long");
		line[used++] = ' ';
		memcpy(line + used, *words, length + 1);
		used += length;
	}
	if (nod_mark_parse(mark, line, &column, &err) <= 0)
		return nod_usage("session mark", "%s", err.text);
	return NOD_EXIT_OK;
}

static int find_time(nod_time *time, const char *path, const char *at)
{
	struct nod_survey *survey = malloc(sizeof(*survey));
	struct nod_error err = {""};
	int status = survey ? nod_session_survey_path(survey, path) : nod_unreadable("out of memory");

	if (!status) {
		struct nod_when_base base = {survey->lock.time, survey->lock.start, survey->end};
		if (nod_when_parse(time, at, &base, &err))
			status = nod_usage("session mark", "--at: %s", err.text);
	}
	free(survey);
	return status;
}

static int append(const char *path, const struct nod_mark *mark)
{
	char line[NOD_MARK_LINE_MAX], *journal;
	struct nod_error err = {""};

	if (asprintf(&journal, "%s/journal.log", path) < 0)
		return nod_unreadable("out of memory");
	int result = nod_journal_append(journal, mark, NULL, &err);
	free(journal);
	if (result)
		return nod_unreadable("%s", err.text);
	if (nod_mark_print(line, sizeof(line), mark) > 0)
		fputs(line, stdout);
	return nod_option_finish();
}

static int mark_session(const char *path, char **words, const char *at)
{
	struct nod_mark mark;
	char line[NOD_MARK_LINE_MAX];
	struct stat st;
	int status = parse(&mark, line, words);

	if (!status && !stat(path, &st) && !S_ISDIR(st.st_mode))
		status = nod_unreadable("%s: is a capture; make a session of it first: nodoff "
					"session make %s --into DIR", path, path);
	if (!status)
		status = find_time(&mark.time, path, at);
	return status ? status : append(path, &mark);
}

struct arguments {
	const char *at;
};

int nod_session_mark_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "at", struct arguments, at), {0}};
	static const struct nod_options options = {
		.command = "session mark", .print_help = print_help, .list = list};
	struct arguments a = {.at = "end"};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first < 2)
		return nod_usage("session mark", "expected a session and a kind of entry");
	return mark_session(argv[first], argv + first + 1, a.at);
}
