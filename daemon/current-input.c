/* SPDX-License-Identifier: MIT */
#include "current-input.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <termios.h>
#include <unistd.h>

#include "current-log.h"
#include "quantity.h"
#include "sysfs-channel.h"

/* Chosen: a line of a logger is shorter; a longer one is no reading. */
#define LINE_MAX_LENGTH 256
#define REOPEN 1.0       /* s; chosen */
#define SYSFS_PERIOD 0.1 /* s; chosen: ten samples a second show every step of a sleeping car */

struct nod_current_input {
	struct ev_loop *loop;
	nod_current_function *function;
	void *context;
	char *source;
	int fd;       /* -1: not open */
	bool regular; /* an ordinary file: epoll cannot wait for it */
	ev_io readable;
	ev_timer timer;                    /* opens again; reads sysfs and ordinary files */
	struct nod_sysfs_channel *channel; /* NULL: a source of lines */
	size_t length;
	char line[LINE_MAX_LENGTH];
	unsigned long rejected;
};

/* ---- opening ---- */

static int open_unix(const char *path)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd;

	if (strlen(path) >= sizeof(address.sun_path))
		return -ENAMETOOLONG;
	strcpy(address.sun_path, path);
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (fd >= 0 && connect(fd, (struct sockaddr *)&address, sizeof(address))) {
		int code = errno;
		close(fd);
		return -code;
	}
	return fd < 0 ? -errno : fd;
}

static int connect_to(const struct addrinfo *address)
{
	int fd = socket(address->ai_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	if (fd >= 0 && connect(fd, address->ai_addr, address->ai_addrlen) && errno != EINPROGRESS) {
		int code = errno;
		close(fd);
		return -code;
	}
	return fd < 0 ? -errno : fd;
}

/* "HOST:PORT"; the host is a numeric address, because looking up a name would
 * hold up everything else. */
static int open_tcp(const char *place)
{
	struct addrinfo hints = {.ai_socktype = SOCK_STREAM,
				 .ai_flags = AI_NUMERICHOST | AI_NUMERICSERV};
	struct addrinfo *found;
	const char *colon = strrchr(place, ':');
	char host[64];
	int fd;

	if (!colon || (size_t)(colon - place) >= sizeof(host))
		return -EINVAL;
	snprintf(host, sizeof(host), "%.*s", (int)(colon - place), place);
	if (getaddrinfo(host, colon + 1, &hints, &found))
		return -EINVAL;
	fd = connect_to(found);
	freeaddrinfo(found);
	return fd;
}

static const struct {
	unsigned long rate;
	speed_t speed;
} speeds[] = {{1200, B1200},   {2400, B2400},   {4800, B4800},   {9600, B9600},
	      {19200, B19200}, {38400, B38400}, {57600, B57600}, {115200, B115200}};

static int set_serial(int fd, const char *rate)
{
	struct termios settings;

	if (tcgetattr(fd, &settings))
		return -errno;
	cfmakeraw(&settings);
	settings.c_cflag |= CLOCAL | CREAD;
	for (size_t i = 0; i < sizeof(speeds) / sizeof(speeds[0]); i++)
		if (speeds[i].rate == strtoul(rate, NULL, 10))
			return cfsetspeed(&settings, speeds[i].speed) ||
					       tcsetattr(fd, TCSANOW, &settings)
				       ? -errno
				       : 0;
	return -EINVAL;
}

static int open_path(const char *path)
{
	char name[4096];
	const char *at = strrchr(path, '@');
	int fd, status = 0;

	if (!strcmp(path, "-"))
		return STDIN_FILENO;
	snprintf(name, sizeof(name), "%.*s", at ? (int)(at - path) : (int)strlen(path), path);
	fd = open(name, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (fd < 0)
		return -errno;
	if (at)
		status = set_serial(fd, at + 1);
	if (status)
		close(fd);
	return status ? status : fd;
}

static int open_source(const char *source)
{
	if (!strncmp(source, "tcp:", 4))
		return open_tcp(source + 4);
	if (!strncmp(source, "unix:", 5))
		return open_unix(source + 5);
	return open_path(source);
}

enum nod_lockdown_sockets nod_current_input_sockets(const char *source)
{
	if (source && !strncmp(source, "tcp:", 4))
		return NOD_LOCKDOWN_TCP_SOCKETS;
	if (source && !strncmp(source, "unix:", 5))
		return NOD_LOCKDOWN_UNIX_SOCKETS;
	return NOD_LOCKDOWN_NO_SOCKETS;
}

/* ---- lines ---- */

static void take_line(struct nod_current_input *input)
{
	struct nod_quantity q;
	int status = nod_quantity_parse(&q, input->line, input->length, NOD_DECIMAL_ANY, NULL);

	if (!input->length)
		return;
	if (status || (q.unit != NOD_UNIT_AMPERE && q.unit != NOD_UNIT_NONE) ||
	    q.micro > NOD_CURRENT_MOST || q.micro < -NOD_CURRENT_MOST)
		input->rejected++;
	else
		input->function(input->context, q.micro);
}

static void take_bytes(struct nod_current_input *input, const char *bytes, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		if (bytes[i] == '\n' || bytes[i] == '\r') {
			if (input->length <= LINE_MAX_LENGTH)
				take_line(input);
			input->length = 0;
		} else if (input->length < LINE_MAX_LENGTH) {
			input->line[input->length++] = bytes[i];
		} else {
			input->length = LINE_MAX_LENGTH + 1; /* too long: left out */
		}
	}
}

/* ---- the loop ---- */

static void close_source(struct nod_current_input *input)
{
	ev_io_stop(input->loop, &input->readable);
	if (input->fd > STDIN_FILENO)
		close(input->fd);
	input->fd = -1;
	input->length = 0;
}

static void read_some(struct nod_current_input *input)
{
	char bytes[1024];
	ssize_t count = read(input->fd, bytes, sizeof(bytes));

	if (count > 0)
		take_bytes(input, bytes, (size_t)count);
	else if (input->regular)
		return; /* a file that still grows */
	else if (count == 0 || (errno != EAGAIN && errno != EINTR))
		close_source(input);
}

static void on_readable(struct ev_loop *loop, ev_io *io, int events)
{
	(void)loop, (void)events;
	read_some(io->data);
}

static int start_source(struct nod_current_input *input)
{
	input->fd = open_source(input->source);
	if (input->fd < 0)
		return input->fd;
	input->regular = lseek(input->fd, 0, SEEK_END) >= 0;
	ev_io_init(&input->readable, on_readable, input->fd, EV_READ);
	input->readable.data = input;
	if (!input->regular)
		ev_io_start(input->loop, &input->readable);
	return 0;
}

static void on_timer(struct ev_loop *loop, ev_timer *timer, int events)
{
	struct nod_current_input *input = timer->data;
	int64_t microamps;

	(void)loop, (void)events;
	if (input->channel) {
		if (!nod_sysfs_channel_read(input->channel, &microamps))
			input->function(input->context, microamps);
	} else if (input->fd < 0 && strcmp(input->source, "-")) {
		start_source(input);
	} else if (input->regular) {
		read_some(input);
	}
}

struct nod_current_input *nod_current_input_new(struct ev_loop *loop, const char *source,
						nod_current_function *function, void *context,
						struct nod_error *err)
{
	struct nod_current_input *input = calloc(1, sizeof(*input));
	bool sysfs = !strncmp(source, "/sys/", 5);
	int status = -ENOMEM;

	if (input)
		input->source = strdup(source);
	if (input && input->source) {
		input->loop = loop;
		input->fd = -1;
		input->function = function;
		input->context = context;
		input->channel = sysfs ? nod_sysfs_channel_new(source) : NULL;
		status = !sysfs ? start_source(input) : input->channel ? 0 : -errno;
	}
	if (status) {
		nod_error_set(err, -status, "cannot read the current from %s: %s", source,
			      strerror(-status));
		free(input ? input->source : NULL);
		free(input);
		errno = -status;
		return NULL;
	}
	ev_timer_init(&input->timer, on_timer, sysfs ? SYSFS_PERIOD : REOPEN,
		      sysfs ? SYSFS_PERIOD : REOPEN);
	input->timer.data = input;
	ev_timer_start(loop, &input->timer);
	return input;
}

void nod_current_input_free(struct nod_current_input *input)
{
	if (!input)
		return;
	ev_timer_stop(input->loop, &input->timer);
	close_source(input);
	nod_sysfs_channel_free(input->channel);
	free(input->source);
	free(input);
}
