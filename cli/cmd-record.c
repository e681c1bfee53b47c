/* SPDX-License-Identifier: MIT */
/* nodoff record: starts, stops and lists sessions in nodoffd. */
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "client.h"
#include "command.h"
#include "json-build.h"
#include "option.h"

int nod_cmd_record(int argc, char **argv);

static const char help[] =
	"usage: nodoff record start [TITLE] | stop | list | status | answer\n"
	"                     [--socket PATH]\n"
	"\n"
	"Starts, stops and lists the sessions of nodoffd. A session is a directory\n"
	"that `nodoff` reads again later; its frames open with zstdcat, too.\n"
	"\n"
	"  start [TITLE]      begins a session named after the time and the title\n"
	"  stop               ends it\n"
	"  list               what has been recorded, and what is being recorded\n"
	"  status             what nodoffd listens to and whether it records\n"
	"  answer             the answer so far, as it will be read from the recording\n"
	"\n" NOD_CLIENT_HELP "  --json             for programs\n";

static int print_list(const json_t *answer)
{
	const char *recording = nod_client_text(answer, "recording");
	size_t i;
	const json_t *session;

	json_array_foreach(json_object_get(answer, "sessions"), i, session) {
		const char *path = nod_client_text(session, "path");
		printf("%s%s\n", path, strcmp(path, recording) ? "" : "  (recording)");
	}
	return nod_option_finish();
}

static int print_path(const json_t *answer)
{
	printf("%s\n", nod_client_text(answer, "path"));
	return nod_option_finish();
}

static int print_text(const json_t *answer)
{
	fputs(nod_client_text(answer, "text"), stdout);
	return nod_option_finish();
}

static int print_status(const json_t *answer)
{
	const json_t *session = json_object_get(answer, "session"), *tap;
	size_t i;

	if (nod_client_true(session, "recording"))
		printf("recording %s: %lld frames\n", nod_client_text(session, "path"),
		       nod_client_integer(session, "frames"));
	else
		puts("not recording");
	if (*nod_client_text(session, "problem"))
		printf("the recording cannot be written: %s\n",
		       nod_client_text(session, "problem"));
	json_array_foreach(json_object_get(answer, "taps"), i, tap)
		printf("%s: %s, %lld frames, %lld lost, %lld error reports; times: %s%s%s\n",
		       nod_client_text(tap, "interface"), nod_client_text(tap, "state"),
		       nod_client_integer(tap, "frames"), nod_client_integer(tap, "lost"),
		       nod_client_integer(tap, "errors"), nod_client_text(tap, "clock"),
		       *nod_client_text(tap, "note") ? "; " : "", nod_client_text(tap, "note"));
	return nod_option_finish();
}

static const struct {
	const char *word, *request;
	int (*print)(const json_t *answer);
} actions[] = {{"start", "start", print_path},
	       {"stop", "stop", print_path},
	       {"list", "list", print_list},
	       {"status", "view", print_status},
	       {"answer", "answer", print_text}};

static int ask(size_t action, const char *title, const char *socket, bool json)
{
	struct nod_error err;
	struct nod_client *client = nod_client_open(socket, &err);
	json_t *request = json_object();
	json_t *answer = NULL;
	int status;

	if (title)
		nod_json_put(&request, "title", json_string(title));
	if (json)
		nod_json_put(&request, "form", json_string("json"));
	if (client)
		answer = nod_client_request(client, actions[action].request, request, &err);
	else
		json_decref(request);
	nod_client_close(client);
	if (!answer)
		return nod_unreadable("%s", err.text);
	if (json)
		return nod_option_print_json(answer);
	status = actions[action].print(answer);
	json_decref(answer);
	return status;
}

struct arguments {
	const char *socket;
	bool json;
};

int nod_cmd_record(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "socket", struct arguments, socket),
						 NOD_FLAG(0, "json", struct arguments, json),
						 {0}};
	static const struct nod_options options = {.command = "record", .help = help, .list = list};
	struct arguments a = {0};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	for (size_t i = 0; first < argc && i < sizeof(actions) / sizeof(actions[0]); i++) {
		bool titled = i == 0 && first + 2 == argc;
		if (!strcmp(argv[first], actions[i].word) && (titled || first + 1 == argc))
			return ask(i, titled ? argv[first + 1] : NULL, a.socket, a.json);
	}
	return nod_usage("record", "expected start [TITLE], stop, list, status or answer");
}
