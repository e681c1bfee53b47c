/* SPDX-License-Identifier: MIT */
#include "text-stream.h"
#include "vehicle-learn.h"

#include <stdio.h>
#include <stdlib.h>

#include "command.h"
#include "judged.h"
#include "learn.h"
#include "option.h"

static const char help[] =
	"usage: nodoff vehicle learn SESSION ... [OPTION ...]\n"
	"\n"
	"Says which IDs belong to what: isolate a fuse or unplug a module while you\n"
	"record, mark it (\"isolated F12\", and \"refitted F12\" after a minute or two), and\n"
	"the IDs that vanish and come back with it are proposed for it, with how sure\n"
	"that is and why. It is surest while the network stays awake: when it falls\n"
	"asleep, everybody vanishes. Several sessions of one car add up. IDs that no\n"
	"module claims and that always start and stop together are offered as one\n"
	"unknown module, and bits that moved when an input was touched are listed.\n"
	"Airbag and high-voltage circuits are isolated only as the vehicle maker\n"
	"prescribes.\n"
	"\n"
	"Prints lines for the vehicle file; what contradicts the map is said beside it.\n"
	"\n"
	"  -v, --vehicle FILE  the present map (default: that of each session; the last\n"
	"                      one's is added to)\n"
	"  -m, --merge         print the whole vehicle file, with what is sure and\n"
	"                      claimed by nobody added (remarks are lost)\n"
	"  -j, --json          as one JSON object\n"
	"  -h, --help          print this help\n";

struct job {
	struct nod_judge_options judge;
	bool merge, json;
	struct nod_learn *learn;
	struct nod_judged judged; /* the last session */
};

/* A vehicle of our own, with the networks that the recording added. */
static struct nod_vehicle *copy_vehicle(const struct nod_vehicle *vehicle)
{
	struct nod_vehicle *copy = NULL;
	struct nod_error err = {""};
	struct nod_text_stream stream;

	if (nod_text_stream_open(&stream))
		return NULL;
	int status = nod_vehicle_write(vehicle, stream.out);
	if (!nod_text_stream_close(&stream) && !status)
		copy = nod_vehicle_parse(stream.text, stream.size, "the map", &err);
	free(stream.text);
	return copy;
}

static int print_merged(const struct nod_lesson *lesson, const struct nod_vehicle *map)
{
	struct nod_vehicle *vehicle = copy_vehicle(map);
	int code = NOD_EXIT_OK;

	if (!vehicle || nod_lesson_merge(lesson, vehicle))
		code = nod_unreadable("the map cannot be copied: out of memory");
	else
		nod_vehicle_write(vehicle, stdout);
	nod_vehicle_free(vehicle);
	return code ? code : nod_option_finish();
}

static int conclude(const struct job *job)
{
	const struct nod_vehicle *map = job->judged.findings->vehicle;
	const struct nod_lesson *lesson = nod_learn_conclude(job->learn, map);

	if (!lesson)
		return nod_unreadable("out of memory");
	if (job->merge)
		return print_merged(lesson, map);
	if (job->json)
		return nod_option_print_json(nod_lesson_json(lesson));
	nod_lesson_write(lesson, stdout);
	return nod_option_finish();
}

static int run(struct job *job, char **paths, int count)
{
	int code = NOD_EXIT_OK;

	job->learn = nod_learn_new();
	if (!job->learn)
		return nod_unreadable("out of memory");
	for (int i = 0; !code && i < count; i++) {
		const char *path = paths[i];
		nod_judged_close(&job->judged);
		code = nod_judge(&job->judged, &path, 1, &job->judge);
		if (!code && nod_learn_add(job->learn, job->judged.findings, job->judged.heard,
					   nod_session_interfaces(job->judged.session)))
			code = nod_unreadable("out of memory");
	}
	if (!code)
		code = conclude(job);
	nod_judged_close(&job->judged);
	nod_learn_free(job->learn);
	return code;
}

int nod_vehicle_learn_command(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('v', "vehicle", struct job, judge.vehicle),
		NOD_FLAG('m', "merge", struct job, merge),
		NOD_FLAG('j', "json", struct job, json),
		{0}};
	static const struct nod_options options = {
		.command = "vehicle learn", .help = help, .list = list};
	struct job job = {.judge = {.heard = true}};
	int status, first = nod_options_walk(&options, &job, argc, argv, &status);

	if (!first)
		return status;
	if (job.merge && job.json)
		return nod_usage("vehicle learn", "--merge prints a vehicle file, not JSON");
	if (first == argc)
		return nod_usage("vehicle learn", "name at least one session");
	return run(&job, argv + first, argc - first);
}
