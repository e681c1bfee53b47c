/* SPDX-License-Identifier: MIT */
/* The system calls of our own objects, of which one fails. */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <time.h>
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
	/* What is said goes through: standard output that fails is what `room` is for. */
	if (fd == STDOUT_FILENO || fd == STDERR_FILENO || !fails("write"))
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

/* ---- sockets, processes, threads ---- */

int __real_socket(int domain, int type, int protocol);
int __wrap_socket(int domain, int type, int protocol);
int __real_connect(int fd, const struct sockaddr *address, socklen_t length);
int __wrap_connect(int fd, const struct sockaddr *address, socklen_t length);
int __real_bind(int fd, const struct sockaddr *address, socklen_t length);
int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length);
int __real_listen(int fd, int backlog);
int __wrap_listen(int fd, int backlog);
int __real_accept4(int fd, struct sockaddr *address, socklen_t *length, int flags);
int __wrap_accept4(int fd, struct sockaddr *address, socklen_t *length, int flags);
ssize_t __real_recv(int fd, void *buf, size_t size, int flags);
ssize_t __wrap_recv(int fd, void *buf, size_t size, int flags);
ssize_t __real_send(int fd, const void *buf, size_t size, int flags);
ssize_t __wrap_send(int fd, const void *buf, size_t size, int flags);
int __real_poll(struct pollfd *fds, nfds_t count, int timeout);
int __wrap_poll(struct pollfd *fds, nfds_t count, int timeout);
FILE *__real_tmpfile64(void);
FILE *__wrap_tmpfile64(void);
pid_t __real_fork(void);
pid_t __wrap_fork(void);
int __real_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
			  void *context);
int __wrap_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
			  void *context);

int __wrap_socket(int domain, int type, int protocol)
{
	return fails("socket") ? -1 : __real_socket(domain, type, protocol);
}

int __wrap_connect(int fd, const struct sockaddr *address, socklen_t length)
{
	return fails("connect") ? -1 : __real_connect(fd, address, length);
}

int __wrap_bind(int fd, const struct sockaddr *address, socklen_t length)
{
	return fails("bind") ? -1 : __real_bind(fd, address, length);
}

int __wrap_listen(int fd, int backlog)
{
	return fails("listen") ? -1 : __real_listen(fd, backlog);
}

int __wrap_accept4(int fd, struct sockaddr *address, socklen_t *length, int flags)
{
	return fails("accept4") ? -1 : __real_accept4(fd, address, length, flags);
}

ssize_t __wrap_recv(int fd, void *buf, size_t size, int flags)
{
	return fails("recv") ? -1 : __real_recv(fd, buf, size, flags);
}

/* Torn as write() is. */
ssize_t __wrap_send(int fd, const void *buf, size_t size, int flags)
{
	if (faults_torn())
		return -1;
	if (!fails("send"))
		return __real_send(fd, buf, size, flags);
	return size > 1 && faults_tear() ? __real_send(fd, buf, size / 2, flags) : -1;
}

int __wrap_poll(struct pollfd *fds, nfds_t count, int timeout)
{
	return fails("poll") ? -1 : __real_poll(fds, count, timeout);
}

FILE *__wrap_tmpfile64(void)
{
	return fails("tmpfile") ? NULL : __real_tmpfile64();
}

pid_t __wrap_fork(void)
{
	return fails("fork") ? -1 : __real_fork();
}

int __wrap_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
			  void *context)
{
	return fails("pthread_create") ? errno : __real_pthread_create(thread, attr, run, context);
}

/* ---- clocks, which never fail ---- */

static int64_t simulated; /* ns; 0: the real ones */

void faults_set_clock(int64_t ns)
{
	simulated = ns;
}

int __real_clock_gettime(clockid_t clock, struct timespec *ts);
int __wrap_clock_gettime(clockid_t clock, struct timespec *ts);

int __wrap_clock_gettime(clockid_t clock, struct timespec *ts)
{
	if (!simulated)
		return __real_clock_gettime(clock, ts);
	*ts = (struct timespec){(time_t)(simulated / 1000000000), (long)(simulated % 1000000000)};
	return 0;
}
