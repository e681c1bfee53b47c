#include "vehicle-import.h"

#include <stdio.h>
#include <stdlib.h>

#include "command.h"
#include "dbc-import.h"
#include "file-read.h"
#include "option.h"

static const char help[] =
	"usage: nodoff vehicle import FILE.dbc [OPTION ...]\n"
	"\n"
	"Prints a vehicle file made of a DBC file, the form in which CAN databases are\n"
	"exchanged: nodes become modules, messages keep their IDs, senders, lengths,\n"
	"periods and comments, signals their place, sign, factor, offset, unit, names of\n"
	"values and what selects them. UTF-8 and Windows-1252 are told apart. What cannot\n"
	"be taken is said on standard error. \"-\" is standard input.\n"
	"\n"
	"  -n, --network NAME      what the messages are on (without it they may be on\n"
	"                          any network)\n"
	"  -i, --interface NAME    how recordings call that network (default: can0)\n"
	"  -h, --help              print this help\n";

/* Notes after this many are only counted: a screen is enough to see what kind they are. */
#define NOTES_SHOWN 10

struct job {
	const char *network, *interface;
	unsigned notes;
};

static void tell(void *context, const char *text)
{
	struct job *job = context;

	if (job->notes++ < NOTES_SHOWN)
		fprintf(stderr, "nodoff vehicle import: %s\n", text);
}

static struct nod_vehicle *import(struct job *job, const char *path)
{
	const struct nod_dbc_import how = {.network = job->network, .interface = job->interface,
					   .note = tell, .context = job};
	struct nod_error err = {""};
	size_t length;
	char *text = nod_file_read(path, NOD_DBC_BYTES_MAX, &length, &err);
	struct nod_vehicle *vehicle =
		text ? nod_dbc_import(text, length, path, &how, &err) : NULL;

	if (!vehicle)
		nod_unreadable("%s", err.text);
	else if (job->notes > NOTES_SHOWN)
		fprintf(stderr, "nodoff vehicle import: ... and %u more\n", job->notes - NOTES_SHOWN);
	free(text);
	return vehicle;
}

int nod_vehicle_import_command(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('n', "network", struct job, network),
		NOD_TEXT('i', "interface", struct job, interface),
		{0}};
	static const struct nod_options options = {.command = "vehicle import", .help = help,
						   .list = list};
	struct job job = {0};
	int status, first = nod_options_walk(&options, &job, argc, argv, &status);

	if (!first)
		return status;
	if (job.interface && !job.network)
		return nod_usage("vehicle import", "--interface says how --network is called; name "
						   "the network as well");
	if (first + 1 != argc)
		return nod_usage("vehicle import", "name one DBC file");
	if (job.network && !job.interface)
		job.interface = "can0";
	struct nod_vehicle *vehicle = import(&job, argv[first]);
	if (!vehicle)
		return NOD_EXIT_UNREADABLE;
	nod_vehicle_write(vehicle, stdout);
	nod_vehicle_free(vehicle);
	return nod_option_finish();
}
