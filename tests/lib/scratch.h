/* SPDX-License-Identifier: MIT */
/* A directory of its own for a test, and files in it. */
#ifndef SCRATCH_H
#define SCRATCH_H

#include <dirent.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct scratch {
	char path[64];
	char file[512]; /* of the name asked for last */
};

static inline void scratch_make(struct scratch *scratch)
{
	strcpy(scratch->path, "/tmp/nodoff-test-XXXXXX");
	assert_non_null(mkdtemp(scratch->path));
}

/* In memory where there is such a place: for what is put on the disk again and again. */
static inline void scratch_make_in_memory(struct scratch *scratch)
{
	strcpy(scratch->path, access("/dev/shm", W_OK) ? "/tmp/nodoff-test-XXXXXX"
						       : "/dev/shm/nodoff-test-XXXXXX");
	assert_non_null(mkdtemp(scratch->path));
}

static inline const char *scratch_path(struct scratch *scratch, const char *name)
{
	snprintf(scratch->file, sizeof(scratch->file), "%s/%s", scratch->path, name);
	return scratch->file;
}

static inline void scratch_write(struct scratch *scratch, const char *name, const void *text,
				 size_t length)
{
	FILE *file = fopen(scratch_path(scratch, name), "w");

	assert_non_null(file);
	assert_int_equal(fwrite(text, 1, length, file), length);
	assert_int_equal(fclose(file), 0);
}

static inline void scratch_puts(struct scratch *scratch, const char *name, const char *text)
{
	scratch_write(scratch, name, text, strlen(text));
}

/* The whole file, terminated; to be freed. */
static inline char *scratch_read(struct scratch *scratch, const char *name, size_t *length)
{
	FILE *file = fopen(scratch_path(scratch, name), "r");
	char *text = calloc(1, 1 << 20);

	assert_non_null(file);
	assert_non_null(text);
	size_t n = fread(text, 1, (1 << 20) - 1, file);
	fclose(file);
	if (length)
		*length = n;
	return text;
}

static inline int scratch_remove_one(const char *path, const struct stat *st, int flag,
				     struct FTW *ftw)
{
	(void)st;
	(void)flag;
	(void)ftw;
	return remove(path);
}

static inline void scratch_remove_directory(const char *path)
{
	nftw(path, scratch_remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

static inline void scratch_remove(struct scratch *scratch)
{
	scratch_remove_directory(scratch->path);
}

/* Number of entries in the directory, hidden ones too. */
static inline int scratch_entries(const struct scratch *scratch)
{
	DIR *dir = opendir(scratch->path);
	const struct dirent *entry;
	int count = 0;

	assert_non_null(dir);
	while ((entry = readdir(dir)))
		count += strcmp(entry->d_name, ".") && strcmp(entry->d_name, "..");
	closedir(dir);
	return count;
}

/* ---- a test that gets one as its state ---- */

static inline int scratch_set_up(void **state)
{
	static struct scratch scratch;

	scratch_make(&scratch);
	*state = &scratch;
	return 0;
}

static inline int scratch_tear_down(void **state)
{
	scratch_remove(*state);
	return 0;
}

#define SCRATCH_TEST(name) cmocka_unit_test_setup_teardown(name, scratch_set_up, scratch_tear_down)

#endif
