/* SPDX-License-Identifier: MIT */
#include "journal-file.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "appender.h"
#include "text-log.h"

struct nod_journal_file {
	struct nod_text_log *log;
	uint64_t lines;
};

_Static_assert(NOD_MARK_LINE_MAX <= NOD_TEXT_LINE_MAX, "every mark can be read again");

struct nod_journal_file *nod_journal_file_open(const char *path, struct nod_error *err)
{
	struct nod_text_log *log = nod_text_log_open(path, err);
	struct nod_journal_file *file = log ? calloc(1, sizeof(*file)) : NULL;

	if (log && !file) {
		nod_error_set(err, ENOMEM, "%s: %s", path, strerror(ENOMEM));
		nod_text_log_close(log);
		errno = ENOMEM;
	}
	if (file)
		file->log = log;
	return file;
}

void nod_journal_file_close(struct nod_journal_file *file)
{
	if (file)
		nod_text_log_close(file->log);
	free(file);
}

int nod_journal_file_next(struct nod_journal_file *file, struct nod_mark *mark,
			  struct nod_journal_defect *defect)
{
	struct nod_text_line line;
	int result;

	while ((result = nod_text_log_next(file->log, &line)) > 0) {
		file->lines = defect->line = line.number;
		defect->column = 0;
		if (line.fault) {
			nod_error_set(&defect->reason, EINVAL, "%s", line.fault);
			return NOD_JOURNAL_DEFECT;
		}
		int parsed = nod_mark_parse(mark, line.text, &defect->column, &defect->reason);
		if (parsed)
			return parsed > 0 ? NOD_JOURNAL_ENTRY : NOD_JOURNAL_DEFECT;
	}
	return result < 0 ? result : NOD_JOURNAL_END;
}

bool nod_journal_file_torn(const struct nod_journal_file *file, uint64_t *line)
{
	if (line)
		*line = nod_text_log_torn_line(file->log);
	return nod_text_log_torn(file->log);
}

uint64_t nod_journal_file_lines(const struct nod_journal_file *file)
{
	return file->lines;
}

int nod_journal_append(const char *path, const struct nod_mark *mark,
		       const struct nod_file_ops *ops, struct nod_error *err)
{
	char line[NOD_MARK_LINE_MAX];
	struct nod_appender appender;
	int length = nod_mark_print(line, sizeof(line), mark);

	if (length < 0)
		return nod_error_set(err, EINVAL, "the mark is longer than %d characters",
				     NOD_MARK_LINE_MAX - 1);
	int result = nod_appender_open(&appender, path, NOD_MARK_CUT_OFF,
				       ops ? ops : &nod_file_ops_system);
	if (!result)
		result = nod_appender_write(&appender, line, (size_t)length, true);
	nod_appender_close(&appender);
	if (result)
		nod_error_set(err, -result, "%s: the mark was not written: %s", path,
			      strerror(-result));
	return result;
}
