/* SPDX-License-Identifier: MIT */
#include "output.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "file-ops.h"

/* The rights of the file that is replaced, else those of a new one. */
static mode_t rights(const char *path)
{
	struct stat st;
	mode_t mask = umask(0);

	umask(mask);
	return stat(path, &st) ? 0666 & ~mask : st.st_mode & 0777;
}

static int fill(int fd, const char *bytes, size_t length, mode_t mode)
{
	int status = nod_file_write(&nod_file_ops_system, fd, bytes, length, NULL);
	if (!status && fchmod(fd, mode))
		status = -errno;
	if (!status && fsync(fd))
		status = -errno;
	if (close(fd) && !status)
		status = -errno;
	return status;
}

/* Signals wait meanwhile: it is a matter of milliseconds, and afterwards there is
 * either the whole file or none, and no temporary one. */
static int write_whole(const char *temporary, int fd, const char *path, const char *bytes,
		       size_t length, bool replace)
{
	int status = fill(fd, bytes, length, rights(path));

	if (!status && !replace)
		status = nod_file_ops_system.rename(NULL, temporary, path);
	else if (!status && rename(temporary, path))
		status = -errno;
	if (status)
		unlink(temporary);
	return status;
}

static int write_file(const char *path, const char *bytes, size_t length, bool replace)
{
	char *temporary;
	sigset_t all, before;

	if (asprintf(&temporary, "%s.XXXXXX", path) < 0)
		return -ENOMEM;
	sigfillset(&all);
	sigprocmask(SIG_BLOCK, &all, &before);
	int fd = mkstemp(temporary);
	int status = fd < 0 ? -errno : write_whole(temporary, fd, path, bytes, length, replace);
	sigprocmask(SIG_SETMASK, &before, NULL);
	free(temporary);
	return status;
}

/* A device, a FIFO, a link to nothing yet: it stays what it is, and gets the bytes. */
static int write_through(const char *path, const char *bytes, size_t length)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_NOCTTY | O_CLOEXEC, 0666);

	if (fd < 0)
		return -errno;
	int status = nod_file_write(&nod_file_ops_system, fd, bytes, length, NULL);
	if (close(fd) && !status)
		status = -errno;
	return status;
}

/* The file behind a link is written, the link stays. */
static int write_over(const char *path, const char *bytes, size_t length)
{
	struct stat st;
	bool there = !stat(path, &st), link = !lstat(path, &st) && S_ISLNK(st.st_mode);

	if (there && (stat(path, &st) || !S_ISREG(st.st_mode)))
		return write_through(path, bytes, length);
	if (!link)
		return write_file(path, bytes, length, true);
	char *target = there ? realpath(path, NULL) : NULL;
	int status = target ? write_file(target, bytes, length, true)
			    : write_through(path, bytes, length);
	free(target);
	return status;
}

int nod_output_write(const char *path, const char *bytes, size_t length, bool replace)
{
	if (!strcmp(path, "-")) {
		if (fwrite(bytes, 1, length, stdout) != length || fflush(stdout))
			return nod_unreadable("standard output: %s", strerror(errno));
		return NOD_EXIT_OK;
	}
	int status = replace ? write_over(path, bytes, length)
			     : write_file(path, bytes, length, false);
	if (status == -EEXIST && !replace)
		return nod_unreadable("%s is there already, and is left as it is", path);
	return status ? nod_unreadable("%s: %s", path, strerror(-status)) : NOD_EXIT_OK;
}
