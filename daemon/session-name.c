/* SPDX-License-Identifier: MIT */
#include "session-name.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "json-build.h"
#include "session-about.h"

#define TITLE_MAX 60 /* characters of a title in the name. Chosen: a line of a listing */

static void title_part(char part[TITLE_MAX + 2], const char *title)
{
	size_t length = 0;

	for (; title && *title && length < TITLE_MAX; title++) {
		char c = isalnum((unsigned char)*title) ? *title : '-';
		if (c != '-' || (length && part[length] != '-'))
			part[++length] = c;
	}
	part[0] = '-';
	part[length ? length + 1 : 0] = 0;
}

int nod_session_name(char *path, size_t size, const char *sessions, const char *title, nod_time now)
{
	char when[32], part[TITLE_MAX + 2] = "";
	time_t seconds = (time_t)(now.ns / NOD_NS_PER_S);
	struct tm local;
	int length;

	localtime_r(&seconds, &local);
	strftime(when, sizeof(when), "%Y-%m-%d-%H%M%S", &local);
	title_part(part, title);
	length = snprintf(path, size, "%s/%s%s", sessions, when, part);
	for (unsigned n = 2; length > 0 && (size_t)length < size && !access(path, F_OK); n++)
		length = snprintf(path, size, "%s/%s%s-%u", sessions, when, part, n);
	return length > 0 && (size_t)length < size ? 0 : -ENAMETOOLONG;
}

static int is_session(const char *sessions, const char *name)
{
	char path[PATH_MAX];
	int length = snprintf(path, sizeof(path), "%s/%s/session.txt", sessions, name);

	return name[0] != '.' && length > 0 && (size_t)length < sizeof(path) && !access(path, R_OK);
}

static json_t *time_of(const char *text)
{
	nod_time time;

	return text && !nod_time_parse(&time, text, strlen(text)) ? json_integer(time.ns)
								  : json_null();
}

/* Marks were made after the end, so that what was found then may not be what is found now. */
static bool is_changed(const char *path, const char *about)
{
	char journal[PATH_MAX];
	struct stat noted, written;

	if (snprintf(journal, sizeof(journal), "%s/journal.log", path) >= (int)sizeof(journal) ||
	    stat(journal, &written) || stat(about, &noted))
		return false;
	return written.st_mtim.tv_sec != noted.st_mtim.tv_sec
		       ? written.st_mtim.tv_sec > noted.st_mtim.tv_sec
		       : written.st_mtim.tv_nsec > noted.st_mtim.tv_nsec;
}

static void add_notes(json_t **session, const struct nod_session_notes *notes)
{
	const char *title = nod_session_notes_find(notes, "title"),
		   *frames = nod_session_notes_find(notes, "frames"),
		   *verdict = nod_session_notes_find(notes, "verdict"),
		   *sentence = nod_session_notes_find(notes, "answer");

	nod_json_put(session, "title", nod_json_text(title ? title : ""));
	nod_json_put(session, "created_ns", time_of(nod_session_notes_find(notes, "created")));
	nod_json_put(session, "ended_ns", time_of(nod_session_notes_find(notes, "ended")));
	nod_json_put(session, "frames",
		     frames ? json_integer(strtoll(frames, NULL, 10)) : json_null());
	nod_json_put(session, "verdict", nod_json_text(verdict ? verdict : ""));
	nod_json_put(session, "sentence", nod_json_text(sentence ? sentence : ""));
}

/* What session.txt says. One that cannot be read or is of a newer form leaves its name alone;
 * without memory there is no session. */
static void add_about(json_t **session, const char *path)
{
	struct nod_session_notes notes = {.list = NULL};
	struct nod_session_file about = {.path = NULL};
	struct nod_arena texts = {0};
	int result = -ENOMEM;

	about.path = nod_arena_printf(&texts, "%s/session.txt", path);
	if (!texts.failed)
		result = nod_session_notes_read(&notes, &about, &texts, NULL);
	if (!result) {
		add_notes(session, &notes);
		nod_json_put(session, "changed", json_boolean(is_changed(path, about.path)));
		if (about.fault)
			nod_json_put(session, "fault", nod_json_text(about.fault));
	}
	if (result == -ENOMEM || texts.failed) {
		json_decref(*session);
		*session = NULL;
	}
	nod_session_notes_free(&notes);
	nod_arena_free(&texts);
}

static json_t *describe(const char *sessions, const char *name)
{
	char path[PATH_MAX];

	snprintf(path, sizeof(path), "%s/%s", sessions, name);
	json_t *session = json_object();
	nod_json_put(&session, "name", nod_json_text(name));
	nod_json_put(&session, "path", nod_json_text(path));
	add_about(&session, path);
	return session;
}

json_t *nod_session_list(const char *sessions, struct nod_error *err)
{
	struct dirent **entries;
	int count = scandir(sessions, &entries, NULL, alphasort);
	json_t *list = json_array();

	if (count < 0) {
		nod_error_set(err, errno, "cannot read %s: %s", sessions, strerror(errno));
		json_decref(list);
		return NULL;
	}
	for (int i = 0; i < count; i++) {
		if (is_session(sessions, entries[i]->d_name))
			nod_json_append(&list, describe(sessions, entries[i]->d_name));
		free(entries[i]);
	}
	free(entries);
	if (!list)
		nod_error_set(err, ENOMEM, "out of memory");
	return list;
}
