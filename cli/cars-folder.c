/* SPDX-License-Identifier: MIT */
#include "cars-folder.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "hash.h"

/* Deeper folders are not looked into. Chosen: far beyond any archive. */
#define DEPTH_MAX 32

/* What is gathered of a directory while it is walked. */
struct gathered {
	uint64_t hash;
	bool frames, endless;
};

static int by_path(const void *a, const void *b)
{
	return strcmp(((const struct nod_cars_session *)a)->path,
		      ((const struct nod_cars_session *)b)->path);
}

static int add(struct nod_cars_sessions *s, const char *path, const struct gathered *g)
{
	if (s->count == s->room) {
		size_t room = s->room ? 2 * s->room : 64;
		void *grown = reallocarray(s->list, room, sizeof(*s->list));
		if (!grown)
			return -ENOMEM;
		s->list = grown;
		s->room = room;
	}
	s->list[s->count] = (struct nod_cars_session){strdup(path), (int64_t)g->hash, g->endless};
	return s->list[s->count].path ? (s->count++, 0) : -ENOMEM;
}

/* Takes a file, or what a link leads to, into what is gathered of its directory. */
static void take_file(struct gathered *g, const char *path, const char *name, struct stat *st)
{
	if (S_ISLNK(st->st_mode) && (stat(path, st) || S_ISDIR(st->st_mode)))
		return;
	g->endless |= !S_ISREG(st->st_mode);
	g->frames |= !strncmp(name, "frames.", 7) || !strncmp(name, "frames-", 7);
	g->hash = nod_hash_add(g->hash, name, strlen(name) + 1);
	g->hash = nod_hash_add(g->hash, &st->st_size, sizeof(st->st_size));
	g->hash = nod_hash_add(g->hash, &st->st_mtim, sizeof(st->st_mtim));
	g->hash = nod_hash_add(g->hash, &st->st_ino, sizeof(st->st_ino));
}

static int is_visible(const struct dirent *entry)
{
	return entry->d_name[0] != '.';
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
	return strcmp((*a)->d_name, (*b)->d_name);
}

static int walk(struct nod_cars_sessions *s, const char *folder, int64_t seed, unsigned depth);

static int take(struct nod_cars_sessions *s, struct gathered *g, const char *folder,
		const char *name, int64_t seed, unsigned depth)
{
	size_t length = strlen(folder);
	struct stat st;
	char *path;
	int status = 0;

	if (asprintf(&path, "%s%s%s", folder, length && folder[length - 1] == '/' ? "" : "/",
		     name) < 0)
		return -ENOMEM;
	if (!lstat(path, &st) && !S_ISDIR(st.st_mode))
		take_file(g, path, name, &st);
	else if (depth < DEPTH_MAX)
		status = walk(s, path, seed, depth + 1);
	free(path);
	return status;
}

/* Not fts(3): glibc's reads directories as 32 bits do on machines that have no more, and finds
 * nothing where the file system counts further. */
static int walk(struct nod_cars_sessions *s, const char *folder, int64_t seed, unsigned depth)
{
	struct gathered g = {.hash = nod_hash_add(NOD_HASH_BEGIN, &seed, sizeof(seed))};
	struct dirent **entries = NULL;
	int count = scandir(folder, &entries, is_visible, by_name);
	int status = count < 0 && (!depth || errno == ENOMEM) ? -errno : 0;

	for (int i = 0; i < count; i++) {
		if (!status)
			status = take(s, &g, folder, entries[i]->d_name, seed, depth);
		free(entries[i]);
	}
	free(entries);
	return !status && g.frames ? add(s, folder, &g) : status;
}

int nod_cars_folder_read(struct nod_cars_sessions *s, const char *folder, int64_t seed)
{
	*s = (struct nod_cars_sessions){NULL, 0, 0};
	int status = walk(s, folder, seed, 0);
	if (s->count)
		qsort(s->list, s->count, sizeof(*s->list), by_path);
	return status;
}

void nod_cars_folder_free(struct nod_cars_sessions *s)
{
	for (size_t i = 0; i < s->count; i++)
		free(s->list[i].path);
	free(s->list);
	*s = (struct nod_cars_sessions){NULL, 0, 0};
}
