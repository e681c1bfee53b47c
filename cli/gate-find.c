/* SPDX-License-Identifier: MIT */
/* Which sessions a folder holds. */
#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command.h"
#include "gate.h"

#define EXPECTATION "expect.txt"
#define SUFFIX ".expect.txt"

/* Folders deeper than this are not looked into. Chosen: far beyond any archive. */
#define DEPTH_MAX 32

static bool ends_with(const char *name, const char *suffix)
{
	size_t n = strlen(name), k = strlen(suffix);
	return n > k && !strcmp(name + n - k, suffix);
}

static char *join(const char *folder, const char *name)
{
	char *path;
	size_t length = strlen(folder);
	const char *slash = length && folder[length - 1] == '/' ? "" : "/";

	return asprintf(&path, "%s%s%s", folder, slash, name) < 0 ? NULL : path;
}

static bool is_directory(const char *path)
{
	struct stat st;
	return !lstat(path, &st) && S_ISDIR(st.st_mode);
}

/* A file of frames or an expectation makes a session of its directory. -1: memory
 * ran out. */
static int belongs_to_session(const char *directory, const char *name)
{
	bool candidate = !strncmp(name, "frames.", 7) || !strncmp(name, "frames-", 7) ||
			 !strcmp(name, EXPECTATION);
	char *path = candidate ? join(directory, name) : NULL;
	int belongs = path ? !is_directory(path) : candidate ? -1 : 0;

	free(path);
	return belongs;
}

void nod_gate_session_free(struct nod_gate_session *s)
{
	free(s->path);
	free(s->expectation);
	free(s->name);
	*s = (struct nod_gate_session){NULL, NULL, NULL};
}

void nod_gate_sessions_free(struct nod_gate_sessions *sessions)
{
	for (size_t i = 0; i < sessions->count; i++)
		nod_gate_session_free(&sessions->list[i]);
	free(sessions->list);
	*sessions = (struct nod_gate_sessions){NULL, 0};
}

/* Takes both paths over. */
static int add(struct nod_gate_sessions *all, char *path, char *expectation, const char *folder)
{
	struct nod_gate_session s = {path, expectation, NULL};
	size_t skip = strlen(folder);

	if (path && expectation && !strncmp(path, folder, skip)) {
		const char *name = path + skip + strspn(path + skip, "/");
		s.name = strdup(*name ? name : path);
	}
	void *grown = s.name ? reallocarray(all->list, all->count + 1, sizeof(s)) : NULL;
	if (!grown) {
		nod_gate_session_free(&s);
		return nod_unreadable("out of memory");
	}
	all->list = grown;
	all->list[all->count++] = s;
	return NOD_EXIT_OK;
}

static int search(struct nod_gate_sessions *all, const char *path, const char *folder, int depth);

/* One name in a folder that is no session itself. */
static int look_at(struct nod_gate_sessions *all, const char *path, const char *name,
		   const char *folder, int depth)
{
	char *child = join(path, name);
	int code = NOD_EXIT_OK;

	if (!child)
		return nod_unreadable("out of memory");
	if (is_directory(child)) {
		code = depth < DEPTH_MAX ? search(all, child, folder, depth + 1) : NOD_EXIT_OK;
	} else if (ends_with(name, SUFFIX)) {
		char *capture = strndup(child, strlen(child) - strlen(SUFFIX));
		return add(all, capture, child, folder);
	}
	free(child);
	return code;
}

static int visible(const struct dirent *entry)
{
	return entry->d_name[0] != '.';
}

static int search(struct nod_gate_sessions *all, const char *path, const char *folder, int depth)
{
	struct dirent **names;
	int count = scandir(path, &names, visible, NULL), code = NOD_EXIT_OK;
	bool session = false;

	if (count < 0)
		return nod_unreadable("%s: %s", path, strerror(errno));
	for (int i = 0; i < count && !session && !code; i++) {
		int belongs = belongs_to_session(path, names[i]->d_name);
		session = belongs > 0;
		code = belongs < 0 ? nod_unreadable("out of memory") : NOD_EXIT_OK;
	}
	if (session)
		code = add(all, strdup(path), join(path, EXPECTATION), folder);
	for (int i = 0; i < count; i++) {
		if (!session && !code)
			code = look_at(all, path, names[i]->d_name, folder, depth);
		free(names[i]);
	}
	free(names);
	return code;
}

static int by_name(const void *a, const void *b)
{
	return strcmp(((const struct nod_gate_session *)a)->name,
		      ((const struct nod_gate_session *)b)->name);
}

int nod_gate_find(struct nod_gate_sessions *sessions, const char *folder)
{
	*sessions = (struct nod_gate_sessions){NULL, 0};
	int code = search(sessions, folder, folder, 0);

	if (!code && !sessions->count)
		code = nod_unreadable("%s: there is no session in it, and no capture with an "
				      "expectation (CAPTURE%s)",
				      folder, SUFFIX);
	if (sessions->count)
		qsort(sessions->list, sessions->count, sizeof(sessions->list[0]), by_name);
	return code;
}

int nod_gate_find_one(struct nod_gate_session *s, const char *path)
{
	struct stat st;

	*s = (struct nod_gate_session){NULL, NULL, NULL};
	if (stat(path, &st))
		return nod_unreadable("%s: %s", path, strerror(errno));
	s->path = strdup(path);
	s->name = strdup(path);
	if (S_ISDIR(st.st_mode))
		s->expectation = join(path, EXPECTATION);
	else if (asprintf(&s->expectation, "%s%s", path, SUFFIX) < 0)
		s->expectation = NULL;
	return s->path && s->name && s->expectation ? NOD_EXIT_OK : nod_unreadable("out of memory");
}
