/* SPDX-License-Identifier: MIT */
#include "cars-folder.h"

#include <errno.h>
#include <fts.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "hash.h"

/* Deeper folders are not looked into. Chosen: far beyond any archive. */
#define DEPTH_MAX 32

/* What is gathered of a directory while it is walked, in its fts_pointer. */
struct gathered {
	uint64_t hash;
	bool frames, endless;
};

static int by_name(const FTSENT **a, const FTSENT **b)
{
	return strcmp((*a)->fts_name, (*b)->fts_name);
}

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
static void take_file(const FTSENT *file)
{
	struct gathered *g = file->fts_parent->fts_pointer;
	struct stat st = *file->fts_statp;

	if (!g || file->fts_name[0] == '.')
		return;
	if (S_ISLNK(st.st_mode) && (stat(file->fts_accpath, &st) || S_ISDIR(st.st_mode)))
		return;
	g->endless |= !S_ISREG(st.st_mode);
	g->frames |= !strncmp(file->fts_name, "frames.", 7) ||
		     !strncmp(file->fts_name, "frames-", 7);
	g->hash = nod_hash_add(g->hash, file->fts_name, strlen(file->fts_name) + 1);
	g->hash = nod_hash_add(g->hash, &st.st_size, sizeof(st.st_size));
	g->hash = nod_hash_add(g->hash, &st.st_mtim, sizeof(st.st_mtim));
	g->hash = nod_hash_add(g->hash, &st.st_ino, sizeof(st.st_ino));
}

static int leave(struct nod_cars_sessions *s, FTSENT *directory)
{
	struct gathered *g = directory->fts_pointer;
	int status = g && g->frames ? add(s, directory->fts_path, g) : 0;

	free(g);
	directory->fts_pointer = NULL;
	return status;
}

/* A hidden one, but for the folder itself, is not looked into. */
static int enter(FTS *walk, FTSENT *directory, int64_t seed)
{
	struct gathered *g;

	if (directory->fts_level > DEPTH_MAX ||
	    (directory->fts_level > 0 && directory->fts_name[0] == '.'))
		return fts_set(walk, directory, FTS_SKIP) ? -errno : 0;
	directory->fts_pointer = g = calloc(1, sizeof(*g));
	if (!g)
		return -ENOMEM;
	g->hash = nod_hash_add(NOD_HASH_BEGIN, &seed, sizeof(seed));
	return 0;
}

static int take(struct nod_cars_sessions *s, FTS *walk, FTSENT *entry, int64_t seed)
{
	switch (entry->fts_info) {
	case FTS_D:
		return enter(walk, entry, seed);
	case FTS_DP:
		return leave(s, entry);
	case FTS_F:
	case FTS_SL:
	case FTS_DEFAULT:
		take_file(entry);
		return 0;
	default:
		return entry->fts_level > 0 || !entry->fts_errno ? 0 : -entry->fts_errno;
	}
}

int nod_cars_folder_read(struct nod_cars_sessions *s, const char *folder, int64_t seed)
{
	char *const roots[] = {(char *)folder, NULL};
	FTS *walk = fts_open(roots, FTS_PHYSICAL | FTS_NOCHDIR, by_name);
	FTSENT *entry;
	int status = walk ? 0 : -errno;

	*s = (struct nod_cars_sessions){NULL, 0, 0};
	while (!status && (errno = 0, entry = fts_read(walk)) != NULL)
		status = take(s, walk, entry, seed);
	if (!status && errno)
		status = -errno;
	if (walk)
		fts_close(walk);
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
