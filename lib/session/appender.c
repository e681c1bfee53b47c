/* SPDX-License-Identifier: MIT */
#include "appender.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

int nod_appender_open(struct nod_appender *appender, const char *path, const char *cut_off,
		      const struct nod_file_ops *ops)
{
	*appender = (struct nod_appender){ops, -1, cut_off};
	/* Also for reading: whether the last line has an end. */
	int fd = ops->open(ops->context, path, O_RDWR | O_APPEND | O_CREAT | O_NONBLOCK, 0666);
	if (fd < 0)
		return fd;
	appender->fd = fd;
	return 0;
}

void nod_appender_close(struct nod_appender *appender)
{
	if (appender->fd >= 0)
		appender->ops->close(appender->ops->context, appender->fd);
	appender->fd = -1;
}

static int file_size(int fd, off_t *size)
{
	struct stat st;

	if (fstat(fd, &st))
		return -errno;
	if (!S_ISREG(st.st_mode))
		return -EINVAL;
	*size = st.st_size;
	return 0;
}

static bool is_torn(int fd, off_t size)
{
	char last;

	return size > 0 && pread(fd, &last, 1, size - 1) == 1 && last != '\n';
}

/* Cuts off what was written, unless somebody else has appended meanwhile. */
static void undo(struct nod_appender *appender, off_t before, size_t written)
{
	off_t now = 0;

	if (!file_size(appender->fd, &now) && now == before + (off_t)written)
		appender->ops->truncate(appender->ops->context, appender->fd, before);
}

static int write_at_end(struct nod_appender *appender, off_t before, const char *text,
			size_t length, bool sync)
{
	const struct nod_file_ops *ops = appender->ops;
	size_t written;
	int result = nod_file_write(ops, appender->fd, text, length, &written);

	if (!result && sync)
		result = ops->sync(ops->context, appender->fd);
	if (result && written)
		undo(appender, before, written);
	return result;
}

/* The same with the end that the last line of the file lacks in front. */
static int write_after_torn(struct nod_appender *appender, off_t before, const char *lines,
			    size_t length, bool sync)
{
	size_t sign = strlen(appender->cut_off);
	char *text = malloc(sign + 1 + length);

	if (!text)
		return -ENOMEM;
	memcpy(text, appender->cut_off, sign);
	text[sign] = '\n';
	memcpy(text + sign + 1, lines, length);
	int result = write_at_end(appender, before, text, sign + 1 + length, sync);
	free(text);
	return result;
}

int nod_appender_write(struct nod_appender *appender, const char *lines, size_t length, bool sync)
{
	off_t before = 0;

	if (appender->fd < 0)
		return -EBADF;
	int result = file_size(appender->fd, &before);
	if (result)
		return result;
	if (is_torn(appender->fd, before))
		return write_after_torn(appender, before, lines, length, sync);
	return write_at_end(appender, before, lines, length, sync);
}
