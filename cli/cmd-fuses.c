/* SPDX-License-Identifier: MIT */
/* nodoff fuses: millivolts across fuses, joined with the map of the car. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cautions.h"
#include "command.h"
#include "fuse-reading.h"
#include "fuse-report.h"
#include "option.h"
#include "session-marks.h"
#include "settings.h"
#include "vehicle.h"

int nod_cmd_fuses(int argc, char **argv);

static const char help[] =
	"usage: nodoff fuses [OPTION ...] READING ...\n"
	"\n"
	"Turns millivolts across fuses into currents, says which modules hang on the\n"
	"fuses that carry current and what those share, and compares the sum with a\n"
	"clamp. A reading is F12=2.3mV for a fuse of the vehicle file, else\n"
	"mini:10A=2.3mV or F12:mini:10A=2.3mV with family and rating.\n"
	"\n"
	"  --vehicle FILE       the map: which fuse feeds what\n"
	"  --readings FILE      takes readings from a text file, one a line (F12 2.3 mV),\n"
	"                       or from a session's journal; - is standard input\n"
	"  --clamp 0.43A        current in the battery cable at the time\n"
	"  --clamp-off 20mA     how far that may be off (at least 20 mA is assumed)\n"
	"  --resolution 0.1mV   how far the meter may be off (else one count of the\n"
	"                       last digit as written)\n"
	"  --json               for programs\n";

#define MOST_READINGS 2000

struct arguments {
	const char *vehicle_path, *readings_path;
	int64_t clamp_ua, clamp_off_ua, uncertainty_uv; /* the last: -1 as written */
	bool clamp_given, json;
	struct nod_vehicle *vehicle;
	struct nod_fuse_reading *readings;
	size_t count;
	struct nod_arena arena;
};

static int take_clamp(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	a->clamp_ua = q.micro;
	a->clamp_given = true;
	if (!a->clamp_off_ua)
		a->clamp_off_ua = q.last_digit;
	return NOD_EXIT_OK;
}

static int take_positive(void *self, const struct nod_given *given)
{
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	*nod_given_micro(self, given) = q.micro;
	if (q.micro >= 0)
		return NOD_EXIT_OK;
	return nod_usage("fuses", "--%s: `%s` is negative", given->option->name, given->value);
}

/* -- readings ----------------------------------------------------------- */

static int add(struct arguments *a, const char *text, struct nod_error *err)
{
	if (a->count == MOST_READINGS)
		return nod_error_set(err, E2BIG, "more than %d readings", MOST_READINGS);
	int rc = nod_fuse_reading_parse(&a->readings[a->count], text, a->uncertainty_uv, a->vehicle,
					&a->arena, err);
	a->count += !rc;
	return rc;
}

/* A reading of the journal of something else (a pin, the battery) is no fuse. */
static void add_mark(struct arguments *a, const struct nod_mark *mark)
{
	if (mark->kind != NOD_MARK_READING || add(a, mark->subject, NULL))
		return;
	const struct nod_fuse_reading *r = &a->readings[a->count - 1];
	if (r->fuse == NOD_NONE && !r->family)
		a->count--;
}

/* A line of a journal is kept in `journal`: one that follows may take it back. */
static int add_line(struct arguments *a, struct nod_session_marks *journal, char *line,
		    struct nod_error *err)
{
	struct nod_mark mark;
	unsigned column;

	line[strcspn(line, "\r\n")] = '\0';
	line += strspn(line, " \t");
	if (!*line || *line == '#')
		return 0;
	if (*line != '(')
		return add(a, line, err);
	int rc = nod_mark_parse(&mark, line, &column, err);
	if (rc > 0 && nod_session_marks_add(journal, &mark))
		return nod_error_set(err, ENOMEM, "out of memory");
	return rc < 0 ? rc : 0;
}

static int read_lines(struct arguments *a, struct nod_session_marks *journal, FILE *in)
{
	const char *path = a->readings_path;
	struct nod_error err = {""};
	unsigned long number = 0;
	char line[NOD_MARK_LINE_MAX];

	while (fgets(line, sizeof(line), in)) {
		number++;
		if (!strchr(line, '\n') && !feof(in))
			return nod_unreadable("%s:%lu: the line is too long", path, number);
		if (add_line(a, journal, line, &err))
			return nod_unreadable("%s:%lu: %s", path, number, err.text);
	}
	if (ferror(in))
		return nod_unreadable("%s: %s", path, strerror(errno));
	return NOD_EXIT_OK;
}

static int read_all(struct arguments *a, FILE *in)
{
	struct nod_session_marks journal = {.count = 0};
	int status = read_lines(a, &journal, in);

	nod_session_marks_sort(&journal);
	for (size_t i = 0; i < journal.count; i++)
		add_mark(a, &journal.list[i].mark);
	nod_session_marks_free(&journal);
	return status;
}

static int read_file(struct arguments *a)
{
	if (!a->readings_path)
		return NOD_EXIT_OK;
	if (!strcmp(a->readings_path, "-"))
		return read_all(a, stdin);
	FILE *in = fopen(a->readings_path, "r");
	if (!in)
		return nod_unreadable("%s: %s", a->readings_path, strerror(errno));
	int status = read_all(a, in);
	fclose(in);
	return status;
}

static int read_arguments(struct arguments *a, int count, char **words)
{
	struct nod_error err = {""};

	for (int i = 0; i < count; i++)
		if (add(a, words[i], &err))
			return nod_usage("fuses", "%s", err.text);
	if (!a->count)
		return nod_usage("fuses", "there are no fuse readings");
	return NOD_EXIT_OK;
}

/* -- all ---------------------------------------------------------------- */

static int survey(struct arguments *a)
{
	struct nod_error err = {""};
	struct nod_fuse_survey *s = nod_fuse_survey_make(a->vehicle, a->readings, a->count,
							 a->clamp_given ? &a->clamp_ua : NULL,
							 a->clamp_off_ua, &err);

	if (!s)
		return errno == ENOMEM ? nod_unreadable("%s", err.text)
				       : nod_usage("fuses", "%s", err.text);
	int status;
	if (a->json) {
		status = nod_option_print_json(nod_fuse_survey_json(s, a->vehicle));
	} else {
		nod_fuse_survey_print(stdout, s, a->vehicle);
		putchar('\n');
		nod_cautions_print(stdout, NOD_JOB_FUSES);
		status = nod_option_finish();
	}
	nod_fuse_survey_free(s);
	return status;
}

static int run(struct arguments *a, int count, char **words)
{
	struct nod_error err = {""};

	a->readings = calloc(MOST_READINGS, sizeof(*a->readings));
	a->vehicle = a->vehicle_path ? nod_vehicle_load(nod_find_map(a->vehicle_path), &err)
				     : nod_vehicle_new();
	if (!a->readings || !a->vehicle)
		return nod_unreadable("%s", *err.text ? err.text : "out of memory");
	int status = read_file(a);
	if (!status)
		status = read_arguments(a, count, words);
	return status ? status : survey(a);
}

int nod_cmd_fuses(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT(0, "vehicle", struct arguments, vehicle_path),
		NOD_TEXT(0, "readings", struct arguments, readings_path),
		NOD_TAKE_MICRO("clamp", NOD_UNIT_AMPERE, struct arguments, clamp_ua, take_clamp),
		NOD_TAKE_MICRO("clamp-off", NOD_UNIT_AMPERE, struct arguments, clamp_off_ua,
			       take_positive),
		NOD_TAKE_MICRO("resolution", NOD_UNIT_VOLT, struct arguments, uncertainty_uv,
			       take_positive),
		NOD_FLAG(0, "json", struct arguments, json),
		{0}};
	static const struct nod_options options = {.command = "fuses", .help = help, .list = list};
	struct arguments a = {.uncertainty_uv = -1};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	status = run(&a, argc - first, argv + first);
	nod_vehicle_free(a.vehicle);
	nod_arena_free(&a.arena);
	free(a.readings);
	return status;
}
