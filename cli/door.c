/* SPDX-License-Identifier: MIT */
#include "door.h"

#include <errno.h>
#include <stdbool.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

#include "plain-text.h"

#define BLOCK 65536

/* A stream, and what of a character or sequence has not come whole yet. */
struct door {
	FILE **stream, *before; /* NULL: closed */
	int fd;
	bool colours;
	char held[16];
	size_t held_length, missing; /* bytes; missing: of a UTF-8 character */
	size_t length;
	char block[BLOCK];
};

static struct door doors[2]; /* stdout and stderr, which are the process's, too */

static int write_all(int fd, const char *bytes, size_t size)
{
	while (size) {
		ssize_t written = write(fd, bytes, size);
		if (written < 0 && errno == EINTR)
			continue;
		if (written < 0)
			return -1;
		bytes += written;
		size -= (size_t)written;
	}
	return 0;
}

static int put(struct door *door, char c)
{
	if (door->length == BLOCK) {
		if (write_all(door->fd, door->block, BLOCK))
			return -1;
		door->length = 0;
	}
	door->block[door->length++] = c;
	return 0;
}

/* Ends what is held: as it is, or as '?'. */
static int release(struct door *door, bool harmless)
{
	size_t count = door->held_length;
	int status = 0;

	door->held_length = door->missing = 0;
	if (!harmless && count)
		return put(door, '?');
	for (size_t i = 0; i < count && !status; i++)
		status = put(door, door->held[i]);
	return status;
}

static void hold(struct door *door, char c, size_t missing)
{
	door->held[door->held_length++] = c;
	door->missing = missing;
}

/* 1: one of the colours, -1: may become one, 0: neither. */
static int colour_of(const struct door *door)
{
	static const char *const colours[] = {NOD_DOOR_COLOURS};

	for (size_t i = 0; door->colours && i < sizeof(colours) / sizeof(colours[0]); i++)
		if (!strncmp(colours[i], door->held, door->held_length))
			return colours[i][door->held_length] ? -1 : 1;
	return 0;
}

static int pass(struct door *door, char c);

/* Another byte of a colour, if it is one. Else the ESC becomes '?' and what came behind it is
 * looked at like anything else. */
static int pass_in_sequence(struct door *door, char c)
{
	char behind[sizeof(door->held)];

	hold(door, c, 0);
	int colour = colour_of(door);
	if (colour)
		return colour > 0 ? release(door, true) : 0;
	size_t count = door->held_length - 1;
	memcpy(behind, door->held + 1, count);
	int status = release(door, false);
	for (size_t i = 0; i < count && !status; i++)
		status = pass(door, behind[i]);
	return status;
}

/* A byte behind the first of a UTF-8 character. */
static int pass_in_character(struct door *door, unsigned char c)
{
	if ((c & 0xC0) != 0x80)
		return release(door, false) ? -1 : pass(door, (char)c);
	bool control = door->held_length == 1 && door->held[0] == '\xC2' && c < 0xA0;
	hold(door, (char)c, door->missing - 1);
	return door->missing ? 0 : release(door, !control);
}

static int pass(struct door *door, char given)
{
	unsigned char c = (unsigned char)given;

	if (door->missing)
		return pass_in_character(door, c);
	if (door->held_length)
		return pass_in_sequence(door, given);
	if (c == '\033' && door->colours)
		return hold(door, given, 0), 0;
	if (c >= 0xC2 && c < 0xF5)
		return hold(door, given, c < 0xE0 ? 1 : c < 0xF0 ? 2 : 3), 0;
	return put(door, (c >= 0x20 && c < 0x7F) || c == '\n' || c == '\t' ? given : '?');
}

/* What nearly everything is: printable ASCII and newlines. */
static size_t plain_length(const char *bytes, size_t size)
{
	size_t n = 0;

	while (n < size && (((unsigned char)bytes[n] >= 0x20 && (unsigned char)bytes[n] < 0x7F) ||
			    bytes[n] == '\n'))
		n++;
	return n;
}

static ssize_t let_out(void *cookie, const char *bytes, size_t size)
{
	struct door *door = cookie;
	int status = 0;

	for (size_t at = 0; at < size && !status;) {
		size_t plain = door->held_length ? 0 : plain_length(bytes + at, size - at);
		if (plain > BLOCK - door->length)
			plain = BLOCK - door->length;
		memcpy(door->block + door->length, bytes + at, plain);
		door->length += plain;
		at += plain;
		if (at < size)
			status = pass(door, bytes[at++]);
	}
	if (!status)
		status = write_all(door->fd, door->block, door->length);
	door->length = 0;
	return status ? 0 : (ssize_t)size;
}

static int open_one(struct door *door, FILE **stream, int fd, int buffering)
{
	FILE *guarded = fopencookie(door, "w", (cookie_io_functions_t){.write = let_out});

	if (!guarded)
		return -ENOMEM;
	*door = (struct door){.stream = stream, .before = *stream, .fd = fd};
	setvbuf(guarded, NULL, buffering, buffering == _IOFBF ? BLOCK : 0);
	*stream = guarded;
	return 0;
}

static void close_one(struct door *door)
{
	if (!door->before)
		return;
	FILE *guarded = *door->stream;
	*door->stream = door->before;
	door->before = NULL;
	fclose(guarded);
	if (door->held_length) /* cut off in the middle */
		write_all(door->fd, "?", 1);
}

int nod_door_open(void)
{
	fflush(stdout);
	if (open_one(&doors[0], &stdout, STDOUT_FILENO, isatty(STDOUT_FILENO) ? _IOLBF : _IOFBF))
		return -ENOMEM;
	if (!open_one(&doors[1], &stderr, STDERR_FILENO, _IOLBF))
		return 0;
	close_one(&doors[0]);
	return -ENOMEM;
}

void nod_door_close(void)
{
	close_one(&doors[0]);
	close_one(&doors[1]);
}

void nod_door_allow_colours(void)
{
	doors[0].colours = true;
}

void nod_door_vline(FILE *out, const char *format, va_list args)
{
	char text[4096];

	vsnprintf(text, sizeof(text), format, args);
	size_t end = strlen(format), length = strlen(text);

	nod_text_make_plain(text, '?');
	if (end && format[end - 1] == '\n' && length)
		text[length - 1] = '\n';
	fputs(text, out);
}

void nod_door_line(FILE *out, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	nod_door_vline(out, format, args);
	va_end(args);
}

void nod_door_control(FILE *out, const char *sequence)
{
	fflush(out);
	write_all(out == stderr ? STDERR_FILENO : STDOUT_FILENO, sequence, strlen(sequence));
}
