/* SPDX-License-Identifier: MIT */
/* nodoff record: starts, stops and lists sessions in nodoffd. */
#include <errno.h>
#include <limits.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "client.h"
#include "command.h"
#include "file-read.h"
#include "json-build.h"
#include "option.h"
#include "table-row.h"
#include "vehicle.h"
#include "when.h"

int nod_cmd_record(int argc, char **argv);

/* A request is a megabyte at most, and what is quoted in it grows. */
#define MAP_MAX 524288 /* bytes */
#define MINUTE_NS (60 * NOD_NS_PER_S)

static const char help[] =
	"usage: nodoff record start [--vehicle FILE] [TITLE]\n"
	"       nodoff record stop | list | status | answer\n"
	"\n"
	"Starts, stops and lists the sessions of nodoffd. A session is a directory\n"
	"that `nodoff` reads again later; its frames open with zstdcat, too.\n"
	"\n"
	"  start [TITLE]      begins a session named after the time and the title\n"
	"  stop               ends it and says the answer in one line\n"
	"  list               what has been recorded: when, how long, how many frames,\n"
	"                     and what was found when it ended\n"
	"  status             what nodoffd listens to and whether it records\n"
	"  answer             the answer so far, as it will be read from the recording\n"
	"\n"
	"  --vehicle FILE     the map of the car, for this recording: networks, adapters,\n"
	"                     bitrates, modules, fuses. A bitrate that nobody said is\n"
	"                     found by listening, which takes up to ten seconds; the car\n"
	"                     must be awake. Adapters are left as they were found when\n"
	"                     it stops\n" NOD_CLIENT_HELP "  --json             for programs\n";

/* To the minute, and a short one to the second. */
static void print_length(char text[NOD_TIME_TEXT], long long ns)
{
	long long unit = ns < 60 * MINUTE_NS ? NOD_NS_PER_S : MINUTE_NS;

	nod_duration_print(text, (nod_duration){ns / unit * unit});
}

static void print_line(const json_t *session, bool recording)
{
	long long created = nod_client_integer(session, "created_ns"),
		  ended = nod_client_integer(session, "ended_ns");
	const char *verdict = nod_client_text(session, "verdict");
	char when[NOD_WHEN_TEXT] = "", length[NOD_TIME_TEXT] = "", frames[24] = "", found[64];

	if (created != INT64_MIN)
		nod_when_print(when, (nod_time){created}, NULL);
	when[strlen("2023-11-14 22:13")] = 0;
	if (created != INT64_MIN && ended != INT64_MIN)
		print_length(length, ended - created);
	if (ended != INT64_MIN)
		snprintf(frames, sizeof(frames), "%lld", nod_client_integer(session, "frames"));
	snprintf(found, sizeof(found), "%.30s%s",
		 recording                            ? "(recording)"
		 : *verdict                           ? verdict
		 : *nod_client_text(session, "fault") ? "(cannot be read)"
						      : "(not ended)",
		 nod_client_true(session, "changed") && *verdict ? ", see" : "");
	NOD_ROW(stdout, {16, when}, {-10, length}, {-9, frames}, {17, found},
		{NAME_MAX, nod_client_text(session, "name")});
}

static int print_list(const json_t *answer)
{
	const char *recording = nod_client_text(answer, "recording");
	const json_t *sessions = json_object_get(answer, "sessions"), *session;
	size_t i;

	printf("%s:%s\n", nod_client_text(answer, "directory"),
	       json_array_size(sessions) ? "" : " nothing was recorded");
	if (json_array_size(sessions))
		NOD_ROW(stdout, {16, "begun"}, {-10, "length"}, {-9, "frames"}, {17, "found"},
			{4, "name"});
	json_array_foreach(sessions, i, session)
		print_line(session, !strcmp(nod_client_text(session, "path"), recording));
	return nod_option_finish();
}

/* What is listened to, and how its bitrate is known. */
static void print_tap(const json_t *tap)
{
	const char *note = nod_client_text(tap, "note");
	long long bitrate = nod_client_integer(tap, "bitrate");

	printf("%s: %s", nod_client_text(tap, "interface"), nod_client_text(tap, "state"));
	if (bitrate > 0 && nod_client_true(tap, "listening"))
		printf(" at %lld bit/s%s", bitrate,
		       nod_client_true(tap, "bitrate_found") ? ", found by listening" : "");
	printf("%s%s\n", *note ? ": " : "", note);
}

static int print_start(const json_t *answer)
{
	const json_t *tap;
	size_t i;

	json_array_foreach(json_object_get(answer, "taps"), i, tap)
		print_tap(tap);
	printf("%s\n", nod_client_text(answer, "path"));
	return nod_option_finish();
}

/* The answer, which may begin with the verdict itself, and where it is. */
static int print_stop(const json_t *answer)
{
	const char *verdict = nod_client_text(answer, "verdict"),
		   *sentence = nod_client_text(answer, "sentence");
	bool doubled = !strncasecmp(sentence, verdict, strlen(verdict));

	printf("%s%s%s\n", doubled ? "" : verdict, doubled ? "" : ": ", sentence);
	printf("%s\n", nod_client_text(answer, "path"));
	return nod_option_finish();
}

static int print_text(const json_t *answer)
{
	fputs(nod_client_text(answer, "text"), stdout);
	return nod_option_finish();
}

/* "500000 bit/s (sample point 87.5 %)". */
static void print_timing(const json_t *controller, const char *bitrate, const char *sample_point)
{
	printf("%lld bit/s (sample point %.1f %%)", nod_client_integer(controller, bitrate),
	       (double)nod_client_integer(controller, sample_point) / 10);
}

/* What the adapter's controller is set to, and how it is. */
static void print_controller(const json_t *controller)
{
	const char *state = nod_client_text(controller, "state");

	printf("  ");
	print_timing(controller, "bitrate", "sample_point");
	if (nod_client_true(controller, "fd")) {
		printf(", CAN FD with ");
		print_timing(controller, "data_bitrate", "data_sample_point");
	}
	printf("; %s", nod_client_true(controller, "listen_only") ? "listen-only" : "acknowledges");
	if (*state)
		printf("; %s", state);
	if (json_is_integer(json_object_get(controller, "receive_errors")))
		printf(", error counters %lld receiving, %lld sending",
		       nod_client_integer(controller, "receive_errors"),
		       nod_client_integer(controller, "transmit_errors"));
	putchar('\n');
}

static void print_tap_status(const json_t *tap)
{
	const json_t *controller = json_object_get(tap, "controller");

	printf("%s: %s, %lld frames, %lld lost, %lld error reports; times: %s%s%s\n",
	       nod_client_text(tap, "interface"), nod_client_text(tap, "state"),
	       nod_client_integer(tap, "frames"), nod_client_integer(tap, "lost"),
	       nod_client_integer(tap, "errors"), nod_client_text(tap, "clock"),
	       *nod_client_text(tap, "note") ? "; " : "", nod_client_text(tap, "note"));
	if (json_is_object(controller))
		print_controller(controller);
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
		print_tap_status(tap);
	return nod_option_finish();
}

static const struct {
	const char *word, *request;
	int (*print)(const json_t *answer);
} actions[] = {{"start", "start", print_start},
	       {"stop", "stop", print_stop},
	       {"list", "list", print_list},
	       {"status", "view", print_status},
	       {"answer", "answer", print_text}};

struct arguments {
	const char *socket, *vehicle;
	bool json;
};

/* Adds the vehicle file to the request. False: it cannot be read, and that was said. */
static bool add_vehicle(json_t **request, const char *path)
{
	struct nod_error err = {""};
	size_t length;
	char *text = nod_file_read(path, MAP_MAX, &length, &err);
	struct nod_vehicle *vehicle = NULL;

	if (text && length > MAP_MAX)
		nod_error_set(&err, EFBIG, "%s: is longer than %d bytes", path, MAP_MAX);
	else if (text)
		vehicle = nod_vehicle_parse(text, length, path, &err);
	if (vehicle)
		nod_json_put(request, "vehicle", json_stringn(text, length));
	else
		nod_unreadable("%s", err.text);
	bool whole = vehicle != NULL;
	nod_vehicle_free(vehicle);
	free(text);
	return whole;
}

static int ask(size_t action, const char *title, const struct arguments *a)
{
	struct nod_error err;
	struct nod_client *client;
	json_t *request = json_object();
	json_t *answer = NULL;
	int status;

	if (title)
		nod_json_put(&request, "title", json_string(title));
	if (a->json)
		nod_json_put(&request, "form", json_string("json"));
	if (a->vehicle && !add_vehicle(&request, a->vehicle)) {
		json_decref(request);
		return NOD_EXIT_UNREADABLE;
	}
	client = nod_client_open(a->socket, &err);
	if (client)
		answer = nod_client_request(client, actions[action].request, request, &err);
	else
		json_decref(request);
	nod_client_close(client);
	if (!answer)
		return nod_unreadable("%s", err.text);
	if (a->json)
		return nod_option_print_json(answer);
	status = actions[action].print(answer);
	json_decref(answer);
	return status;
}

int nod_cmd_record(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "socket", struct arguments, socket),
						 NOD_TEXT(0, "vehicle", struct arguments, vehicle),
						 NOD_FLAG(0, "json", struct arguments, json),
						 {0}};
	static const struct nod_options options = {.command = "record", .help = help, .list = list};
	struct arguments a = {0};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	for (size_t i = 0; first < argc && i < sizeof(actions) / sizeof(actions[0]); i++) {
		bool titled = i == 0 && first + 2 == argc;
		if (a.vehicle && i)
			break;
		if (!strcmp(argv[first], actions[i].word) && (titled || first + 1 == argc))
			return ask(i, titled ? argv[first + 1] : NULL, &a);
	}
	return nod_usage("record",
			 a.vehicle ? "--vehicle: expected start [TITLE]"
				   : "expected start [TITLE], stop, list, status or answer");
}
