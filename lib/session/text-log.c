/* SPDX-License-Identifier: MIT */
#include "text-log.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct nod_text_log {
	int fd;
	uint64_t number; /* lines taken */
	bool skipping;   /* inside a line that is too long */
	size_t begin, end;
	char buffer[2 * NOD_TEXT_LINE_MAX];
};

static int open_regular(const char *path)
{
	struct stat st;
	/* Not blocking: a pipe of that name must not hang us. */
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);

	if (fd < 0)
		return -errno;
	if (!fstat(fd, &st) && S_ISREG(st.st_mode))
		return fd;
	close(fd);
	return -EINVAL;
}

struct nod_text_log *nod_text_log_open(const char *path, struct nod_error *err)
{
	int fd = open_regular(path);
	struct nod_text_log *log = fd < 0 ? NULL : calloc(1, sizeof(*log));

	if (log) {
		log->fd = fd;
		return log;
	}
	if (fd >= 0)
		close(fd);
	int code = fd < 0 ? -fd : ENOMEM;
	nod_error_set(err, code, "%s: %s", path,
		      fd == -EINVAL ? "is no regular file" : strerror(code));
	errno = code;
	return NULL;
}

void nod_text_log_close(struct nod_text_log *log)
{
	if (log)
		close(log->fd);
	free(log);
}

/* Reads more. Returns bytes read, 0 at the end or a negative errno. */
static ssize_t fill(struct nod_text_log *log)
{
	ssize_t n;

	if (log->begin) {
		memmove(log->buffer, log->buffer + log->begin, log->end - log->begin);
		log->end -= log->begin;
		log->begin = 0;
	}
	do
		n = read(log->fd, log->buffer + log->end, sizeof(log->buffer) - log->end);
	while (n < 0 && errno == EINTR);
	if (n < 0)
		return -errno;
	log->end += (size_t)n;
	return n;
}

/* Fills in the line that ends at `newline`. */
static void take(struct nod_text_log *log, char *newline, struct nod_text_line *line)
{
	char *text = log->buffer + log->begin;
	size_t length = (size_t)(newline - text);

	*line = (struct nod_text_line){text, length, ++log->number, NULL};
	*newline = '\0';
	log->begin += length + 1;
	if (log->skipping || length >= NOD_TEXT_LINE_MAX)
		line->fault = "the line is too long";
	else if (memchr(text, '\0', length))
		line->fault = "zero bytes instead of text, as a power failure leaves them";
	else
		return;
	log->skipping = false;
	line->text = newline;
	line->length = 0;
}

int nod_text_log_next(struct nod_text_log *log, struct nod_text_line *line)
{
	for (;;) {
		size_t held = log->end - log->begin;
		char *newline = memchr(log->buffer + log->begin, '\n', held);
		if (newline) {
			take(log, newline, line);
			return 1;
		}
		if (held >= NOD_TEXT_LINE_MAX) {
			log->skipping = true;
			log->begin = log->end;
		}
		ssize_t n = fill(log);
		if (n <= 0)
			return (int)n;
	}
}

bool nod_text_log_torn(const struct nod_text_log *log)
{
	return log->skipping || log->end > log->begin;
}

uint64_t nod_text_log_torn_line(const struct nod_text_log *log)
{
	return log->number + 1;
}
