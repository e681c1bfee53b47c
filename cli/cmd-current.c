/* SPDX-License-Identifier: MIT */
/* nodoff current: what the recorded current shows, and getting it in from
 * somebody else's logger (cmd-current-import.c). */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "current-file.h"
#include "current-import.h"
#include "current-report.h"
#include "lock-option.h"
#include "option.h"
#include "settings.h"
#include "vehicle.h"

int nod_cmd_current(int argc, char **argv);

static const char help[] =
	"usage: nodoff current show SESSION|current.log [OPTION ...]\n"
	"       nodoff current import CSV [--into SESSION] [OPTION ...]\n"
	"\n"
	"show: levels, steps and pulses of the battery current, the current at rest with\n"
	"its uncertainty, and the charge taken since the car was locked.\n"
	"\n"
	"  --limit 50mA             what the parked car may take\n"
	"  --vehicle FILE           takes the limit from a vehicle file\n"
	"  --wander 20mA            how far the zero of the sensor may be off; 0A for a\n"
	"                           shunt (else 20 mA, an inductive clamp)\n"
	"  --locked TIME            when the car was locked (else the journal): 19:30,\n"
	"                           \"+2 min\" (from the first sample), ISO 8601, ...\n"
	"  --json                   for programs\n"
	"\n"
	"import: `nodoff current import --help`\n";

struct show_arguments {
	struct nod_current_request request;
	const char *vehicle, *locked;
	bool json;
};

static int take_vehicle(struct show_arguments *a)
{
	struct nod_error err = {""};

	if (!a->vehicle)
		return NOD_EXIT_OK;
	struct nod_vehicle *vehicle = nod_vehicle_load(nod_find_map(a->vehicle), &err);
	if (!vehicle)
		return nod_unreadable("%s", err.text);
	if (!a->request.limit_ua)
		a->request.limit_ua = vehicle->key_off_current_ua;
	nod_vehicle_free(vehicle);
	return NOD_EXIT_OK;
}

static int print(const struct show_arguments *a, const struct nod_current_file *file,
		 const char *path)
{
	struct nod_arena arena = {0};
	struct nod_current_findings *f = nod_current_trace_findings(file->trace, &a->request,
								    &arena);
	bool locked = nod_time_is_set(a->request.lock);
	int status;

	if (!f && errno == ENOMEM) {
		status = nod_unreadable("out of memory");
	} else if (!f) {
		status = nod_unreadable("%s: there are no samples of a current", path);
	} else if (a->json) {
		status = nod_option_print_json(nod_current_report_json(f, locked));
	} else {
		nod_current_report_print(stdout, f, locked);
		status = nod_option_finish();
	}
	nod_arena_free(&arena);
	return status;
}

static int show(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_MICRO("limit", NOD_UNIT_AMPERE, struct show_arguments, request.limit_ua),
		NOD_TEXT(0, "vehicle", struct show_arguments, vehicle),
		NOD_MICRO("wander", NOD_UNIT_AMPERE, struct show_arguments, request.wander_ua),
		NOD_TEXT(0, "locked", struct show_arguments, locked),
		NOD_FLAG(0, "json", struct show_arguments, json),
		{0}};
	static const struct nod_options options = {
		.command = "current", .help = help, .list = list};
	struct show_arguments a = {
		.request = {.lock = NOD_TIME_NONE, .wander_ua = NOD_CLAMP_WANDER_UA}};
	struct nod_current_file file;
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first != 1)
		return nod_usage("current", "show takes one session or current.log");
	status = take_vehicle(&a);
	if (!status)
		status = nod_current_file_load(&file, argv[first]);
	if (status)
		return status;
	a.request.lock = file.lock;
	if (a.locked)
		status = nod_lock_parse(&a.request.lock, "--locked", a.locked, file.first,
					file.last);
	if (!status)
		status = print(&a, &file, argv[first]);
	nod_current_file_free(&file);
	return status;
}

int nod_cmd_current(int argc, char **argv)
{
	const char *verb = argc > 1 ? argv[1] : "";

	if (!strcmp(verb, "show"))
		return show(argc - 1, argv + 1);
	if (!strcmp(verb, "import"))
		return nod_current_import(argc - 1, argv + 1);
	if (!strcmp(verb, "--help") || !strcmp(verb, "-h")) {
		fputs(help, stdout);
		return nod_option_finish();
	}
	return nod_usage("current", "say what to do: show or import");
}
