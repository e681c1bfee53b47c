/* SPDX-License-Identifier: MIT */
/* The few system calls by which a session is written, as a table, so that
 * tests can make each of them fail in turn.
 *
 * Every function returns 0 or a count or descriptor, or a negative errno. Writing and
 * syncing fail with -EROFS on a file system that has become read-only meanwhile. */
#ifndef NOD_FILE_OPS_H
#define NOD_FILE_OPS_H

#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

struct nod_file_ops {
	void *context; /* handed to every function */
	int (*open)(void *context, const char *path, int flags, mode_t mode);
	ssize_t (*write)(void *context, int fd, const void *buf, size_t size);
	int (*sync)(void *context, int fd);
	int (*truncate)(void *context, int fd, off_t size);
	int (*close)(void *context, int fd);
	int (*mkdir)(void *context, const char *path, mode_t mode);
	int (*rename)(void *context, const char *from, const char *to); /* never replaces */
};

/* The real ones. */
extern const struct nod_file_ops nod_file_ops_system;

/* Writes all bytes, going on after a short write. Returns 0 or a negative
 * errno; *written (may be NULL) says how many bytes went out in any case. */
int nod_file_write(const struct nod_file_ops *ops, int fd, const void *buf, size_t size,
		   size_t *written);

/* Makes what was created, renamed or removed in a directory last. Returns 0 or
 * a negative errno. */
int nod_file_sync_directory(const struct nod_file_ops *ops, const char *path);

#endif
