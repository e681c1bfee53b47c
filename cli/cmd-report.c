/* SPDX-License-Identifier: MIT */
/* nodoff report: one HTML page for the customer and the colleague. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cars.h"
#include "command.h"
#include "option.h"
#include "digest.h"
#include "judged.h"
#include "output.h"
#include "report.h"
#include "text-stream.h"

int nod_cmd_report(int argc, char **argv);

static const char help[] =
	"usage: nodoff report SESSION|CAPTURE ... [OPTION ...]\n"
	"\n"
	"Writes what a session shows as one HTML file that needs nothing else: for a\n"
	"phone, a screen or A4 paper. Several sessions of a car become one page.\n"
	"\n"
	"  -o, --out FILE       where to (default: the session's name and .html, here;\n"
	"                       \"-\" for standard output)\n"
	"  -b, --before SESSION the session before the repair: compares the first with it\n"
	"  -g, --good SESSION   a recording that slept well, as for `nodoff analyse`\n"
	"      --cars DIRECTORY a folder of recordings, as for `nodoff analyse`\n"
	"      --no-cars        without the folder of the settings\n"
	"  -l, --locked TIME    when the car was locked, as for `nodoff analyse`\n"
	"  -v, --vehicle FILE   your map of the car (default: each session's own)\n";

struct arguments {
	struct nod_judge_options judge;
	struct nod_cars_choice cars;
	const char *out, *before, *good;
	char **paths;
	size_t count;
};

/* A session as it is told of in the report. */
struct told {
	struct nod_judged judged;
	struct nod_recalled recalled;
	struct nod_report_session session;
	struct nod_report_file *files;
	char (*digests)[NOD_DIGEST_TEXT]; /* of the files, then of the vehicle file */
};

/* Without it the page says that it is not known. */
static void digest(char text[NOD_DIGEST_TEXT], const char *path)
{
	struct nod_error err = {""};

	if (!nod_digest_file(text, path, &err))
		return;
	nod_unreadable("%s", err.text);
	text[0] = '\0';
}

static void tell_file(struct told *t, size_t i)
{
	const struct nod_session_file *from = nod_session_file(t->judged.session, i);

	digest(t->digests[i], from->path);
	t->files[i] = (struct nod_report_file){
		.name = nod_path_name(from->path),
		.form = from->form ? from->form : "",
		.sha256 = t->digests[i],
		.fault = from->fault,
		.entries = from->counts.frames,
		.defects = from->counts.defects,
		.lost = from->counts.lost,
		.back_steps = from->counts.back_steps,
	};
}

static const char *about(const struct told *t, const char *key)
{
	const char *value = nod_session_about(t->judged.session, key);

	return value ? value : "";
}

static int tell(struct told *t, const char *path, const struct nod_judge_options *options,
		struct nod_cars *cars)
{
	int code = nod_judge(&t->judged, &path, 1, options);

	if (!code)
		code = nod_cars_recall(cars, &t->recalled, &t->judged, options);
	if (code)
		return code;
	size_t count = nod_session_file_count(t->judged.session);
	t->files = calloc(count + 1, sizeof(*t->files));
	t->digests = calloc(count + 1, sizeof(*t->digests));
	if (!t->files || !t->digests)
		return nod_unreadable("out of memory");
	for (size_t i = 0; i < count; i++)
		tell_file(t, i);
	const char *map = nod_judged_map(&t->judged, options);
	if (map)
		digest(t->digests[count], map);
	t->session = (struct nod_report_session){
		.title = nod_judged_title(&t->judged),
		.tool = about(t, "tool"),
		.clock = about(t, "clock"),
		.findings = t->judged.findings,
		.timeline = t->judged.timeline,
		.files = t->files,
		.file_count = count,
		.vehicle_sha256 = t->digests[count],
	};
	return NOD_EXIT_OK;
}

static void forget(struct told *t)
{
	nod_judged_close(&t->judged);
	nod_cars_forget(&t->recalled);
	free(t->files);
	free(t->digests);
}

/* "car-1.html" of "cars/car-1/" or "cars/car-1.log". */
static char *default_name(const char *path)
{
	char *copy = strdup(path), *name = NULL;

	if (!copy)
		return NULL;
	size_t length = strlen(copy);
	while (length > 1 && copy[length - 1] == '/')
		copy[--length] = '\0';
	char *base = (char *)nod_path_name(copy);
	char *dot = strchr(base + 1, '.');
	if (dot && *base)
		*dot = '\0';
	if (!*base || !strcmp(base, "-") || !strcmp(base, ".") || !strcmp(base, "/"))
		base = (char *)"report";
	if (asprintf(&name, "%s.html", base) < 0)
		name = NULL;
	free(copy);
	return name;
}

static int save(const struct arguments *a, const char *page, size_t length)
{
	char *name = a->out ? strdup(a->out) : default_name(a->paths[0]);

	if (!name)
		return nod_unreadable("out of memory");
	int code = a->out || access(name, F_OK)
			   ? nod_output_write(name, page, length, a->out != NULL)
			   : nod_unreadable("%s is there already; name it with --out to replace it",
					    name);
	if (!code && strcmp(name, "-"))
		printf("%s\n", name);
	free(name);
	return code;
}

static int write_page(const struct arguments *a, const struct nod_report_session *sessions,
		      const struct nod_report_session *before)
{
	struct nod_text_stream page;

	if (nod_text_stream_open(&page))
		return nod_unreadable("out of memory");
	int status = nod_report_write(page.out, sessions, a->count, before);
	if (nod_text_stream_close(&page))
		status = -ENOMEM;
	int code = status ? nod_unreadable("the report: %s", strerror(-status))
			  : save(a, page.text, page.size);
	free(page.text);
	return code;
}

/* The sessions in their order, and the one before the repair behind them. */
static int tell_all(const struct arguments *a, struct nod_cars *cars, struct told *told,
		    struct nod_report_session *sessions)
{
	int code = NOD_EXIT_OK;

	for (size_t i = 0; i < a->count && !code; i++) {
		code = tell(&told[i], a->paths[i], &a->judge, cars);
		sessions[i] = told[i].session;
	}
	if (a->before && !code)
		code = tell(&told[a->count], a->before, &a->judge, NULL);
	return code;
}

static int run(struct arguments *a)
{
	struct told *told = calloc(a->count + 1, sizeof(*told)); /* the last one is before */
	struct nod_report_session *sessions = calloc(a->count, sizeof(*sessions));
	struct nod_judged good = {0};
	struct nod_cars *cars = NULL;
	int code = NOD_EXIT_OK;

	if (!told || !sessions)
		code = nod_unreadable("out of memory");
	if (a->good && !code) {
		struct nod_judge_options plain = {.vehicle = a->judge.vehicle};
		code = nod_judge(&good, &a->good, 1, &plain);
		a->judge.good = good.findings;
	}
	if (!code)
		code = nod_cars_open(&cars, &a->cars);
	a->judge.vin = cars != NULL;
	if (!code)
		code = tell_all(a, cars, told, sessions);
	if (!code)
		code = write_page(a, sessions, a->before ? &told[a->count].session : NULL);
	for (size_t i = 0; told && i <= a->count; i++)
		forget(&told[i]);
	nod_judged_close(&good);
	nod_cars_close(cars);
	free(told);
	free(sessions);
	return code;
}

int nod_cmd_report(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT('o', "out", struct arguments, out),
		NOD_TEXT('b', "before", struct arguments, before),
		NOD_TEXT('g', "good", struct arguments, good),
		NOD_TEXT(0, "cars", struct arguments, cars.folder),
		NOD_FLAG(0, "no-cars", struct arguments, cars.none),
		NOD_TEXT('l', "locked", struct arguments, judge.locked),
		NOD_TEXT('v', "vehicle", struct arguments, judge.vehicle),
		{0}};
	static const struct nod_options options = {.command = "report", .help = help, .list = list};
	struct arguments a = {.judge.timeline = true};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("report", "no session or capture given");
	a.paths = argv + first;
	a.count = (size_t)(argc - first);
	return run(&a);
}
