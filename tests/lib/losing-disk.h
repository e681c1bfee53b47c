/* SPDX-License-Identifier: MIT */
/* A disk that loses what a failed sync was to keep, as nod_file_ops: the kernel drops
 * the pages, and the next sync that succeeds says nothing of them. What is in the files
 * is what the page cache shows; what a power cut would leave is held here. */
#ifndef LOSING_DISK_H
#define LOSING_DISK_H

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>

#include "file-ops.h"
#include "scratch.h"

#define DISK_FILES 64
#define DISK_FDS 256
#define DISK_SIZE ((size_t)2 * 1024 * 1024) /* of a file */

struct disk_file {
	char path[128];
	char *kept;             /* on the disk */
	size_t size, kept_size; /* in the cache; on the disk */
	size_t dirty_from;      /* from here on: written and not yet synced */
	bool named, name_dirty; /* in the directory on the disk; to be synced */
};

/* Calls of one kind, of which some fail: from the first to the last, from 1. */
struct disk_calls {
	long made, fail_from, fail_to;
	int error; /* positive errno */
};

struct disk {
	struct nod_file_ops ops;
	struct disk_file files[DISK_FILES];
	int file_count;
	int file_of[DISK_FDS]; /* by descriptor: index + 1; 0: a directory */
	struct disk_calls syncs, writes, truncates;
	const char *only; /* calls on files with this in their path fail; NULL: on all */
};

static inline bool disk_fails(struct disk *d, struct disk_calls *calls, int fd)
{
	const char *path = d->file_of[fd] ? d->files[d->file_of[fd] - 1].path : "";

	if (d->only && !strstr(path, d->only))
		return false;
	calls->made++;
	return calls->made >= calls->fail_from && calls->made <= calls->fail_to;
}

static inline int disk_file_of(struct disk *d, const char *path)
{
	for (int i = 0; i < d->file_count; i++)
		if (!strcmp(d->files[i].path, path))
			return i + 1;
	assert_true(d->file_count < DISK_FILES);
	struct disk_file *file = &d->files[d->file_count++];
	snprintf(file->path, sizeof(file->path), "%s", path);
	file->kept = calloc(1, DISK_SIZE);
	file->name_dirty = true;
	assert_non_null(file->kept);
	return d->file_count;
}

static inline int disk_open(void *context, const char *path, int flags, mode_t mode)
{
	struct disk *d = context;
	int fd = nod_file_ops_system.open(NULL, path, flags, mode);

	if (fd < 0)
		return fd;
	assert_true(fd < DISK_FDS);
	d->file_of[fd] = flags & O_DIRECTORY ? 0 : disk_file_of(d, path);
	return fd;
}

/* All our files are only appended to. */
static inline ssize_t disk_write(void *context, int fd, const void *buf, size_t size)
{
	struct disk *d = context;
	struct disk_file *file = &d->files[d->file_of[fd] - 1];

	if (disk_fails(d, &d->writes, fd))
		return -d->writes.error;
	ssize_t written = nod_file_ops_system.write(NULL, fd, buf, size);
	file->size += (size_t)(written > 0 ? written : 0);
	assert_true(file->size < DISK_SIZE);
	return written;
}

static inline void disk_keep(struct disk_file *file)
{
	int cache = open(file->path, O_RDONLY);
	size_t length = file->size - file->dirty_from;

	assert_true(cache >= 0);
	assert_int_equal(
		pread(cache, file->kept + file->dirty_from, length, (off_t)file->dirty_from),
		length);
	close(cache);
	file->kept_size = file->size;
}

static inline int disk_sync(void *context, int fd)
{
	struct disk *d = context;
	bool fails = disk_fails(d, &d->syncs, fd);

	if (d->file_of[fd]) {
		struct disk_file *file = &d->files[d->file_of[fd] - 1];
		if (!fails)
			disk_keep(file);
		/* The file systems in use keep a new file's name with its own sync. Only for
		 * the pieces nothing is left to that. */
		file->named |= !fails && !strstr(file->path, "frames-");
		file->dirty_from = file->size;
	} else {
		for (int i = 0; i < d->file_count; i++) {
			d->files[i].named |= !fails && d->files[i].name_dirty;
			d->files[i].name_dirty = false;
		}
	}
	return fails ? -d->syncs.error : 0;
}

static inline int disk_truncate(void *context, int fd, off_t size)
{
	struct disk *d = context;
	struct disk_file *file = &d->files[d->file_of[fd] - 1];

	if (disk_fails(d, &d->truncates, fd))
		return -d->truncates.error;
	file->size = (size_t)size;
	if (file->dirty_from > file->size)
		file->dirty_from = file->size;
	if (file->kept_size > file->size) {
		memset(file->kept + size, 0, file->kept_size - file->size);
		file->kept_size = file->size;
	}
	return nod_file_ops_system.truncate(NULL, fd, size);
}

static inline int disk_close(void *context, int fd)
{
	(void)context;
	return nod_file_ops_system.close(NULL, fd);
}

static inline void disk_begin(struct disk *d)
{
	memset(d, 0, sizeof(*d));
	d->ops = (struct nod_file_ops){d,
				       disk_open,
				       disk_write,
				       disk_sync,
				       disk_truncate,
				       disk_close,
				       nod_file_ops_system.mkdir,
				       nod_file_ops_system.rename};
	d->syncs.error = d->truncates.error = EIO;
	d->writes.error = ENOSPC;
}

static inline void disk_end(struct disk *d)
{
	for (int i = 0; i < d->file_count; i++)
		free(d->files[i].kept);
}

/* What a power cut now would leave, in another directory. What no sync ever named or
 * kept is not there; the size of a file may be there before its bytes (zeros). */
static inline void disk_cut(const struct disk *d, struct scratch *to)
{
	for (int i = 0; i < d->file_count; i++) {
		const struct disk_file *file = &d->files[i];
		if (file->named || strstr(file->path, "journal.log")) /* that name is older */
			scratch_write(to, strrchr(file->path, '/') + 1, file->kept,
				      file->kept_size);
	}
}

#endif
