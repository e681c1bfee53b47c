/* SPDX-License-Identifier: MIT */
#include "session-journal.h"

#include <errno.h>
#include <string.h>

#include "journal-file.h"

static void add_defect(struct nod_session_defects *defects, struct nod_session_file *file,
		       uint64_t line, unsigned column, const char *reason, struct nod_arena *texts)
{
	file->counts.defects++;
	if (defects->count == NOD_SESSION_DEFECTS_TOLD)
		return;
	size_t i = defects->count++;
	defects->list[i].line = line;
	defects->list[i].column = column;
	defects->list[i].reason = nod_arena_printf(texts, "%s", reason);
}

/* Marks taken of one journal. Chosen: a hundred times what anybody writes in a
 * session; the engine keeps fewer. */
#define MARKS_MAX 100000
#define TEXT(x) #x
#define TEXT_OF(x) TEXT(x)

/* Returns 1 when there are more marks than are taken. */
static int read_marks(struct nod_session_marks *marks, struct nod_session_defects *defects,
		      struct nod_session_file *file, struct nod_journal_file *journal,
		      struct nod_arena *texts)
{
	struct nod_journal_defect defect;
	struct nod_mark mark;
	int result;

	while ((result = nod_journal_file_next(journal, &mark, &defect)) > 0) {
		if (result == NOD_JOURNAL_DEFECT) {
			add_defect(defects, file, defect.line, defect.column, defect.reason.text,
				   texts);
			continue;
		}
		if (file->counts.frames == MARKS_MAX) {
			file->fault = "more than " TEXT_OF(
				MARKS_MAX) " marks: the rest is not taken";
			add_defect(defects, file, nod_journal_file_lines(journal), 0, file->fault,
				   texts);
			return 1;
		}
		if (nod_session_marks_add(marks, &mark))
			return -ENOMEM;
		file->counts.frames++;
	}
	file->counts.lines = nod_journal_file_lines(journal);
	if (result < 0)
		add_defect(defects, file, file->counts.lines + 1, 0,
			   file->fault = nod_arena_printf(texts, "cannot be read on: %s",
							  strerror(-result)),
			   texts);
	return 0;
}

static void check_end(struct nod_session_defects *defects, struct nod_session_file *file,
		      const struct nod_journal_file *journal, struct nod_arena *texts)
{
	uint64_t line;

	file->counts.torn = nod_journal_file_torn(journal, &line);
	if (!file->counts.torn)
		return;
	add_defect(defects, file, line, 0,
		   "the last line has no end, so it may be cut off: not taken", texts);
	if (!file->fault)
		file->fault = "its last line is cut off and was not taken";
}

int nod_session_journal_load(struct nod_session_marks *marks, struct nod_session_defects *defects,
			     struct nod_session_file *file, struct nod_arena *texts)
{
	struct nod_journal_file *journal = nod_journal_file_open(file->path, NULL);

	file->form = "journal";
	if (!journal && errno == ENOMEM)
		return -ENOMEM;
	if (!journal) {
		file->fault = nod_arena_printf(texts, "cannot be read: %s", strerror(errno));
		add_defect(defects, file, 1, 0, file->fault, texts);
		return 0;
	}
	int result = read_marks(marks, defects, file, journal, texts);
	if (!result)
		check_end(defects, file, journal, texts);
	nod_journal_file_close(journal);
	nod_session_marks_sort(marks);
	return result < 0 ? result : texts->failed ? -ENOMEM : 0;
}
