/* SPDX-License-Identifier: MIT */
#include "vehicle-import.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "dbc-import.h"
#include "file-read.h"
#include "option.h"
#include "output.h"
#include "vehicle-extend.h"

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
	"      --into FILE         adds to this vehicle file instead of printing one: what\n"
	"                          stands in it stays as it is written\n"
	"  -h, --help              print this help\n";

/* Notes after this many are only counted: a screen is enough to see what kind they are. */
#define NOTES_SHOWN 10

/* More than a vehicle file may have. */
#define NOD_VEHICLE_BYTES_MAX ((size_t)8 << 20)

struct job {
	const char *network, *interface, *into;
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
	const struct nod_dbc_import how = {
		.network = job->network, .interface = job->interface, .note = tell, .context = job};
	struct nod_error err = {""};
	size_t length;
	char *text = nod_file_read(path, NOD_DBC_BYTES_MAX, &length, &err);
	struct nod_vehicle *vehicle = text ? nod_dbc_import(text, length, path, &how, &err) : NULL;

	if (!vehicle)
		nod_unreadable("%s", err.text);
	else if (job->notes > NOTES_SHOWN)
		fprintf(stderr, "nodoff vehicle import: ... and %u more\n",
			job->notes - NOTES_SHOWN);
	free(text);
	return vehicle;
}

static void tell_extension(const char *path, const struct nod_extension *x)
{
	printf("%s: added %u network%s, %u module%s, %u message%s, %u ID%s to modules that were "
	       "there\n",
	       path, x->networks, x->networks == 1 ? "" : "s", x->modules,
	       x->modules == 1 ? "" : "s", x->messages, x->messages == 1 ? "" : "s", x->ids,
	       x->ids == 1 ? "" : "s");
	if (x->known)
		printf("left alone: %u message%s whose ID is described there already\n", x->known,
		       x->known == 1 ? "" : "s");
	if (x->claimed)
		printf("left out: %u ID%s that other modules claim there\n", x->claimed,
		       x->claimed == 1 ? "" : "s");
}

/* The file is written whole or stays as it is. */
static int add_to(const char *path, const struct nod_vehicle *vehicle)
{
	struct nod_extension done;
	struct nod_error err = {""};
	size_t length;
	char *text = nod_file_read(path, NOD_VEHICLE_BYTES_MAX, &length, &err);
	char *more = text ? nod_vehicle_extend(text, length, path, vehicle, &done, &err) : NULL;
	int code = more ? nod_output_write(path, more, strlen(more), true)
			: nod_unreadable("%s", err.text);

	if (!code)
		tell_extension(path, &done);
	free(more);
	free(text);
	return code;
}

int nod_vehicle_import_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT('n', "network", struct job, network),
						 NOD_TEXT('i', "interface", struct job, interface),
						 NOD_TEXT(0, "into", struct job, into),
						 {0}};
	static const struct nod_options options = {
		.command = "vehicle import", .help = help, .list = list};
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
	int code = job.into ? add_to(job.into, vehicle) : NOD_EXIT_OK;
	if (!job.into)
		nod_vehicle_write(vehicle, stdout);
	nod_vehicle_free(vehicle);
	return code ? code : nod_option_finish();
}
