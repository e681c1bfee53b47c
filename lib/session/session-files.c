/* SPDX-License-Identifier: MIT */
#include "session-files.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static bool is_frames(const char *name)
{
	return !strncmp(name, "frames", 6) && (name[6] == '.' || name[6] == '-') &&
	       name[strlen(name) - 1] != '~';
}

/* Splits "frames-b-000012.log.zst" into its stem and number. */
static void split_name(struct nod_frames_name *frames)
{
	size_t length = strcspn(frames->name, "."), digits = length;

	while (digits && isdigit((unsigned char)frames->name[digits - 1]))
		digits--;
	frames->stem = length;
	frames->number = 0;
	if (digits < length && digits && frames->name[digits - 1] == '-') {
		frames->stem = digits - 1;
		frames->number = strtoull(frames->name + digits, NULL, 10);
	}
}

static int compare(const void *a, const void *b)
{
	const struct nod_frames_name *x = a, *y = b;
	size_t common = x->stem < y->stem ? x->stem : y->stem;
	int order = memcmp(x->name, y->name, common);

	if (order)
		return order;
	if (x->stem != y->stem)
		return x->stem < y->stem ? -1 : 1;
	if (x->number != y->number)
		return x->number < y->number ? -1 : 1;
	return strcmp(x->name, y->name);
}

static int add_frames(struct nod_session_listing *listing, const char *path, size_t directory)
{
	struct nod_frames_name *grown = reallocarray(listing->frames, listing->count + 1,
						     sizeof(*grown));

	if (!grown)
		return -ENOMEM;
	listing->frames = grown;
	grown[listing->count] = (struct nod_frames_name){.path = path, .name = path + directory};
	split_name(&grown[listing->count++]);
	return 0;
}

static int add_name(struct nod_session_listing *listing, const char *directory, const char *name,
		    struct nod_arena *texts)
{
	const struct {
		const char *name, **path;
	} known[] = {{"session.txt", &listing->about},
		     {"journal.log", &listing->journal},
		     {"current.log", &listing->current},
		     {"vehicle.yaml", &listing->vehicle}};
	const char **place = NULL;

	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++)
		if (!strcmp(name, known[i].name))
			place = known[i].path;
	if (!place && !is_frames(name))
		return 0;
	const char *path = nod_arena_printf(texts, "%s/%s", directory, name);
	if (texts->failed)
		return -ENOMEM;
	if (!place)
		return add_frames(listing, path, strlen(directory) + 1);
	*place = path;
	return 0;
}

/* Directories, pipes and devices are none of ours. A file that vanishes or may
 * not be looked at is kept: reading it says why. */
static bool is_file(DIR *dir, const char *name)
{
	struct stat st;

	return fstatat(dirfd(dir), name, &st, 0) || S_ISREG(st.st_mode);
}

static int read_names(struct nod_session_listing *listing, DIR *dir, const char *directory,
		      struct nod_arena *texts)
{
	const struct dirent *entry;
	int result = 0;

	while (!result && (errno = 0, entry = readdir(dir)))
		if (is_file(dir, entry->d_name))
			result = add_name(listing, directory, entry->d_name, texts);
	return result ? result : -errno;
}

int nod_session_listing_read(struct nod_session_listing *listing, const char *directory,
			     struct nod_arena *texts, struct nod_error *err)
{
	DIR *dir = opendir(directory);
	int result = dir ? 0 : -errno;

	memset(listing, 0, sizeof(*listing));
	if (dir) {
		result = read_names(listing, dir, directory, texts);
		closedir(dir);
	}
	if (result) {
		nod_session_listing_free(listing);
		return nod_error_set(err, -result, "%s: cannot be read: %s", directory,
				     strerror(-result));
	}
	if (listing->count)
		qsort(listing->frames, listing->count, sizeof(*listing->frames), compare);
	return 0;
}

void nod_session_listing_free(struct nod_session_listing *listing)
{
	free(listing->frames);
	listing->frames = NULL;
	listing->count = 0;
}

size_t nod_session_listing_run(const struct nod_session_listing *listing, size_t first)
{
	const struct nod_frames_name *a = &listing->frames[first];
	size_t i = first + 1;

	while (i < listing->count && listing->frames[i].stem == a->stem &&
	       !memcmp(listing->frames[i].name, a->name, a->stem))
		i++;
	return i - first;
}
