/* SPDX-License-Identifier: MIT */
#include "settings.h"

#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "door.h"
#include "nearest-word.h"
#include "own-path.h"

#define LINE_LENGTH 1000 /* chosen: longer than any path that is typed */

static const char *const keys[NOD_SETTINGS] = {"socket", "sessions", "maps",
					       "cars",   "colour",   "pager"};

static char values[NOD_SETTINGS][PATH_MAX]; /* "": not set */

static char *trim(char *text)
{
	text += strspn(text, " \t");
	for (size_t n = strlen(text); n && strchr(" \t\r\n", text[n - 1]);)
		text[--n] = '\0';
	return text;
}

static void keep(char value[PATH_MAX], const char *text)
{
	const char *home = getenv("HOME");
	bool below_home = !strncmp(text, "~/", 2) && home;

	snprintf(value, PATH_MAX, "%.*s%.*s", below_home ? PATH_MAX / 2 : 0, below_home ? home : "",
		 PATH_MAX / 2, text + below_home);
}

/* Returns what is wrong with a line, NULL: nothing. */
static const char *take_line(char *line, struct nod_nearest *nearest)
{
	char *key = trim(line), *colon = strchr(key, ':');

	if (!*key || *key == '#')
		return NULL;
	if (!colon || !*trim(colon + 1))
		return "expected `key: value`";
	*colon = '\0';
	*nearest = (struct nod_nearest){trim(key), NULL, 0};
	for (size_t i = 0; i < NOD_SETTINGS; i++) {
		nod_nearest_offer(nearest, keys[i]);
		if (!strcmp(nearest->word, keys[i]) ||
		    (i == NOD_SETTING_COLOUR && !strcmp(nearest->word, "color"))) {
			keep(values[i], trim(colon + 1));
			return NULL;
		}
	}
	return "expected socket, sessions, maps, cars, colour or pager";
}

void nod_settings_read(void)
{
	char path[PATH_MAX], line[LINE_LENGTH];
	FILE *in = nod_own_path(path, NOD_OWN_SETTINGS, "settings") ? NULL : fopen(path, "re");

	memset(values, 0, sizeof(values));
	for (unsigned number = 1; in && fgets(line, sizeof(line), in); number++) {
		struct nod_nearest nearest = {NULL, NULL, 0};
		const char *wrong = take_line(line, &nearest);
		if (wrong)
			nod_door_line(stderr, "%s:%u: %s%s%s%s; the line is left out\n", path,
				      number, wrong, nearest.best ? "; did you mean " : "",
				      nearest.best ? nearest.best : "", nearest.best ? "?" : "");
	}
	if (in)
		fclose(in);
}

const char *nod_setting(enum nod_setting setting)
{
	return *values[setting] ? values[setting] : NULL;
}

/* ---- names of recordings and vehicle files ---- */

static struct found {
	struct found *next;
	char path[];
} * founds;

void nod_settings_free(void)
{
	for (struct found *next; founds; founds = next) {
		next = founds->next;
		free(founds);
	}
}

/* NULL: it is not there. */
static const char *find_in(const char *directory, const char *name)
{
	size_t length = strlen(directory) + strlen(name) + 2;
	struct found *found = malloc(sizeof(*found) + length);

	if (!found)
		return NULL;
	snprintf(found->path, length, "%s/%s", directory, name);
	if (access(found->path, F_OK)) {
		free(found);
		return NULL;
	}
	found->next = founds;
	founds = found;
	return found->path;
}

static const char *find(const char *name, enum nod_setting setting, const char *service)
{
	char own[PATH_MAX];
	const char *set = nod_setting(setting), *path = NULL;

	if (!*name || !strcmp(name, "-") || strchr(name, '/') || !access(name, F_OK))
		return name;
	if (set)
		path = find_in(set, name);
	else if (!nod_own_path(own, NOD_OWN_DATA, keys[setting]))
		path = find_in(own, name);
	if (!path)
		path = find_in(service, name);
	return path ? path : name;
}

const char *nod_find_session(const char *name)
{
	return find(name, NOD_SETTING_SESSIONS, NOD_SERVICE_SESSIONS);
}

const char *nod_find_map(const char *name)
{
	return find(name, NOD_SETTING_MAPS, NOD_SERVICE_MAPS);
}
