/* SPDX-License-Identifier: MIT */
#include "file-ops.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/vfs.h>
#include <unistd.h>

static int system_open(void *context, const char *path, int flags, mode_t mode)
{
	(void)context;
	int fd = open(path, flags | O_CLOEXEC, mode);
	return fd < 0 ? -errno : fd;
}

/* A file that is open for writing stays so when the kernel makes its file system
 * read-only (after an error, or by sysrq). ext4 then goes on taking what it has a page
 * for, never writes it, and fsync() says 0 (fs/ext4/fsync.c of Linux 6.1). */
static bool is_read_only(int fd)
{
	struct statfs st;

	return !fstatfs(fd, &st) && (st.f_flags & ST_RDONLY);
}

static ssize_t system_write(void *context, int fd, const void *buf, size_t size)
{
	(void)context;
	if (is_read_only(fd))
		return -EROFS;
	ssize_t written = write(fd, buf, size);
	return written < 0 ? -errno : written;
}

static int system_sync(void *context, int fd)
{
	(void)context;
	if (fsync(fd))
		return -errno;
	return is_read_only(fd) ? -EROFS : 0;
}

static int system_truncate(void *context, int fd, off_t size)
{
	(void)context;
	return ftruncate(fd, size) ? -errno : 0;
}

static int system_close(void *context, int fd)
{
	(void)context;
	return close(fd) ? -errno : 0;
}

static int system_mkdir(void *context, const char *path, mode_t mode)
{
	(void)context;
	return mkdir(path, mode) ? -errno : 0;
}

static int system_rename(void *context, const char *from, const char *to)
{
	struct stat st;

	(void)context;
	if (!renameat2(AT_FDCWD, from, AT_FDCWD, to, RENAME_NOREPLACE))
		return 0;
	if (errno != EINVAL && errno != ENOSYS)
		return -errno;
	/* A file system that cannot say "never replace". */
	if (!lstat(to, &st))
		return -EEXIST;
	return rename(from, to) ? -errno : 0;
}

const struct nod_file_ops nod_file_ops_system = {
	.open = system_open,
	.write = system_write,
	.sync = system_sync,
	.truncate = system_truncate,
	.close = system_close,
	.mkdir = system_mkdir,
	.rename = system_rename,
};

int nod_file_write(const struct nod_file_ops *ops, int fd, const void *buf, size_t size,
		   size_t *written)
{
	const char *p = buf;
	size_t done = 0;
	ssize_t n = 0;

	while (done < size) {
		n = ops->write(ops->context, fd, p + done, size - done);
		if (n == -EINTR)
			continue;
		if (n <= 0)
			break;
		done += (size_t)n;
	}
	if (written)
		*written = done;
	if (done == size)
		return 0;
	return n < 0 ? (int)n : -EIO;
}

int nod_file_sync_directory(const struct nod_file_ops *ops, const char *path)
{
	int fd = ops->open(ops->context, path, O_RDONLY | O_DIRECTORY, 0);

	if (fd < 0)
		return fd;
	int result = ops->sync(ops->context, fd);
	ops->close(ops->context, fd);
	return result == -EINVAL ? 0 : result; /* a file system that has nothing to sync */
}
