/* SPDX-License-Identifier: MIT */
/* nodoff mark: a mark in the journal of the session that is recorded now. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "client.h"
#include "command.h"
#include "json-build.h"
#include "mark-words.h"
#include "option.h"

int nod_cmd_mark(int argc, char **argv);

static const char help[] =
	"usage: nodoff mark KIND [WHAT ...] [OPTION ...]\n"
	"       nodoff mark --undo\n"
	"       nodoff mark --amend [KIND [WHAT ...]] [OPTION ...]\n"
	"\n"
	"Puts a mark into the journal of the session that nodoffd records, from any\n"
	"terminal. When it returns, the mark is on the disk.\n"
	"\n"
	"  nodoff mark locked\n"
	"  nodoff mark isolated F12 --ago 40s\n"
	"  nodoff mark reading F12 2.3 mV\n"
	"\n"
	"      --ago LENGTH   it was so long ago: 40s, '2 min'\n"
	"      --at TIME      it was then: 14:03:12, the last time the clock showed that\n"
	"      --undo         takes back the mark made last; again: the one before it\n"
	"      --amend        changes the mark made last: its kind and subject, or its\n"
	"                     time, or all\n" NOD_CLIENT_HELP "\n"
	"Nothing is erased: that a mark is taken back is a mark, too, and the answer\n"
	"follows at once.\n"
	"\n"
	"Kinds of marks:\n";

struct arguments {
	const char *socket, *ago, *at;
	bool undo, amend;
};

static int print_help(void)
{
	fputs(help, stdout);
	nod_mark_print_kinds(false);
	return nod_option_finish();
}

/* A mark: its time from `when`, the rest from `what`. */
static void print_mark(const char *lead, const json_t *when, const json_t *what)
{
	char time[NOD_TIME_TEXT];
	const char *subject = nod_client_text(what, "subject");

	nod_time_print(time, (nod_time){nod_client_integer(when, "time_ns")}, 6);
	printf("%s(%s) %s%s%s\n", lead, time, nod_client_text(what, "kind"), *subject ? " " : "",
	       subject);
}

/* Says what the daemon did with the request. */
static void print_answer(const json_t *answer, const json_t *request)
{
	const json_t *mark = json_object_get(answer, "entry"),
		     *undone = json_object_get(answer, "undone");

	if (undone)
		print_mark("taken back: ", undone, undone);
	if (mark)
		print_mark("", mark, mark);
	else if (!undone)
		print_mark("", answer, request);
}

/* What is not given stays out: now, or as it was. NULL: no memory. */
static json_t *request_of(const struct nod_mark *mark)
{
	json_t *request = mark ? json_pack("{s:s, s:s}", "kind", nod_mark_kind_name(mark->kind),
					   "subject", mark->subject)
			       : json_object();

	return request;
}

static int send_request(const char *what, json_t *request, const char *socket)
{
	struct nod_error err = {"out of memory"};
	struct nod_client *client = request ? nod_client_open(socket, &err) : NULL;
	json_t *answer = NULL;

	if (client)
		answer = nod_client_request(client, what, json_incref(request), &err);
	nod_client_close(client);
	if (!answer) {
		json_decref(request);
		return nod_unreadable("%s", err.text);
	}
	print_answer(answer, request);
	json_decref(answer);
	json_decref(request);
	return nod_option_finish();
}

static int mark_now(const struct arguments *a, char **words)
{
	char line[NOD_MARK_LINE_MAX];
	struct nod_mark mark = {.time = NOD_TIME_NONE};
	nod_time time = NOD_TIME_NONE;
	bool any = *words != NULL;
	int status = any ? nod_mark_of_words(&mark, line, words, "mark") : NOD_EXIT_OK;

	if (!status && any && !nod_mark_is_persons(mark.kind))
		status = nod_usage("mark", "`%s` is nothing that a person enters",
				   nod_mark_kind_name(mark.kind));
	if (!status)
		status = nod_mark_time_of_options(&time, a->ago, a->at, "mark");
	if (!status && a->amend && !any && !nod_time_is_set(time))
		status = nod_usage("mark", "--amend: expected what to change: KIND, --ago or --at");
	if (status)
		return status;
	json_t *request = a->undo ? json_object() : request_of(any ? &mark : NULL);
	if (nod_time_is_set(time))
		nod_json_put(&request, "time_ns", json_integer(time.ns));
	return send_request(a->undo ? "undo" : a->amend ? "amend" : "mark", request, a->socket);
}

int nod_cmd_mark(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "socket", struct arguments, socket),
						 NOD_TEXT(0, "ago", struct arguments, ago),
						 NOD_TEXT(0, "at", struct arguments, at),
						 NOD_FLAG(0, "undo", struct arguments, undo),
						 NOD_FLAG(0, "amend", struct arguments, amend),
						 {0}};
	static const struct nod_options options = {
		.command = "mark", .print_help = print_help, .list = list};
	struct arguments a = {0};
	int status, count = nod_mark_part_words(argc, argv, list);

	if (!nod_options_walk(&options, &a, count, argv, &status))
		return status;
	if (a.undo && (a.amend || a.ago || a.at || count < argc))
		return nod_usage("mark", "--undo stands alone");
	if (!a.undo && !a.amend && count == argc)
		return nod_usage("mark", "expected a kind of mark");
	return mark_now(&a, argv + count);
}
