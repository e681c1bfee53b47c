/* SPDX-License-Identifier: MIT */
/* nodoff session mark: a mark in the journal of a session, recorded before or running. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "client.h"
#include "command.h"
#include "journal-file.h"
#include "json-build.h"
#include "mark-words.h"
#include "option.h"
#include "session-commands.h"
#include "session-journal.h"
#include "settings.h"
#include "when.h"

static const char help[] =
	"usage: nodoff session mark DIR KIND [WHAT ...] [OPTION ...]\n"
	"       nodoff session mark DIR --undo\n"
	"\n"
	"Adds a mark to the journal of a session that was recorded before; the mark\n"
	"for one that nodoffd is recording goes to it, as with `nodoff mark`. When it\n"
	"returns, the mark is on the disk.\n"
	"\n"
	"      --at TIME      when: +35 min (after the lock), -2 min, start+1h, end-5min,\n"
	"                     14:03:12, 2023-11-14 23:13:20 or UNIX seconds; without it,\n"
	"                     the end of the recording; while it runs, now\n"
	"      --ago LENGTH   of a running session: so long before now, 40s or '2 min'\n"
	"      --undo         takes back the mark made last; that is a mark, too\n" NOD_CLIENT_HELP
	"  -h, --help         print this help\n"
	"\n"
	"  nodoff session mark car1 locked --at start+2min\n"
	"  nodoff session mark car1 isolated F12 --at '+35 min'\n"
	"  nodoff session mark car1 reading F12 2.3 mV --at '+36 min'\n"
	"\n"
	"Kinds of marks:\n";

struct arguments {
	const char *path, *at, *ago, *socket;
	bool undo;
};

static int print_help(void)
{
	fputs(help, stdout);
	nod_mark_print_kinds(true);
	return nod_option_finish();
}

/* ---- one that is running ---- */

/* The daemon that records into this directory, NULL when none does. */
static struct nod_client *recording_daemon(const struct arguments *a)
{
	struct nod_client *client = nod_client_open(a->socket, NULL);
	json_t *answer = client ? nod_client_request(client, "list", json_object(), NULL) : NULL;
	char *recording = answer ? realpath(nod_client_text(answer, "recording"), NULL) : NULL;
	char *ours = realpath(a->path, NULL);
	bool same = recording && ours && !strcmp(recording, ours);

	free(recording);
	free(ours);
	json_decref(answer);
	if (same)
		return client;
	nod_client_close(client);
	return NULL;
}

static int tell_daemon(struct nod_client *client, const struct nod_mark *mark)
{
	char time[NOD_TIME_TEXT];
	struct nod_error err = {"out of memory"};
	json_t *request = mark ? json_pack("{s:s, s:s}", "kind", nod_mark_kind_name(mark->kind),
					   "subject", mark->subject)
			       : json_object();

	if (mark && nod_time_is_set(mark->time))
		nod_json_put(&request, "time_ns", json_integer(mark->time.ns));
	json_t *answer = request ? nod_client_request(client, mark ? "mark" : "undo", request, &err)
				 : NULL;
	if (!answer)
		return nod_unreadable("%s", err.text);
	const json_t *undone = json_object_get(answer, "undone");
	nod_time_print(time, (nod_time){nod_client_integer(mark ? answer : undone, "time_ns")}, 6);
	printf("%s(%s) %s %s\n", mark ? "" : "taken back: ", time,
	       mark ? nod_mark_kind_name(mark->kind) : nod_client_text(undone, "kind"),
	       mark ? mark->subject : nod_client_text(undone, "subject"));
	json_decref(answer);
	return nod_option_finish();
}

/* ---- one that was recorded ---- */

static int find_time(nod_time *time, const char *path, const char *at)
{
	struct nod_survey *survey = malloc(sizeof(*survey));
	struct nod_error err = {""};
	int status = survey ? nod_session_survey_path(survey, path)
			    : nod_unreadable("out of memory");

	if (!status) {
		struct nod_when_base base = {
			.lock = survey->lock.time, .start = survey->lock.start, .end = survey->end};
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

/* The mark made last by a person that stands; NULL: there is none. */
static const struct nod_mark *last_mark(const struct nod_session_marks *marks)
{
	const struct nod_session_mark *last = NULL;

	for (size_t i = 0; i < marks->count; i++)
		if (nod_mark_is_persons(marks->list[i].mark.kind) &&
		    (!last || marks->list[i].order > last->order))
			last = &marks->list[i];
	return last ? &last->mark : NULL;
}

/* Writes the line of what is taken back. Returns an exit status. */
static int print_last(char line[NOD_MARK_LINE_MAX], const char *path)
{
	struct nod_session_defects defects = {.count = 0};
	struct nod_session_marks marks = {.count = 0};
	struct nod_session_file journal = {.path = NULL};
	struct nod_arena texts = {0};
	int status = NOD_EXIT_OK;

	journal.path = nod_arena_printf(&texts, "%s/journal.log", path);
	if (texts.failed || nod_session_journal_load(&marks, &defects, &journal, &texts))
		status = nod_unreadable("out of memory");
	const struct nod_mark *last = last_mark(&marks);
	if (!status && !last)
		status = nod_unreadable("%s: %s", path,
					journal.fault ? journal.fault
						      : "there is no mark to take back");
	else if (!status && nod_mark_print(line, NOD_MARK_LINE_MAX, last) < 0)
		status = nod_unreadable("%s: the mark is too long", path);
	line[strcspn(line, "\n")] = '\0';
	nod_session_marks_free(&marks);
	nod_arena_free(&texts);
	return status;
}

static int undo_last(const char *path)
{
	char line[NOD_MARK_LINE_MAX] = "";
	struct nod_mark undone = {.kind = NOD_MARK_UNDONE, .subject = line};
	int status = print_last(line, path);

	if (!status)
		status = find_time(&undone.time, path, "end");
	return status ? status : append(path, &undone);
}

static int mark_session(const struct arguments *a, char **words)
{
	struct nod_mark mark = {.time = NOD_TIME_NONE};
	char line[NOD_MARK_LINE_MAX];
	struct stat st;
	int status = a->undo ? NOD_EXIT_OK : nod_mark_of_words(&mark, line, words, "session mark");

	if (!status && !stat(a->path, &st) && !S_ISDIR(st.st_mode))
		return nod_unreadable("%s: is a capture; make a session of it first: nodoff "
				      "session make %s --into DIR",
				      a->path, a->path);
	struct nod_client *client = status ? NULL : recording_daemon(a);
	if (!status && a->ago && !client)
		status = nod_usage("session mark", "--ago: %s is not being recorded", a->path);
	mark.time = NOD_TIME_NONE;
	if (!status && client && (a->ago || (a->at && strchr(a->at, ':'))))
		status = nod_mark_time_of_options(&mark.time, a->ago, a->at, "session mark");
	else if (!status && !a->undo && (a->at || !client))
		status = find_time(&mark.time, a->path, a->at ? a->at : "end");
	if (!status && client)
		status = tell_daemon(client, a->undo ? NULL : &mark);
	else if (!status)
		status = a->undo ? undo_last(a->path) : append(a->path, &mark);
	nod_client_close(client);
	return status;
}

int nod_session_mark_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "at", struct arguments, at),
						 NOD_TEXT(0, "ago", struct arguments, ago),
						 NOD_TEXT(0, "socket", struct arguments, socket),
						 NOD_FLAG(0, "undo", struct arguments, undo),
						 {0}};
	static const struct nod_options options = {
		.command = "session mark", .print_help = print_help, .list = list};
	struct arguments a = {0};
	int status, count = nod_mark_part_words(argc, argv, list);

	if (!nod_options_walk(&options, &a, count, argv, &status))
		return status;
	a.path = nod_find_session(argv[count]);
	if (a.undo ? argc - count != 1 || a.at || a.ago : argc - count < 2)
		return nod_usage("session mark",
				 a.undo ? "--undo: expected a session, and nothing else"
					: "expected a session and a kind of mark");
	return mark_session(&a, argv + count + 1);
}
