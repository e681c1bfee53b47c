/* nodoff vehicle: checks a vehicle file, drafts one from a recording, learns
 * from what was isolated while it was recorded, or imports what is known already. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "draft.h"
#include "option.h"
#include "vehicle-import.h"
#include "vehicle-learn.h"
#include "vehicle-report.h"

int nod_cmd_vehicle(int argc, char **argv);

static const char help[] =
	"usage: nodoff vehicle check FILE\n"
	"       nodoff vehicle draft CAPTURE ...\n"
	"       nodoff vehicle learn SESSION ... [OPTION ...]\n"
	"       nodoff vehicle import FILE.dbc [OPTION ...]\n"
	"\n"
	"check reads a vehicle file (the map of a car: networks, modules with their\n"
	"IDs, fuses) and prints what was understood and what is worth a second look.\n"
	"The first error is named with its line and column; exit status 4.\n"
	"\n"
	"draft prints a first vehicle file made from captures: every ID that was\n"
	"heard, grouped by what seems to belong together, with its length, period,\n"
	"number and an example, for you to name. \"-\" is standard input.\n"
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

/* Returns 0 or a negative errno after saying what is wrong. */
static int read_all(struct nod_draft *draft, struct nod_source *source)
{
	struct nod_defect_report defects = {0};
	const struct nod_event *event;
	struct nod_error err = {""};
	int status;

	while ((status = nod_source_next(source, &event, &err)) > 0) {
		if (event->kind == NOD_EVENT_DEFECT)
			nod_defect_tell(&defects, event);
		else if (nod_draft_take(draft, event)) {
			nod_unreadable("out of memory");
			return -ENOMEM;
		}
	}
	nod_defect_sum_up(&defects);
	if (status < 0)
		nod_unreadable("%s", err.text);
	return status;
}

static int draft_from(struct nod_source *source, const struct nod_interfaces *names)
{
	struct nod_draft *draft = nod_draft_new();

	if (!draft)
		return nod_unreadable("out of memory");
	int status = read_all(draft, source);
	if (!status) {
		status = nod_draft_write(draft, names, stdout);
		if (status == -ENODATA)
			nod_unreadable("there is no frame in the recording");
		else if (status)
			nod_unreadable("the draft cannot be written: %s", strerror(-status));
	}
	nod_draft_free(draft);
	return status ? NOD_EXIT_UNREADABLE : nod_option_finish();
}

static int draft(char **paths, int count)
{
	struct nod_interfaces names = {0};
	struct nod_source *source = nod_captures_open(paths, (size_t)count, &names);

	if (!source)
		return NOD_EXIT_UNREADABLE;
	int status = draft_from(source, &names);
	nod_source_close(source);
	return status;
}

int nod_cmd_vehicle(int argc, char **argv)
{
	static const struct nod_options options = {.command = "vehicle", .help = help};

	if (argc > 1 && !strcmp(argv[1], "learn"))
		return nod_vehicle_learn_command(argc - 1, argv + 1);
	if (argc > 1 && !strcmp(argv[1], "import"))
		return nod_vehicle_import_command(argc - 1, argv + 1);
	int status, first = nod_options_walk(&options, NULL, argc, argv, &status);
	if (!first)
		return status;
	argc -= first;
	argv += first;
	if (argc && !strcmp(argv[0], "check"))
		return argc == 2 ? check(argv[1]) : nod_usage("vehicle", "check takes one file");
	if (argc && !strcmp(argv[0], "draft"))
		return argc > 1 ? draft(argv + 1, argc - 1)
				: nod_usage("vehicle", "draft: name at least one capture");
	if (argc)
		return nod_usage("vehicle", "there is no `%s`, expected check, draft, learn or import",
				 argv[0]);
	return nod_usage("vehicle", "say check, draft, learn or import");
}
