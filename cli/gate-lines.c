/* SPDX-License-Identifier: MIT */
#include "gate-lines.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "command.h"
#include "gate-line.h"
#include "output.h"
#include "text-stream.h"

struct nod_gate_lines {
	const char *path;
	int fd; /* locked */
	const struct nod_gate_shard *shard;
	const struct nod_gate_sessions *sessions;
	struct nod_gate_result *results;
};

/* FNV-1a of 32 bits (www.isthe.com/chongo/tech/comp/fnv): even enough for names. */
bool nod_gate_shard_has(const struct nod_gate_shard *shard, const char *name)
{
	uint32_t hash = 2166136261u;

	for (; *name; name++)
		hash = (hash ^ (unsigned char)*name) * 16777619u;
	return hash % shard->shards + 1 == shard->shard;
}

int nod_gate_show_lines(FILE *out, const struct nod_gate_shard *shard,
			const struct nod_gate_sessions *sessions,
			const struct nod_gate_result *results)
{
	char *line = nod_gate_line_of_shard(shard, sessions->count, true);

	for (size_t i = 0; line && i < sessions->count; i++) {
		fputs(line, out);
		free(line);
		line = nod_gate_line_of_session(sessions->list[i].name, &results[i]);
	}
	if (!line)
		return nod_unreadable("out of memory");
	fputs(line, out);
	free(line);
	return NOD_EXIT_OK;
}

static int write_failed(const struct nod_gate_lines *lines)
{
	return nod_unreadable("%s: cannot be written: %s", lines->path, strerror(errno));
}

/* Takes the line over. One write: what a kill leaves behind is whole lines, or one that is cut. */
static int append(const struct nod_gate_lines *lines, char *line)
{
	if (!line)
		return nod_unreadable("out of memory");
	size_t length = strlen(line);
	errno = EIO;
	int code = write(lines->fd, line, length) == (ssize_t)length ? NOD_EXIT_OK
								     : write_failed(lines);
	free(line);
	return code;
}

int nod_gate_lines_add(struct nod_gate_lines *lines, size_t session)
{
	return append(lines, nod_gate_line_of_session(lines->sessions->list[session].name,
						      &lines->results[session]));
}

static int by_name(const void *name, const void *session)
{
	return strcmp(name, ((const struct nod_gate_session *)session)->name);
}

static void take(struct nod_gate_lines *lines, const json_t *line)
{
	const struct nod_gate_sessions *all = lines->sessions;
	const char *name = nod_gate_line_session(line);
	const struct nod_gate_session *found = name && all->count
						       ? bsearch(name, all->list, all->count,
								 sizeof(all->list[0]), by_name)
						       : NULL;

	if (found)
		nod_gate_line_result(line, &lines->results[found - all->list]);
}

/* What stands in the file; a last line that was cut off is ended. */
static int read_all(struct nod_gate_lines *lines)
{
	FILE *in = fopen(lines->path, "re");
	char *text = NULL;
	size_t room = 0;
	ssize_t length;
	bool whole = true;

	if (!in)
		return nod_unreadable("%s: %s", lines->path, strerror(errno));
	while ((length = getline(&text, &room, in)) > 0) {
		json_t *line = nod_gate_line_read(text, (size_t)length);
		whole = text[length - 1] == '\n';
		take(lines, line);
		json_decref(line);
	}
	free(text);
	fclose(in);
	return whole || write(lines->fd, "\n", 1) == 1 ? NOD_EXIT_OK : write_failed(lines);
}

static int begin(struct nod_gate_lines *lines)
{
	lines->fd = open(lines->path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
	if (lines->fd < 0)
		return write_failed(lines);
	if (flock(lines->fd, LOCK_EX | LOCK_NB))
		return nod_unreadable("%s: another nodoff gate is writing it", lines->path);
	int code = read_all(lines);
	return code ? code
		    : append(lines,
			     nod_gate_line_of_shard(lines->shard, lines->sessions->count, false));
}

struct nod_gate_lines *nod_gate_lines_open(const char *path, const struct nod_gate_shard *shard,
					   const struct nod_gate_sessions *sessions,
					   struct nod_gate_result *results)
{
	struct nod_gate_lines *lines = malloc(sizeof(*lines));

	if (!lines) {
		nod_unreadable("out of memory");
		return NULL;
	}
	*lines = (struct nod_gate_lines){path, -1, shard, sessions, results};
	if (!begin(lines))
		return lines;
	nod_gate_lines_close(lines, false);
	return NULL;
}

static int rewrite(const struct nod_gate_lines *lines)
{
	struct nod_text_stream stream;

	if (nod_text_stream_open(&stream))
		return nod_unreadable("out of memory");
	int code = nod_gate_show_lines(stream.out, lines->shard, lines->sessions, lines->results);
	if (nod_text_stream_close(&stream) && !code)
		code = nod_unreadable("out of memory");
	if (!code)
		code = nod_output_write(lines->path, stream.text, stream.size, true);
	free(stream.text);
	return code;
}

int nod_gate_lines_close(struct nod_gate_lines *lines, bool finished)
{
	int code = lines && finished ? rewrite(lines) : NOD_EXIT_OK;

	if (lines && lines->fd >= 0)
		close(lines->fd);
	free(lines);
	return code;
}
