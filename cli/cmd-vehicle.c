/* SPDX-License-Identifier: MIT */
/* nodoff vehicle: checks a vehicle file, drafts one from a recording, learns
 * from what was isolated while it was recorded, or imports what is known already. */
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "option.h"
#include "vehicle-draft.h"
#include "vehicle-import.h"
#include "vehicle-learn.h"
#include "vehicle-report.h"

int nod_cmd_vehicle(int argc, char **argv);

static const char help[] =
	"usage: nodoff vehicle check FILE\n"
	"       nodoff vehicle draft SESSION|CAPTURE ... [--out FILE]\n"
	"       nodoff vehicle learn SESSION ... [OPTION ...]\n"
	"       nodoff vehicle import FILE.dbc [OPTION ...]\n"
	"\n"
	"check reads a vehicle file (the map of a car: networks, modules with their\n"
	"IDs, fuses) and prints what was understood and what is worth a second look.\n"
	"The first error is named with its line and column; exit status 4. \"-\" is\n"
	"standard input.\n"
	"\n"
	"draft makes a first vehicle file from a recording: every ID that was heard,\n"
	"grouped by what seems to belong together, for you to name.\n"
	"\n"
	"learn says which IDs belong to what was isolated or unplugged in recorded\n"
	"sessions; `nodoff vehicle learn --help` explains it.\n"
	"\n"
	"import makes a vehicle file of a DBC file; `nodoff vehicle import --help`\n"
	"explains it.\n"
	"\n"
	"  -h, --help    print this help\n";

static int check(const char *path)
{
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = nod_vehicle_load(path, &err);

	if (!vehicle)
		return nod_unreadable("%s", err.text);
	int status = nod_vehicle_report(vehicle, stdout);
	nod_vehicle_free(vehicle);
	return status ? nod_unreadable("out of memory") : nod_option_finish();
}

int nod_cmd_vehicle(int argc, char **argv)
{
	static const struct nod_options options = {.command = "vehicle", .help = help};

	if (argc > 1 && !strcmp(argv[1], "learn"))
		return nod_vehicle_learn_command(argc - 1, argv + 1);
	if (argc > 1 && !strcmp(argv[1], "draft"))
		return nod_vehicle_draft_command(argc - 1, argv + 1);
	if (argc > 1 && !strcmp(argv[1], "import"))
		return nod_vehicle_import_command(argc - 1, argv + 1);
	int status, first = nod_options_walk(&options, NULL, argc, argv, &status);
	if (!first)
		return status;
	argc -= first;
	argv += first;
	if (argc && !strcmp(argv[0], "check"))
		return argc == 2 ? check(argv[1]) : nod_usage("vehicle", "check takes one file");
	if (argc)
		return nod_usage("vehicle",
				 "there is no `%s`, expected check, draft, learn or import",
				 argv[0]);
	return nod_usage("vehicle", "say check, draft, learn or import");
}
