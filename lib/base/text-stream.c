/* SPDX-License-Identifier: MIT */
#include "text-stream.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

#define FIRST_ROOM 1024

/* Room for so many bytes more and the terminator. */
static int make_room(struct nod_text_stream *stream, size_t more)
{
	size_t room = stream->room;

	if (more > SIZE_MAX / 4 - stream->size)
		return -ENOMEM;
	while (room <= stream->size + more)
		room *= 2;
	if (room == stream->room)
		return 0;
	char *text = realloc(stream->text, room);
	if (!text)
		return -ENOMEM;
	stream->text = text;
	stream->room = room;
	return 0;
}

/* Returning 0 for bytes sets the error of the stream. */
static ssize_t take(void *cookie, const char *bytes, size_t length)
{
	struct nod_text_stream *stream = cookie;

	if (make_room(stream, length)) {
		errno = ENOMEM;
		return 0;
	}
	memcpy(stream->text + stream->size, bytes, length);
	stream->size += length;
	return (ssize_t)length;
}

int nod_text_stream_open(struct nod_text_stream *stream)
{
	*stream = (struct nod_text_stream){.text = malloc(FIRST_ROOM), .room = FIRST_ROOM};
	if (stream->text)
		stream->out = fopencookie(stream, "w", (cookie_io_functions_t){.write = take});
	if (stream->out)
		return 0;
	free(stream->text);
	stream->text = NULL;
	return -ENOMEM;
}

int nod_text_stream_close(struct nod_text_stream *stream)
{
	int failed = fflush(stream->out) || ferror(stream->out);

	fclose(stream->out);
	stream->out = NULL;
	if (failed) {
		free(stream->text);
		stream->text = NULL;
		return -ENOMEM;
	}
	stream->text[stream->size] = '\0';
	return 0;
}
