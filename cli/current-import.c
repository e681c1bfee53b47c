/* SPDX-License-Identifier: MIT */
#include "current-import.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdio_ext.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "current-csv.h"
#include "current-file.h"
#include "current-log.h"
#include "current-offset.h"
#include "door.h"
#include "option.h"
#include "paragraph.h"
#include "session.h"
#include "text-input.h"
#include "when.h"
#include "zone.h"

static const char help[] =
	"usage: nodoff current import CSV [--into SESSION] [OPTION ...]\n"
	"\n"
	"Reads the current that a logger recorded, says how it understood the file, and\n"
	"refuses what is ambiguous. Without --into it only says so. CSV may be \"-\".\n"
	"\n"
	"  --into SESSION           adds the samples to the session's current.log\n"
	"  --column NAME|NUMBER     column of the current\n"
	"  --time-column NAME|NUMBER\n"
	"  --unit mA                of values that do not say\n"
	"  --clamp 10mV/A           what the clamp gives, when the values are volts\n"
	"  --invert                 the clamp was put on the other way round\n"
	"  --separator comma        or semicolon, tab, bar, blanks, none\n"
	"  --decimal comma          or point\n"
	"  --time-unit s            of times that are plain numbers: s, ms, min, h\n"
	"  --start TIME             when times that count from zero began: UNIX seconds,\n"
	"                           \"2023-11-14 22:13:20\", or `locked` (from the\n"
	"                           session's journal)\n"
	"  --interval 1s            between samples of a file without times\n"
	"  --date 2023-11-14        of times of day without a date\n"
	"  --zone Europe/Berlin     of times that do not say; +01:00 with summer time\n"
	"                           included\n"
	"  --date-order dmy         or mdy, for 5/6/2023\n"
	"  --offset 3600s           how far the logger's clock is behind (- ahead)\n"
	"  --offset find            finds it: the current falls when the session's\n"
	"                           networks fall asleep; refused when that fits twice\n";

struct arguments {
	struct nod_csv_options csv;
	const char *into, *start;
	bool find_offset;
};

/* -- options ------------------------------------------------------------ */

static int take_separator(void *self, const struct nod_given *given)
{
	static const struct {
		const char *name;
		char separator;
	} names[] = {{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'},
		     {"bar", '|'},   {"blanks", ' '},    {"none", '0'}};
	struct arguments *a = self;

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
		if (!strcmp(given->value, names[i].name))
			a->csv.separator = names[i].separator;
	return a->csv.separator
		       ? NOD_EXIT_OK
		       : nod_given_wrong(given, "comma, semicolon, tab, bar, blanks or none");
}

static int take_decimal(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	const char *text = given->value;

	a->csv.decimal = !strcmp(text, "comma") ? ',' : !strcmp(text, "point") ? '.' : 0;
	return a->csv.decimal ? NOD_EXIT_OK : nod_given_wrong(given, "comma or point");
}

static int take_clamp(void *self, const struct nod_given *given)
{
	struct nod_quantity q;
	int status = nod_given_quantity(given, &q);

	if (status)
		return status;
	*nod_given_micro(self, given) = q.micro;
	return q.micro > 0 ? NOD_EXIT_OK : nod_given_wrong(given, "a sensitivity such as 10mV/A");
}

static int take_date_order(void *self, const struct nod_given *given)
{
	struct arguments *a = self;
	bool dmy = !strcmp(given->value, "dmy");

	a->csv.order = dmy ? NOD_DATE_DMY : NOD_DATE_MDY;
	return dmy || !strcmp(given->value, "mdy") ? NOD_EXIT_OK
						   : nod_given_wrong(given, "dmy or mdy");
}

static int take_duration(nod_duration *d, const struct nod_given *given)
{
	const char *text = given->value + (*given->value == '-' || *given->value == '+');

	if (nod_duration_parse(d, text))
		return nod_given_wrong(given, "a length of time such as 90 s");
	if (*given->value == '-')
		d->ns = -d->ns;
	return NOD_EXIT_OK;
}

static int take_interval(void *self, const struct nod_given *given)
{
	struct arguments *a = self;

	return take_duration(&a->csv.interval, given);
}

static int take_offset(void *self, const struct nod_given *given)
{
	struct arguments *a = self;

	a->find_offset = !strcmp(given->value, "find");
	return a->find_offset ? NOD_EXIT_OK : take_duration(&a->csv.offset, given);
}

static int take_zone(void *self, const struct nod_given *given)
{
	struct arguments *a = self;

	struct nod_error err = {""};

	a->csv.zone = given->value;
	return nod_zone_use(given->value, &err) ? nod_usage("current", "--zone: %s", err.text)
						: NOD_EXIT_OK;
}

static const struct nod_option list[] = {
	NOD_TEXT(0, "into", struct arguments, into),
	NOD_TEXT(0, "column", struct arguments, csv.column),
	NOD_TEXT(0, "time-column", struct arguments, csv.time_column),
	NOD_TEXT(0, "unit", struct arguments, csv.unit),
	NOD_TAKE_MICRO("clamp", NOD_UNIT_OHM, struct arguments, csv.clamp_uohm, take_clamp),
	NOD_FLAG(0, "invert", struct arguments, csv.invert),
	NOD_TAKE(0, "separator", take_separator),
	NOD_TAKE(0, "decimal", take_decimal),
	NOD_TEXT(0, "time-unit", struct arguments, csv.time_unit),
	NOD_TEXT(0, "start", struct arguments, start),
	NOD_TAKE(0, "interval", take_interval),
	NOD_TEXT(0, "date", struct arguments, csv.date),
	NOD_TAKE(0, "zone", take_zone),
	NOD_TAKE(0, "date-order", take_date_order),
	NOD_TAKE(0, "offset", take_offset),
	{0}};

/* Any start does when the offset is found; that of the session is near. */
static bool start_of_session(struct arguments *a)
{
	struct nod_session_lock lock;
	struct nod_error err = {""};

	if (!a->into) {
		nod_usage("current", "--offset find: needs --into the session");
		return false;
	}
	if (!a->start && !a->csv.date && !nod_session_find_lock(a->into, &lock, &err))
		a->csv.start = lock.start;
	return true;
}

/* After all options: the start may need the zone and the session. */
static bool settle_start(struct arguments *a)
{
	struct nod_error err = {""};

	if (a->find_offset && !start_of_session(a))
		return false;
	if (!a->start)
		return true;
	if (strcmp(a->start, "locked")) {
		if (!nod_when_parse(&a->csv.start, a->start, NULL, &err))
			return true;
		nod_usage("current", "--start: %s", err.text);
		return false;
	}
	if (a->into)
		a->csv.start = nod_current_file_lock(a->into);
	if (nod_time_is_set(a->csv.start))
		return true;
	nod_usage("current", "--start locked: needs --into a session whose journal says when the "
			     "car was locked");
	return false;
}

/* -- reading and writing ------------------------------------------------- */

struct import {
	const char *name;
	FILE *out; /* NULL: nothing is written */
	unsigned long told;
};

static int take_sample(void *context, nod_time time, int64_t microamps)
{
	struct import *import = context;
	char line[NOD_CURRENT_LINE];

	if (!import->out)
		return 0;
	nod_current_print(line, time, microamps);
	return fputs(line, import->out) < 0 ? -EIO : 0;
}

static void tell_defect(void *context, uint64_t line, unsigned column, const char *reason)
{
	struct import *import = context;

	if (import->told++ < 5)
		nod_door_line(stderr, "%s:%llu:%u: %s\n", import->name, (unsigned long long)line,
			      column, reason);
}

static void print_summary(const struct nod_csv_result *r)
{
	char from[NOD_TIME_TEXT], length[NOD_TIME_TEXT];
	char low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	if (!r->samples) {
		nod_paragraph_print(stdout, "", "There is not one sample in it.");
		return;
	}
	nod_paragraph_printf(stdout, "", "%llu samples from %s on, over %s, between %s and %s.",
			     (unsigned long long)r->samples, nod_wall_print(from, r->from),
			     nod_duration_print(length, nod_time_since(r->to, r->from)),
			     nod_quantity_print(low, r->lowest_ua, NOD_UNIT_AMPERE),
			     nod_quantity_print(high, r->highest_ua, NOD_UNIT_AMPERE));
	if (r->defects)
		nod_paragraph_printf(stdout, "", "%llu lines could not be taken.",
				     (unsigned long long)r->defects);
}

static int write_log(struct import *import, FILE *in, const struct nod_csv_plan *plan,
		     const struct arguments *a)
{
	struct nod_csv_result result;

	fprintf(import->out, "# imported from %s\n", import->name);
	for (int i = 0; i < NOD_CSV_SENTENCES && *plan->understood[i]; i++)
		fprintf(import->out, "# %s\n", plan->understood[i]);
	int rc = nod_csv_read(&result, in, plan, &a->csv, take_sample, NULL, import);
	if (!rc && (fflush(import->out) || fsync(fileno(import->out))))
		rc = -errno;
	return rc;
}

/* Adds to the session's log; on failure the log is as before. */
static int append(struct import *import, FILE *in, const struct nod_csv_plan *plan,
		  const struct arguments *a)
{
	char path[4096];
	struct stat before;
	int fd, rc;

	snprintf(path, sizeof(path), "%s/current.log", a->into);
	bool new = access(path, F_OK) != 0;
	fd = open(path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0666);
	if (fd < 0 || fstat(fd, &before) || !(import->out = fdopen(fd, "a"))) {
		rc = errno;
		if (fd >= 0)
			close(fd);
		if (fd >= 0 && new)
			unlink(path);
		return nod_unreadable("%s: %s", path, strerror(rc));
	}
	rc = write_log(import, in, plan, a);
	if (rc)
		__fpurge(import->out); /* or fclose() would write it behind the end */
	if (rc && (new ? unlink(path) : ftruncate(fd, before.st_size)))
		fprintf(stderr, "nodoff: %s: what was added could not be taken back\n", path);
	fclose(import->out);
	return rc ? nod_unreadable("%s: %s", path, strerror(-rc)) : NOD_EXIT_OK;
}

/* What is in the session already must be earlier: the log is read in order. */
static int check_order(const struct arguments *a, nod_time from)
{
	struct nod_current_file there;
	char path[4096];
	struct stat status;

	if (stat(a->into, &status) || !S_ISDIR(status.st_mode))
		return nod_unreadable("%s: is no session", a->into);
	snprintf(path, sizeof(path), "%s/current.log", a->into);
	if (stat(path, &status))
		return NOD_EXIT_OK;
	if (nod_current_file_load(&there, path))
		return NOD_EXIT_UNREADABLE;
	bool later = !nod_time_is_set(there.last) || from.ns > there.last.ns;
	nod_current_file_free(&there);
	return later ? NOD_EXIT_OK
		     : nod_unreadable("%s: has samples of that time or later already", path);
}

static int take_into_trace(void *context, nod_time time, int64_t microamps)
{
	return nod_current_trace_take(context, time, microamps) == -ENOMEM ? -ENOMEM : 0;
}

/* Sets the offset from the session, or says why that cannot be done. */
static int find_offset(struct arguments *a, FILE *in, const struct nod_csv_plan *plan,
		       struct nod_clock_offset *found)
{
	struct nod_current_trace *trace = nod_current_trace_new();
	struct nod_csv_result result;
	struct nod_error err = {"out of memory"};
	int rc = -ENOMEM;

	if (trace)
		rc = nod_csv_read(&result, in, plan, &a->csv, take_into_trace, NULL, trace);
	if (!rc)
		rc = nod_current_offset_find(found, a->into, trace, &err);
	nod_current_trace_free(trace);
	if (rc)
		return nod_unreadable("%s", err.text);
	if (found->state != NOD_OFFSET_FOUND)
		return nod_unreadable("the offset of the clock is not determined: %s; say --offset",
				      found->reason);
	a->csv.offset = found->offset;
	return NOD_EXIT_OK;
}

static int understand(struct nod_csv_plan *plan, FILE *in, const char *name, struct arguments *a)
{
	struct nod_clock_offset found;
	struct nod_error err = {""};

	if (nod_csv_understand(plan, in, name, &a->csv, &err))
		return nod_unreadable("%s", err.text);
	if (!a->find_offset)
		return NOD_EXIT_OK;
	int status = find_offset(a, in, plan, &found);
	if (status)
		return status;
	if (nod_csv_understand(plan, in, name, &a->csv, &err)) /* says the offset, too */
		return nod_unreadable("%s", err.text);
	snprintf(plan->understood[NOD_CSV_SENTENCES - 2], sizeof(plan->understood[0]), "%.239s",
		 found.reason);
	return NOD_EXIT_OK;
}

static int import_file(FILE *in, const char *name, struct arguments *a)
{
	struct import import = {.name = name};
	struct nod_csv_plan plan;
	struct nod_csv_result result;
	int status = understand(&plan, in, name, a);

	if (status)
		return status;
	for (int i = 0; i < NOD_CSV_SENTENCES && *plan.understood[i]; i++)
		nod_paragraph_print(stdout, "  - ", plan.understood[i]);
	if (nod_csv_read(&result, in, &plan, &a->csv, take_sample, tell_defect, &import))
		return nod_unreadable("%s: cannot be read", name);
	print_summary(&result);
	status = nod_option_finish();
	if (status || !a->into || !result.samples)
		return status;
	status = check_order(a, result.from);
	return status ? status : append(&import, in, &plan, a);
}

int nod_current_import(int argc, char **argv)
{
	static const struct nod_options options = {
		.command = "current import", .help = help, .list = list};
	struct arguments a = {.csv = nod_csv_options_none()};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first != 1)
		return nod_usage("current", "import takes one CSV file, or -");
	if (!settle_start(&a))
		return NOD_EXIT_USAGE;
	FILE *in = nod_text_input_open(argv[first]);
	if (!in)
		return nod_unreadable("%s: %s", argv[first], strerror(errno));
	status = import_file(in, argv[first], &a);
	fclose(in);
	return status;
}
