/* SPDX-License-Identifier: MIT */
#include "session-create.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "arena.h"
#include "session.h"
#include "text-stream.h"

/* Names tried for the directory that is being made. */
#define UNFINISHED_MAX 1000

struct nod_session_maker {
	const struct nod_file_ops *ops;
	struct nod_arena texts;
	const char *path, *parent, *unfinished;
	struct nod_text_stream about; /* session.txt */
};

static int no_memory(struct nod_error *err)
{
	return nod_error_set(err, ENOMEM, "out of memory");
}

bool nod_session_is_unfinished(const char *path)
{
	size_t length = strlen(path), begin;

	while (length > 1 && path[length - 1] == '/')
		length--;
	for (begin = length; begin && path[begin - 1] != '/';)
		begin--;
	return path[begin] == '.' &&
	       memmem(path + begin, length - begin, ".unfinished-", strlen(".unfinished-"));
}

/* Splits the path; slashes at its end are left out. */
static int set_paths(struct nod_session_maker *maker, const char *path, const char **name)
{
	size_t length = strlen(path), begin;

	while (length > 1 && path[length - 1] == '/')
		length--;
	for (begin = length; begin && path[begin - 1] != '/';)
		begin--;
	if (begin == length || !strcmp(path + begin, ".") || !strcmp(path + begin, ".."))
		return -EINVAL;
	maker->path = nod_arena_printf(&maker->texts, "%.*s", (int)length, path);
	maker->parent = begin ? nod_arena_printf(&maker->texts, "%.*s", (int)begin, path) : ".";
	*name = maker->path + begin;
	return maker->texts.failed ? -ENOMEM : 0;
}

static int make_directory(struct nod_session_maker *maker, const char *name)
{
	int result = -EEXIST;

	for (int i = 0; result == -EEXIST && i < UNFINISHED_MAX; i++) {
		maker->unfinished = nod_arena_printf(&maker->texts, "%s/.%s.unfinished-%03d",
						     maker->parent, name, i);
		if (maker->texts.failed)
			return -ENOMEM;
		result = maker->ops->mkdir(maker->ops->context, maker->unfinished, 0777);
	}
	if (result)
		maker->unfinished = NULL;
	return result;
}

static int begin(struct nod_session_maker *maker, const char *path, struct nod_error *err)
{
	const char *name;
	struct stat st;
	int result = set_paths(maker, path, &name);

	if (result == -EINVAL)
		return nod_error_set(err, EINVAL, "`%s` is no name for a session", path);
	if (!result && !lstat(maker->path, &st))
		return nod_error_set(err, EEXIST, "%s: is there already", path);
	if (!result)
		result = make_directory(maker, name);
	if (!result)
		result = nod_text_stream_open(&maker->about);
	if (result)
		nod_error_set(err, -result, "%s: cannot be made: %s", path, strerror(-result));
	return result;
}

static void note_all(struct nod_session_maker *maker, const struct nod_session_about *about)
{
	char text[NOD_TIME_TEXT];

	snprintf(text, sizeof(text), "%d", NOD_SESSION_FORMAT);
	nod_session_maker_note(maker, "nodoff session", text);
	nod_session_maker_note(maker, "tool", "nodoff " NOD_VERSION);
	if (about && about->title)
		nod_session_maker_note(maker, "title", about->title);
	if (about && nod_time_is_set(about->created))
		nod_session_maker_note(maker, "created", nod_time_print(text, about->created, 0));
	if (about && about->clock)
		nod_session_maker_note(maker, "clock", about->clock);
	if (about && about->zone && *about->zone)
		nod_session_maker_note(maker, "zone", about->zone);
}

struct nod_session_maker *nod_session_begin(const char *path, const struct nod_session_about *about,
					    const struct nod_file_ops *ops, struct nod_error *err)
{
	struct nod_session_maker *maker = calloc(1, sizeof(*maker));
	int result = maker ? 0 : no_memory(err);

	if (maker) {
		maker->ops = ops ? ops : &nod_file_ops_system;
		result = begin(maker, path, err);
	}
	if (!result) {
		note_all(maker, about);
		return maker;
	}
	nod_session_abandon(maker);
	errno = -result;
	return NULL;
}

const char *nod_session_maker_path(struct nod_session_maker *maker, const char *name)
{
	const char *path = nod_arena_printf(&maker->texts, "%s/%s", maker->unfinished, name);

	return maker->texts.failed ? NULL : path;
}

static void put_line_part(FILE *out, const char *text)
{
	for (; *text; text++)
		fputc(iscntrl((unsigned char)*text) ? ' ' : *text, out);
}

void nod_session_maker_note(struct nod_session_maker *maker, const char *key, const char *value)
{
	put_line_part(maker->about.out, key);
	fputs(": ", maker->about.out);
	put_line_part(maker->about.out, value);
	fputc('\n', maker->about.out);
}

static int copy_bytes(const struct nod_file_ops *ops, int from, int to)
{
	char buf[65536];
	ssize_t n;

	while ((n = read(from, buf, sizeof(buf))) != 0) {
		if (n < 0 && errno == EINTR)
			continue;
		int result = n < 0 ? -errno : nod_file_write(ops, to, buf, (size_t)n, NULL);
		if (result)
			return result;
	}
	return 0;
}

static int create(struct nod_session_maker *maker, const char *name)
{
	const char *path = nod_session_maker_path(maker, name);

	if (!path)
		return -ENOMEM;
	return maker->ops->open(maker->ops->context, path, O_WRONLY | O_CREAT | O_EXCL, 0666);
}

int nod_session_maker_copy(struct nod_session_maker *maker, const char *from, const char *name,
			   struct nod_error *err)
{
	const struct nod_file_ops *ops = maker->ops;
	bool standard = !strcmp(from, "-");
	int in = standard ? STDIN_FILENO : open(from, O_RDONLY | O_CLOEXEC);

	if (in < 0) {
		int code = errno;
		return nod_error_set(err, code, "%s: cannot be opened: %s", from, strerror(code));
	}
	int out = create(maker, name);
	int result = out < 0 ? out : copy_bytes(ops, in, out);
	if (out >= 0) {
		int closed = ops->close(ops->context, out);
		result = result ? result : closed;
	}
	if (!standard)
		close(in);
	if (result)
		nod_error_set(err, -result, "%s: cannot be copied: %s", from, strerror(-result));
	return result;
}

static int write_file(struct nod_session_maker *maker, const char *name, const char *text,
		      size_t length)
{
	int fd = create(maker, name);
	if (fd < 0)
		return fd;
	int result = nod_file_write(maker->ops, fd, text, length, NULL);
	int closed = maker->ops->close(maker->ops->context, fd);
	return result ? result : closed;
}

static int write_about(struct nod_session_maker *maker)
{
	int result = nod_text_stream_close(&maker->about);

	return result ? result
		      : write_file(maker, "session.txt", maker->about.text, maker->about.size);
}

static int sync_file(struct nod_session_maker *maker, const char *name)
{
	const struct nod_file_ops *ops = maker->ops;
	const char *path = nod_session_maker_path(maker, name);
	int fd = path ? ops->open(ops->context, path, O_RDONLY, 0) : -ENOMEM;

	if (fd < 0)
		return fd;
	int result = ops->sync(ops->context, fd);
	ops->close(ops->context, fd);
	return result;
}

/* Calls for every file in the directory being made, until one is not 0. */
static int each_file(struct nod_session_maker *maker,
		     int (*call)(struct nod_session_maker *maker, const char *name))
{
	DIR *dir = opendir(maker->unfinished);
	const struct dirent *entry;
	int result = dir ? 0 : -errno;

	while (!result && (entry = readdir(dir)))
		if (strcmp(entry->d_name, ".") && strcmp(entry->d_name, ".."))
			result = call(maker, entry->d_name);
	if (dir)
		closedir(dir);
	return result;
}

/* Gives the directory its name, and makes that last. */
static int publish(struct nod_session_maker *maker)
{
	const struct nod_file_ops *ops = maker->ops;
	int result = ops->rename(ops->context, maker->unfinished, maker->path);

	if (result)
		return result;
	result = nod_file_sync_directory(ops, maker->parent);
	if (result && rename(maker->path, maker->unfinished))
		maker->unfinished = NULL; /* it stays, whole */
	return result;
}

int nod_session_commit(struct nod_session_maker *maker, struct nod_error *err)
{
	int result = write_about(maker);

	if (!result)
		result = each_file(maker, sync_file);
	if (!result)
		result = nod_file_sync_directory(maker->ops, maker->unfinished);
	if (!result)
		result = publish(maker);
	if (result)
		nod_error_set(err, -result, "%s: cannot be made: %s", maker->path,
			      strerror(-result));
	else
		maker->unfinished = NULL;
	nod_session_abandon(maker);
	return result;
}

static int remove_file(struct nod_session_maker *maker, const char *name)
{
	char path[PATH_MAX]; /* memory may be what has run out */
	int length = snprintf(path, sizeof(path), "%s/%s", maker->unfinished, name);

	if (length < 0 || length >= (int)sizeof(path))
		return -ENAMETOOLONG;
	return unlink(path) ? -errno : 0;
}

void nod_session_abandon(struct nod_session_maker *maker)
{
	if (!maker)
		return;
	if (maker->unfinished) {
		each_file(maker, remove_file);
		rmdir(maker->unfinished);
	}
	if (maker->about.out)
		nod_text_stream_close(&maker->about);
	free(maker->about.text);
	nod_arena_free(&maker->texts);
	free(maker);
}

int nod_session_create(const char *path, const struct nod_session_about *about, const char *vehicle,
		       const struct nod_file_ops *ops, struct nod_error *err)
{
	struct nod_session_maker *maker = nod_session_begin(path, about, ops, err);
	int result;

	if (!maker)
		return -errno;
	result = write_file(maker, "journal.log", "", 0);
	if (result)
		nod_error_set(err, -result, "%s: cannot be made: %s", path, strerror(-result));
	else if (vehicle)
		result = nod_session_maker_copy(maker, vehicle, "vehicle.yaml", err);
	if (!result)
		return nod_session_commit(maker, err);
	nod_session_abandon(maker);
	return result;
}

void nod_session_remove_empty(const char *path)
{
	static const char *const made[] = {"session.txt", "journal.log", "vehicle.yaml",
					   "frames-000001.log.zst"};
	char file[PATH_MAX];

	for (size_t i = 0; i < sizeof(made) / sizeof(made[0]); i++)
		if (snprintf(file, sizeof(file), "%s/%s", path, made[i]) < (int)sizeof(file))
			unlink(file);
	rmdir(path);
}
