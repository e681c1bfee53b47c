/* The system calls of our own objects, of which one fails. */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "faults-private.h"

static bool fails(const char *name)
{
	return faults_strike(FAULT_OF_CALL, name);
}

int __real_open64(const char *path, int flags, ...);
int __wrap_open64(const char *path, int flags, ...);
ssize_t __real_write(int fd, const void *buf, size_t size);
ssize_t __wrap_write(int fd, const void *buf, size_t size);
ssize_t __real_read(int fd, void *buf, size_t size);
ssize_t __wrap_read(int fd, void *buf, size_t size);
int __wrap_fsync(int fd);
int __real_ftruncate64(int fd, off_t size);
int __wrap_ftruncate64(int fd, off_t size);
int __real_close(int fd);
int __wrap_close(int fd);
int __real_mkdir(const char *path, mode_t mode);
int __wrap_mkdir(const char *path, mode_t mode);
int __real_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to);
int __real_renameat2(int from_dir, const char *from, int to_dir, const char *to, unsigned flags);
int __wrap_renameat2(int from_dir, const char *from, int to_dir, const char *to, unsigned flags);
int __real_mkstemp64(char *path);
int __wrap_mkstemp64(char *path);
DIR *__real_opendir(const char *path);
DIR *__wrap_opendir(const char *path);
FILE *__real_fopen64(const char *path, const char *mode);
FILE *__wrap_fopen64(const char *path, const char *mode);
FILE *__real_fdopen(int fd, const char *mode);
FILE *__wrap_fdopen(int fd, const char *mode);

int __wrap_open64(const char *path, int flags, ...)
{
	mode_t mode = 0;
	va_list args;

	if (flags & O_CREAT) {
		va_start(args, flags);
		mode = va_arg(args, mode_t);
		va_end(args);
	}
	return fails("open") ? -1 : __real_open64(path, flags, mode);
}

/* Torn: half is written first, and the call for the rest fails. */
ssize_t __wrap_write(int fd, const void *buf, size_t size)
{
	if (faults_torn())
		return -1;
	if (!fails("write"))
		return __real_write(fd, buf, size);
	return size > 1 && faults_tear() ? __real_write(fd, buf, size / 2) : -1;
}

ssize_t __wrap_read(int fd, void *buf, size_t size)
{
	return fails("read") ? -1 : __real_read(fd, buf, size);
}

int __wrap_fsync(int fd)
{
	(void)fd;
	return fails("fsync") ? -1 : 0;
}

int __wrap_ftruncate64(int fd, off_t size)
{
	return fails("ftruncate") ? -1 : __real_ftruncate64(fd, size);
}

/* One that fails has closed all the same, as Linux does. */
int __wrap_close(int fd)
{
	int result = fails("close") ? -1 : 0;
	int code = errno;

	if (__real_close(fd))
		return -1;
	errno = code;
	return result;
}

int __wrap_mkdir(const char *path, mode_t mode)
{
	return fails("mkdir") ? -1 : __real_mkdir(path, mode);
}

int __wrap_rename(const char *from, const char *to)
{
	return fails("rename") ? -1 : __real_rename(from, to);
}

int __wrap_renameat2(int from_dir, const char *from, int to_dir, const char *to, unsigned flags)
{
	return fails("rename") ? -1 : __real_renameat2(from_dir, from, to_dir, to, flags);
}

int __wrap_mkstemp64(char *path)
{
	return fails("mkstemp") ? -1 : __real_mkstemp64(path);
}

DIR *__wrap_opendir(const char *path)
{
	return fails("opendir") ? NULL : __real_opendir(path);
}

FILE *__wrap_fopen64(const char *path, const char *mode)
{
	return fails("fopen") ? NULL : __real_fopen64(path, mode);
}

FILE *__wrap_fdopen(int fd, const char *mode)
{
	return fails("fdopen") ? NULL : __real_fdopen(fd, mode);
}
