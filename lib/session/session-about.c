/* SPDX-License-Identifier: MIT */
#include "session-about.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "appender.h"
#include "journal.h"
#include "text-log.h"
#include "text-stream.h"

/* A session.txt is a screenful; more is not read. */
#define NOTES_MAX 10000

int nod_session_notes_add(struct nod_session_notes *notes, const char *key, const char *value,
			  struct nod_arena *texts)
{
	void *grown = reallocarray(notes->list, notes->count + 1, sizeof(notes->list[0]));

	if (!grown)
		return -ENOMEM;
	notes->list = grown;
	notes->list[notes->count].key = nod_arena_printf(texts, "%s", key);
	notes->list[notes->count].value = nod_arena_printf(texts, "%s", value);
	notes->count++;
	return texts->failed ? -ENOMEM : 0;
}

static char *trim(char *text)
{
	size_t length;

	text += strspn(text, " \t");
	length = strlen(text);
	while (length && strchr(" \t\r", text[length - 1]))
		text[--length] = '\0';
	return text;
}

/* Returns 1 for a note, 0 for a comment or empty line, -EINVAL. */
static int take_line(struct nod_session_notes *notes, char *line, struct nod_arena *texts)
{
	char *key = trim(line), *colon = strchr(key, ':');

	if (!*key || *key == '#')
		return 0;
	if (!colon || colon == key)
		return -EINVAL;
	*colon = '\0';
	return nod_session_notes_add(notes, trim(key), trim(colon + 1), texts) ? -ENOMEM : 1;
}

static int check_format(const struct nod_session_notes *notes, const char *path,
			struct nod_error *err)
{
	for (size_t i = 0; i < notes->count; i++)
		if (!strcmp(notes->list[i].key, "nodoff session") &&
		    strtoul(notes->list[i].value, NULL, 10) > NOD_SESSION_FORMAT)
			return nod_error_set(err, EINVAL,
					     "%s: the session has form %s; this nodoff reads up to "
					     "form %d: use a newer one",
					     path, notes->list[i].value, NOD_SESSION_FORMAT);
	return 0;
}

static int read_lines(struct nod_session_notes *notes, struct nod_session_file *file,
		      struct nod_text_log *log, struct nod_arena *texts)
{
	struct nod_text_line line;
	int result = 0;

	while (notes->count < NOTES_MAX && (result = nod_text_log_next(log, &line)) > 0) {
		result = line.fault ? -EINVAL : take_line(notes, line.text, texts);
		if (result == -ENOMEM)
			return result;
		file->counts.lines = line.number;
		file->counts.frames += result > 0;
		file->counts.defects += result < 0;
	}
	if (result < 0)
		file->fault = nod_arena_printf(texts, "cannot be read on: %s", strerror(-result));
	file->counts.torn = nod_text_log_torn(log);
	if (file->counts.torn && !file->fault)
		file->fault = "its last line is cut off and was not taken";
	return 0;
}

int nod_session_notes_read(struct nod_session_notes *notes, struct nod_session_file *file,
			   struct nod_arena *texts, struct nod_error *err)
{
	struct nod_text_log *log = nod_text_log_open(file->path, NULL);

	if (!log) {
		file->fault = nod_arena_printf(texts, "cannot be read: %s", strerror(errno));
		return 0;
	}
	int result = read_lines(notes, file, log, texts);
	nod_text_log_close(log);
	if (result)
		return nod_error_set(err, -result, "%s: %s", file->path, strerror(-result));
	return check_format(notes, file->path, err);
}

const char *nod_session_notes_find(const struct nod_session_notes *notes, const char *key)
{
	for (size_t i = notes->count; i-- > 0;)
		if (!strcmp(notes->list[i].key, key))
			return notes->list[i].value;
	return NULL;
}

static int append(const char *path, const char *text, size_t length)
{
	struct nod_appender appender;
	int result = nod_appender_open(&appender, path, NOD_MARK_CUT_OFF, &nod_file_ops_system);

	if (!result)
		result = nod_appender_write(&appender, text, length, true);
	nod_appender_close(&appender);
	return result;
}

int nod_session_note_end(const char *directory, const struct nod_session_end *end)
{
	char time[NOD_TIME_TEXT], *path = NULL;
	struct nod_text_stream text;

	if (nod_text_stream_open(&text))
		return -ENOMEM;
	fprintf(text.out, "ended: %s\nframes: %" PRIu64 "\nverdict: %s\nanswer: %s\n",
		nod_time_print(time, end->time, 6), end->frames, end->verdict, end->sentence);
	int result = nod_text_stream_close(&text);
	if (!result && asprintf(&path, "%s/session.txt", directory) < 0)
		result = -ENOMEM;
	if (!result)
		result = append(path, text.text, text.size);
	free(path);
	free(text.text);
	return result;
}

void nod_session_notes_free(struct nod_session_notes *notes)
{
	free(notes->list);
	notes->list = NULL;
	notes->count = 0;
}
