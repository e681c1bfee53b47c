/* SPDX-License-Identifier: MIT */
/* nodoff wait: returns when a network sleeps, wakes, or its deadline passes. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "client.h"
#include "command.h"
#include "door.h"
#include "option.h"

int nod_cmd_wait(int argc, char **argv);

static const char help[] =
	"usage: nodoff wait [OPTION ...]\n"
	"\n"
	"Waits until a network that nodoffd listens to falls asleep, wakes up, or its\n"
	"settle deadline passes, says which, and returns.\n"
	"\n"
	"  --for EVENT        sleep, wake or deadline; may be given several times [any]\n"
	"  --network NAME     only this network [any]\n"
	"  --bell             ring the terminal's bell\n"
	"  --run COMMAND      run this by the shell, with NODOFF_NETWORK and\n"
	"                     NODOFF_EVENT in its environment\n"
	"  --json             what happened as one JSON object\n" NOD_CLIENT_HELP;

enum { SLEEP = 1, WAKE = 2, DEADLINE = 4 };

static const char *const event_words[] = {
	[SLEEP] = "sleep", [WAKE] = "wake", [DEADLINE] = "deadline"};
static const char *const event_texts[] = {
	[SLEEP] = "fell asleep", [WAKE] = "woke up", [DEADLINE] = "has passed its settle deadline"};

struct arguments {
	const char *socket, *network, *run;
	int events;
	bool bell, json;
};

static int parse_event(const char *word)
{
	for (int event = SLEEP; event <= DEADLINE; event *= 2)
		if (!strcmp(word, event_words[event]))
			return event;
	return 0;
}

static const json_t *find_network(const json_t *view, const char *name)
{
	size_t i;
	const json_t *network;

	json_array_foreach(json_object_get(view, "networks"), i, network)
		if (!strcmp(nod_client_text(network, "name"), name))
			return network;
	return NULL;
}

static bool is_past_deadline(const json_t *view, const json_t *network)
{
	long long deadline = nod_client_integer(network, "deadline_ns");

	return deadline != INT64_MIN && nod_client_integer(view, "now_ns") >= deadline;
}

/* What happened to a network between two views; 0: nothing, or nobody listened. */
static int compare(const json_t *old_view, const json_t *view, const json_t *network)
{
	const json_t *old = find_network(old_view, nod_client_text(network, "name"));
	const char *was = nod_client_text(old, "state"), *is = nod_client_text(network, "state");
	int events = 0;

	if (strcmp(was, "asleep") && !strcmp(is, "asleep") && nod_client_true(network, "listening"))
		events |= SLEEP;
	if (strcmp(was, "awake") && !strcmp(is, "awake") && nod_client_true(old, "listening"))
		events |= WAKE;
	if (!is_past_deadline(old_view, old) && is_past_deadline(view, network))
		events |= DEADLINE;
	return events;
}

static int report(const struct arguments *a, const json_t *view, const json_t *network, int events)
{
	const char *name = nod_client_text(network, "name");
	int event = events & SLEEP ? SLEEP : events & WAKE ? WAKE : DEADLINE;

	if (a->bell)
		nod_door_control(stdout, "\a");
	if (a->json)
		nod_option_print_json_line(json_pack("{s:I, s:s, s:s, s:s}", "time_ns",
						     (json_int_t)nod_client_integer(view, "now_ns"),
						     "network", name, "event", event_words[event],
						     "text", event_texts[event]));
	else
		printf("%s %s\n", name, event_texts[event]);
	fflush(stdout);
	if (!a->run)
		return nod_option_finish();
	setenv("NODOFF_NETWORK", name, 1);
	setenv("NODOFF_EVENT", event_words[event], 1);
	return system(a->run) /* NOLINT(cert-env33-c): the user's own command, as given */
		       ? NOD_EXIT_FAILED
		       : NOD_EXIT_OK;
}

/* The first network to which something of interest happened, or NULL. */
static const json_t *look(const struct arguments *a, const json_t *old, const json_t *view,
			  int *events)
{
	size_t i;
	const json_t *network;

	json_array_foreach(json_object_get(view, "networks"), i, network) {
		if (a->network && strcasecmp(a->network, nod_client_text(network, "name")))
			continue;
		*events = compare(old, view, network) & a->events;
		if (*events)
			return network;
	}
	return NULL;
}

static int wait_for(const struct arguments *a, struct nod_client *client, struct nod_error *err)
{
	json_t *old = nod_client_request(client, "watch", json_object(), err), *view;
	const json_t *network = NULL;
	int status = NOD_EXIT_UNREADABLE, events;

	while (old && !network && nod_client_event(client, -1, &view, err) > 0) {
		network = look(a, old, view, &events);
		if (network)
			status = report(a, view, network, events);
		json_decref(old);
		old = view;
	}
	json_decref(old);
	return network ? status : nod_unreadable("%s", err->text);
}

static int take_event(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	int event = parse_event(given->value);

	a->events |= event;
	return event ? NOD_EXIT_OK : nod_given_wrong(given, "sleep, wake or deadline");
}

int nod_cmd_wait(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "socket", struct arguments, socket),
						 NOD_TEXT(0, "network", struct arguments, network),
						 NOD_TAKE(0, "for", take_event),
						 NOD_TEXT(0, "run", struct arguments, run),
						 NOD_FLAG(0, "bell", struct arguments, bell),
						 NOD_FLAG(0, "json", struct arguments, json),
						 {0}};
	static const struct nod_options options = {.command = "wait", .help = help, .list = list};
	struct arguments a = {0};
	struct nod_error err = {""};
	struct nod_client *client;
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first < argc)
		return nod_usage("wait", "`%s` is not expected", argv[first]);
	if (!a.events)
		a.events = SLEEP | WAKE | DEADLINE;
	client = nod_client_open(a.socket, &err);
	if (!client)
		return nod_unreadable("%s", err.text);
	status = wait_for(&a, client, &err);
	nod_client_close(client);
	return status;
}
