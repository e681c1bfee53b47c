/* nodoff mark: an entry in the journal of the session that is recorded now. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "client.h"
#include "command.h"
#include "journal.h"
#include "option.h"
#include "timestamp.h"

int nod_cmd_mark(int argc, char **argv);

static const char help[] =
	"usage: nodoff mark KIND [WHAT ...] [--socket PATH]\n"
	"\n"
	"Puts an entry of now into the journal of the session that nodoffd records,\n"
	"from any terminal. When it returns, the entry is on the disk.\n"
	"\n"
	"  nodoff mark locked\n"
	"  nodoff mark isolated F12\n"
	"  nodoff mark reading F12 2.3 mV\n"
	"\n"
	NOD_CLIENT_HELP
	"\n"
	"Kinds of entries:\n";

static int print_help(void)
{
	fputs(help, stdout);
	for (int kind = 0; kind < NOD_MARK_KINDS; kind++)
		if (kind != NOD_MARK_GAP && kind != NOD_MARK_CLOCK_STEP &&
		    kind != NOD_MARK_STARTED && kind != NOD_MARK_STOPPED)
			printf("  %-11s %s\n", nod_mark_kind_name((enum nod_mark_kind)kind),
			       nod_mark_kind_help((enum nod_mark_kind)kind));
	return nod_option_finish();
}

/* Puts the words together as a journal line has them, and reads it. */
static int parse(struct nod_mark *mark, char *line, size_t size, char **words, struct nod_error *err)
{
	size_t used = (size_t)snprintf(line, size, "(0)");
	unsigned column;

	for (; *words; words++) {
		int length = snprintf(line + used, size - used, " %s", *words);
		if (length < 0 || (size_t)length >= size - used)
			return nod_error_set(err, EINVAL, "the entry is too long");
		used += (size_t)length;
	}
	return nod_mark_parse(mark, line, &column, err);
}

static int send_mark(const struct nod_mark *mark, const char *socket)
{
	struct nod_error err;
	struct nod_client *client = nod_client_open(socket, &err);
	json_t *answer = NULL;
	char time[NOD_TIME_TEXT];

	if (client)
		answer = nod_client_request(client, "mark",
					    json_pack("{s:s, s:s}", "kind",
						      nod_mark_kind_name(mark->kind), "subject",
						      mark->subject), &err);
	nod_client_close(client);
	if (!answer)
		return nod_unreadable("%s", err.text);
	nod_time_print(time, (nod_time){nod_client_integer(answer, "time_ns")}, 6);
	printf("(%s) %s%s%s\n", time, nod_mark_kind_name(mark->kind), *mark->subject ? " " : "",
	       mark->subject);
	json_decref(answer);
	return nod_option_finish();
}

struct arguments {
	const char *socket;
};

int nod_cmd_mark(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "socket", struct arguments, socket), {0}};
	static const struct nod_options options = {
		.command = "mark", .print_help = print_help, .list = list, .words_last = true};
	struct arguments a = {0};
	char line[1024]; /* chosen: the daemon takes requests of 4096 bytes */
	struct nod_error err = {""};
	struct nod_mark mark;
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("mark", "expected a kind of entry");
	if (parse(&mark, line, sizeof(line), argv + first, &err) <= 0)
		return nod_usage("mark", "%s", err.text[0] ? err.text : "expected a kind of entry");
	return send_mark(&mark, a.socket);
}
