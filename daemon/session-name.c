/* SPDX-License-Identifier: MIT */
#include "session-name.h"
#include "json-build.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

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
	time_t seconds = now.ns / NOD_NS_PER_S;
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

static json_t *describe(const char *sessions, const char *name)
{
	char path[PATH_MAX];

	snprintf(path, sizeof(path), "%s/%s", sessions, name);
	json_t *session = json_object();
	nod_json_put(&session, "name", nod_json_text(name));
	nod_json_put(&session, "path", nod_json_text(path));
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
