/* SPDX-License-Identifier: MIT */
#include "current-file.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "door.h"
#include "csv-table.h"
#include "current-log.h"
#include "session-journal.h"

/* Defective lines told one by one. */
#define TOLD 5

static int take_sample(struct nod_current_file *file, char *line, unsigned *column,
		       struct nod_error *err)
{
	nod_time time;
	int64_t microamps;
	int rc = nod_current_parse(&time, &microamps, line, column, err);

	if (rc <= 0)
		return rc;
	rc = nod_current_trace_take(file->trace, time, microamps);
	if (!rc && !nod_time_is_set(file->first))
		file->first = time;
	if (!rc)
		file->last = time;
	return rc == -ENOMEM ? rc : 0; /* what it leaves out it counts */
}

static int tell(struct nod_current_file *file, const char *path, uint64_t line, unsigned column,
		const char *reason)
{
	if (file->defects++ < TOLD)
		nod_door_line(stderr, "%s:%" PRIu64 ":%u: %s\n", path, line, column, reason);
	return 0;
}

/* A last line without its newline was cut off and is not taken. */
static int read_lines(struct nod_current_file *file, const char *path)
{
	char line[NOD_CSV_LINE];
	struct nod_error err = {""};
	unsigned column = 0;
	FILE *in = fopen(path, "re");
	int rc = 0, got;

	if (!in)
		return -errno;
	for (unsigned long number = 1; rc != -ENOMEM; number++) {
		got = nod_csv_read_line(in, line);
		if (!got || got == -EIO) {
			rc = got;
			break;
		}
		if (got < 0)
			tell(file, path, number, NOD_CSV_LINE, "the line is too long");
		else if (feof(in))
			tell(file, path, number, 1, "the last line is cut off");
		else if ((rc = take_sample(file, line, &column, &err)) == -EINVAL)
			rc = tell(file, path, number, column, err.text);
	}
	fclose(in);
	return rc < 0 ? rc : 0;
}

static void take_mark(struct nod_current_file *file, const struct nod_mark *mark)
{
	if (mark->kind == NOD_MARK_LOCKED)
		file->lock = mark->time;
	if (mark->kind == NOD_MARK_ZEROED && file->trace)
		nod_current_trace_zeroed(file->trace, mark->time);
}

/* The marks that stand; a session without a journal has none. */
static int read_journal(struct nod_current_file *file, const char *session)
{
	struct nod_session_defects defects = {.count = 0};
	struct nod_session_marks marks = {.count = 0};
	struct nod_session_file journal = {.path = NULL};
	struct nod_arena texts = {0};
	int rc = 0;

	journal.path = nod_arena_printf(&texts, "%s/journal.log", session);
	if (texts.failed)
		rc = -ENOMEM;
	else if (!access(journal.path, F_OK))
		rc = nod_session_journal_load(&marks, &defects, &journal, &texts);
	for (size_t i = 0; i < marks.count; i++)
		take_mark(file, &marks.list[i].mark);
	for (size_t i = 0; i < defects.count; i++)
		tell(file, journal.path, defects.list[i].line, defects.list[i].column,
		     defects.list[i].reason);
	nod_session_marks_free(&marks);
	nod_arena_free(&texts);
	return rc;
}

static bool is_directory(const char *path)
{
	struct stat status;

	return !stat(path, &status) && S_ISDIR(status.st_mode);
}

static int load(struct nod_current_file *file, const char *path)
{
	char name[4096];
	int rc;

	if (!is_directory(path))
		return read_lines(file, path);
	snprintf(name, sizeof(name), "%s/current.log", path);
	rc = read_lines(file, name);
	return rc ? rc : read_journal(file, path);
}

int nod_current_file_load(struct nod_current_file *file, const char *path)
{
	*file = (struct nod_current_file){.trace = nod_current_trace_new(),
					  .lock = NOD_TIME_NONE,
					  .first = NOD_TIME_NONE,
					  .last = NOD_TIME_NONE};
	int rc = file->trace ? load(file, path) : -ENOMEM;

	if (file->defects > TOLD)
		fprintf(stderr, "nodoff: %s: %lu more lines could not be read\n", path,
			file->defects - TOLD);
	if (!rc)
		return NOD_EXIT_OK;
	nod_current_file_free(file);
	return nod_unreadable("%s: %s%s", path, is_directory(path) ? "current.log: " : "",
			      strerror(-rc));
}

nod_time nod_current_file_lock(const char *session)
{
	struct nod_current_file file = {.lock = NOD_TIME_NONE};

	read_journal(&file, session);
	return file.lock;
}

void nod_current_file_free(struct nod_current_file *file)
{
	nod_current_trace_free(file->trace);
	file->trace = NULL;
}
