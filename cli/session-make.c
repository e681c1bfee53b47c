/* SPDX-License-Identifier: MIT */
/* nodoff session make: a session from bare captures, in one step. */
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "command.h"
#include "digest.h"
#include "journal-file.h"
#include "lock-option.h"
#include "option.h"
#include "session-commands.h"
#include "session-create.h"
#include "vehicle.h"
#include "zone.h"

static const char help[] =
	"usage: nodoff session make CAPTURE ... --into DIR [OPTION ...]\n"
	"\n"
	"Makes the session DIR from captures (candump log, pcap, ..., plain or packed;\n"
	"\"-\" is standard input). They are copied as they are; several are merged by time\n"
	"when they are read. Headers of a capture such as \"# locked: SECONDS\" count as\n"
	"marks of the journal.\n"
	"\n"
	"      --into DIR         where to make it; must not exist\n"
	"      --locked TIME      when the car was locked: 19:30, 14:03:12, \"+2 min\"\n"
	"                         (from the start), ISO 8601 or UNIX seconds\n"
	"      --locked-at-start  it was locked when the recording began\n"
	"      --vehicle FILE     the map of the car, copied into the session\n"
	"      --title TEXT       what it is, for people\n"
	"  -h, --help             print this help\n";

struct options {
	const char *into, *locked, *vehicle, *title;
	bool locked_at_start;
	char **captures;
	size_t capture_count;
};

/* Ending of a file's name that says its form. */
static const char *ending(const char *form, char buf[20])
{
	snprintf(buf, 20, "%s%s",
		 strstr(form, "pcapng") ? ".pcapng"
		 : strstr(form, "pcap") ? ".pcap"
					: ".log",
		 strstr(form, ", gzip")   ? ".gz"
		 : strstr(form, ", zstd") ? ".zst"
					  : "");
	return buf;
}

/* Gives the copy a name by its form, and says where it comes from. */
static int name_copy(struct nod_session_maker *maker, const char *capture, const char *copy,
		     const char *form, size_t index, size_t count)
{
	char name[64], part[24] = "", end[20], digest[NOD_DIGEST_TEXT];
	struct nod_error err;
	struct stat st;

	if (count > 1)
		snprintf(part, sizeof(part), "-%03zu", index + 1);
	snprintf(name, sizeof(name), "frames%s%s-000001%s", count > 1 ? "-source" : "", part,
		 ending(form, end));
	const char *path = nod_session_maker_path(maker, name);
	if (!path)
		return nod_unreadable("out of memory");
	if (rename(copy, path) || stat(path, &st))
		return nod_unreadable("%s: cannot be copied: %s", capture, strerror(errno));
	if (nod_digest_file(digest, path, &err))
		return nod_unreadable("%s", err.text);
	const char *slash = strrchr(capture, '/');
	char note[600];
	snprintf(note, sizeof(note), "%.400s, %" PRIdMAX " bytes, SHA-256 %s",
		 !strcmp(capture, "-") ? "standard input"
		 : slash               ? slash + 1
				       : capture,
		 (intmax_t)st.st_size, digest);
	nod_session_maker_note(maker, "capture", note);
	return NOD_EXIT_OK;
}

static int copy_capture(struct nod_session_maker *maker, const char *capture, size_t index,
			size_t count)
{
	struct nod_interfaces *names = calloc(1, sizeof(*names));
	struct nod_error err = {""};
	struct nod_source *source = NULL;
	int status = names ? NOD_EXIT_OK : nod_unreadable("out of memory");

	if (!status && nod_session_maker_copy(maker, capture, "copy", &err))
		status = nod_unreadable("%s", err.text);
	const char *copy = nod_session_maker_path(maker, "copy");
	if (!status && !copy)
		status = nod_unreadable("out of memory");
	if (!status && !(source = nod_source_open(copy, names, &err))) {
		size_t place = strlen(copy);
		bool placed = !strncmp(err.text, copy, place);
		status = nod_unreadable("%s%s%s", capture, placed ? "" : ": ",
					placed ? err.text + place : err.text);
	}
	if (!status)
		status = name_copy(maker, capture, copy, nod_source_form(source), index, count);
	nod_source_close(source);
	free(names);
	return status;
}

static int copy_vehicle(struct nod_session_maker *maker, const char *path)
{
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = nod_vehicle_load(path, &err);
	bool good = vehicle && !nod_session_maker_copy(maker, path, "vehicle.yaml", &err);

	nod_vehicle_free(vehicle);
	return good ? NOD_EXIT_OK : nod_unreadable("%s", err.text);
}

/* Start and end of the captures, and a lock time that a header gives. */
static int survey_captures(struct nod_survey *survey, const struct options *options)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open_all((const char *const *)options->captures,
							   options->capture_count, &err);

	if (!session)
		return nod_unreadable("%s", err.text);
	int result = nod_survey_session(survey, session, &err);
	nod_session_close(session);
	return result ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

static int write_lock(struct nod_session_maker *maker, const struct options *options)
{
	struct nod_mark mark = {NOD_TIME_NONE, NOD_MARK_LOCKED, ""};
	struct nod_error err = {""};
	struct nod_survey *survey = malloc(sizeof(*survey));
	int status = survey ? survey_captures(survey, options) : nod_unreadable("out of memory");

	if (!status)
		status = nod_lock_parse(&mark.time, "--locked", options->locked, survey->lock.start,
					survey->end);
	const char *path = nod_session_maker_path(maker, "journal.log");
	if (!status && !path)
		status = nod_unreadable("out of memory");
	if (!status && nod_journal_append(path, &mark, NULL, &err))
		status = nod_unreadable("%s", err.text);
	free(survey);
	return status;
}

static int fill(struct nod_session_maker *maker, const struct options *options)
{
	int status = NOD_EXIT_OK;

	for (size_t i = 0; !status && i < options->capture_count; i++)
		status = copy_capture(maker, options->captures[i], i, options->capture_count);
	if (!status && options->vehicle)
		status = copy_vehicle(maker, options->vehicle);
	if (!status && options->locked)
		status = write_lock(maker, options);
	return status;
}

static int make(const struct options *options)
{
	char zone[NOD_ZONE_TEXT];
	struct nod_session_about about = {.title = options->title,
					  .created = {(int64_t)time(NULL) * NOD_NS_PER_S},
					  .zone = nod_zone_print(zone)};
	struct nod_error err = {""};
	struct nod_session_maker *maker = nod_session_begin(options->into, &about, NULL, &err);

	if (!maker)
		return nod_unreadable("%s", err.text);
	int status = fill(maker, options);
	if (status) {
		nod_session_abandon(maker);
		return status;
	}
	if (nod_session_commit(maker, &err))
		return nod_unreadable("%s", err.text);
	printf("%s made of %zu capture%s\n", options->into, options->capture_count,
	       options->capture_count == 1 ? "" : "s");
	return nod_option_finish();
}

/* Standard input is gone once it was read. */
static int check(const struct options *options)
{
	size_t standard = 0;

	for (size_t i = 0; i < options->capture_count; i++)
		standard += !strcmp(options->captures[i], "-");
	if (!options->capture_count)
		return nod_usage("session make", "name at least one capture");
	if (!options->into)
		return nod_usage("session make", "expected --into DIR");
	if (standard > 1)
		return nod_usage("session make", "standard input (\"-\") can be read once only");
	if (standard && options->locked)
		return nod_usage("session make", "standard input cannot be read twice, as --locked "
						 "needs; use `nodoff session mark` afterwards");
	return NOD_EXIT_OK;
}

int nod_session_make_command(int argc, char **argv)
{
	static const struct nod_option list[] = {
		NOD_TEXT(0, "into", struct options, into),
		NOD_TEXT(0, "locked", struct options, locked),
		NOD_FLAG(0, "locked-at-start", struct options, locked_at_start),
		NOD_TEXT(0, "vehicle", struct options, vehicle),
		NOD_TEXT(0, "title", struct options, title),
		{0}};
	static const struct nod_options options = {
		.command = "session make", .help = help, .list = list};
	struct options wanted = {0};
	int status, first = nod_options_walk(&options, &wanted, argc, argv, &status);

	if (!first)
		return status;
	if (wanted.locked_at_start)
		wanted.locked = "start";
	wanted.captures = argv + first;
	wanted.capture_count = (size_t)(argc - first);
	status = check(&wanted);
	return status ? status : make(&wanted);
}
