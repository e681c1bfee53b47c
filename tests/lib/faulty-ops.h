/* SPDX-License-Identifier: MIT */
/* System calls of which one fails, as nod_file_ops. */
#ifndef FAULTY_OPS_H
#define FAULTY_OPS_H

#include <errno.h>

#include "file-ops.h"

struct faulty {
	struct nod_file_ops ops;
	long calls;        /* made so far */
	long fail_at;      /* the first of them that fails, from 1; 0: none */
	long long fail_to; /* the last of them that fails */
	int error;         /* positive errno of the failure */
	int tear;          /* a failing write() first writes half */
	int open_files;    /* opened and not closed */
};

static inline int faulty_fails(struct faulty *f)
{
	f->calls++;
	return f->fail_at && f->calls >= f->fail_at && f->calls <= f->fail_to;
}

static inline int faulty_open(void *context, const char *path, int flags, mode_t mode)
{
	struct faulty *f = context;
	if (faulty_fails(f))
		return -f->error;
	int fd = nod_file_ops_system.open(NULL, path, flags, mode);
	f->open_files += fd >= 0;
	return fd;
}

static inline ssize_t faulty_write(void *context, int fd, const void *buf, size_t size)
{
	struct faulty *f = context;
	if (!faulty_fails(f))
		return nod_file_ops_system.write(NULL, fd, buf, size);
	if (!f->tear || size < 2)
		return -f->error;
	f->tear = 0; /* half is written now, and the rest fails at the next call */
	f->fail_to++;
	return nod_file_ops_system.write(NULL, fd, buf, size / 2);
}

static inline int faulty_sync(void *context, int fd)
{
	struct faulty *f = context;
	return faulty_fails(f) ? -f->error : nod_file_ops_system.sync(NULL, fd);
}

static inline int faulty_truncate(void *context, int fd, off_t size)
{
	struct faulty *f = context;
	return faulty_fails(f) ? -f->error : nod_file_ops_system.truncate(NULL, fd, size);
}

/* A close() that fails has closed all the same, as Linux does. */
static inline int faulty_close(void *context, int fd)
{
	struct faulty *f = context;
	int fails = faulty_fails(f);
	f->open_files--;
	nod_file_ops_system.close(NULL, fd);
	return fails ? -f->error : 0;
}

static inline int faulty_mkdir(void *context, const char *path, mode_t mode)
{
	struct faulty *f = context;
	return faulty_fails(f) ? -f->error : nod_file_ops_system.mkdir(NULL, path, mode);
}

static inline int faulty_rename(void *context, const char *from, const char *to)
{
	struct faulty *f = context;
	return faulty_fails(f) ? -f->error : nod_file_ops_system.rename(NULL, from, to);
}

static inline void faulty_init(struct faulty *f, long fail_at, int error, int tear)
{
	*f = (struct faulty){.ops = {f, faulty_open, faulty_write, faulty_sync, faulty_truncate,
				     faulty_close, faulty_mkdir, faulty_rename},
			     .fail_at = fail_at,
			     .fail_to = fail_at,
			     .error = error,
			     .tear = tear};
}

#endif
