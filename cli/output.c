#include "output.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "file-ops.h"

/* Bytes into the temporary file, with the rights a new file has. */
static int fill(int fd, const char *bytes, size_t length)
{
	mode_t mask = umask(0);

	umask(mask);
	int status = nod_file_write(&nod_file_ops_system, fd, bytes, length, NULL);
	if (!status && fchmod(fd, 0666 & ~mask))
		status = -errno;
	if (!status && fsync(fd))
		status = -errno;
	if (close(fd) && !status)
		status = -errno;
	return status;
}

static int put_in_place(const char *temporary, const char *path, bool replace)
{
	if (!replace)
		return nod_file_ops_system.rename(NULL, temporary, path);
	return rename(temporary, path) ? -errno : 0;
}

/* Signals wait meanwhile: it is a matter of milliseconds, and afterwards there is
 * either the whole file or none, and no temporary one. */
static int write_whole(const char *temporary, int fd, const char *path, const char *bytes,
		       size_t length, bool replace)
{
	int status = fill(fd, bytes, length);

	if (!status)
		status = put_in_place(temporary, path, replace);
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

int nod_output_write(const char *path, const char *bytes, size_t length, bool replace)
{
	if (!strcmp(path, "-")) {
		if (fwrite(bytes, 1, length, stdout) != length || fflush(stdout))
			return nod_unreadable("standard output: %s", strerror(errno));
		return NOD_EXIT_OK;
	}
	if (!replace && !access(path, F_OK))
		return nod_unreadable("%s is there already; name it with --out to replace it",
				      path);
	int status = write_file(path, bytes, length, replace);
	return status ? nod_unreadable("%s: %s", path, strerror(-status)) : NOD_EXIT_OK;
}
