/* SPDX-License-Identifier: MIT */
#include "client.h"

#include <errno.h>
#include <limits.h>
#include <poll.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include "json-build.h"
#include "json-read.h"
#include "own-path.h"
#include "settings.h"

#define ANSWER_WITHIN 40000 /* ms; chosen: three searches for a bitrate, which `start` waits for */
#define LINE_MAX_LENGTH \
	(4 * 1024 * 1024) /* bytes of one answer; chosen: a megabyte is the daemon's limit */
#define EVENTS_KEPT 16    /* older ones are dropped: each tells the whole state */

struct nod_client {
	int fd;
	long long last_id;
	char *buffer;
	size_t length, room;
	json_t *events;
};

static const char *what_helps(int code)
{
	if (code == EACCES)
		return "; members of the group nodoff may use it: `sudo adduser $USER nodoff`, then log "
		       "in again";
	return code == ENOENT || code == ECONNREFUSED
		       ? "; does its service run? `systemctl status nodoffd`; without it, start "
			 "`nodoffd` yourself"
		       : "";
}

static int connect_to(const char *path, struct nod_error *err)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd, code;

	if (strlen(path) >= sizeof(address.sun_path))
		return nod_error_set(err, ENAMETOOLONG, "the path of the socket is too long: %s",
				     path);
	strcpy(address.sun_path, path);
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (fd >= 0 && !connect(fd, (struct sockaddr *)&address, sizeof(address)))
		return fd;
	code = errno;
	if (fd >= 0)
		close(fd);
	return nod_error_set(err, code, "nodoffd does not answer at %s: %s%s", path, strerror(code),
			     what_helps(code));
}

/* The one that was named, else the person's own nodoffd where it runs, else the service. */
static int connect_to_any(const char *path, struct nod_error *err)
{
	char own[PATH_MAX];
	const char *named = getenv("NODOFF_SOCKET");

	if (!path)
		path = named ? named : nod_setting(NOD_SETTING_SOCKET);
	if (path)
		return connect_to(path, err);
	int fd = nod_own_path(own, NOD_OWN_RUNTIME, "nodoff.sock") ? -ENOENT : connect_to(own, err);
	return fd >= 0 ? fd : connect_to(NOD_SERVICE_SOCKET, err);
}

struct nod_client *nod_client_open(const char *path, struct nod_error *err)
{
	struct nod_client *client = calloc(1, sizeof(*client));

	if (!client) {
		nod_error_set(err, ENOMEM, "out of memory");
		return NULL;
	}
	client->fd = connect_to_any(path, err);
	client->events = json_array();
	if (client->fd < 0 || !client->events) {
		int code = client->fd < 0 ? -client->fd
					  : -nod_error_set(err, ENOMEM, "out of memory");
		nod_client_close(client);
		errno = code;
		return NULL;
	}
	return client;
}

void nod_client_close(struct nod_client *client)
{
	if (!client)
		return;
	if (client->fd >= 0)
		close(client->fd);
	json_decref(client->events);
	free(client->buffer);
	free(client);
}

int nod_client_descriptor(const struct nod_client *client)
{
	return client->fd;
}

static int broken(struct nod_error *err, int code)
{
	return nod_error_set(err, code, "the connection to nodoffd broke: %s",
			     code == EPIPE ? "it has ended" : strerror(code));
}

static int out_of_memory(struct nod_error *err)
{
	return nod_error_set(err, ENOMEM, "out of memory");
}

/* Reads what is there. Returns 0 or a negative errno. */
static int read_more(struct nod_client *client, struct nod_error *err)
{
	ssize_t received;

	if (client->room - client->length < 4096) {
		size_t room = client->room ? client->room * 2 : 8192;
		if (room > LINE_MAX_LENGTH)
			return nod_error_set(err, EMSGSIZE, "nodoffd says more than fits a line");
		char *buffer = realloc(client->buffer, room);
		if (!buffer)
			return out_of_memory(err);
		client->buffer = buffer;
		client->room = room;
	}
	received = recv(client->fd, client->buffer + client->length, client->room - client->length,
			0);
	if (received < 0 && errno == EINTR)
		return 0;
	if (received <= 0)
		return broken(err, received ? errno : EPIPE);
	client->length += (size_t)received;
	return 0;
}

/* Takes the first whole line that is JSON out of the buffer. 1, 0: there is none, or
 * negative: nothing was taken. */
static int take_line(struct nod_client *client, json_t **line, struct nod_error *err)
{
	char *newline;

	*line = NULL;
	while (!*line &&
	       (newline = client->length ? memchr(client->buffer, '\n', client->length) : NULL)) {
		size_t length = (size_t)(newline - client->buffer);
		*line = nod_json_read(client->buffer, length, 0);
		if (!*line && errno == ENOMEM)
			return out_of_memory(err);
		client->length -= length + 1;
		memmove(client->buffer, newline + 1, client->length);
	}
	return *line != NULL;
}

static int keep_event(struct nod_client *client, json_t *event, struct nod_error *err)
{
	if (json_array_size(client->events) >= EVENTS_KEPT)
		json_array_remove(client->events, 0);
	return json_array_append_new(client->events, event) ? out_of_memory(err) : 0;
}

static long long milliseconds_now(void)
{
	struct timespec ts;

	clock_gettime(CLOCK_MONOTONIC, &ts);
	return ts.tv_sec * 1000LL + ts.tv_nsec / 1000000;
}

/* Waits for a line until `end` (-1: for ever). 1, 0: time is over, or negative. */
static int wait_line(struct nod_client *client, long long end, json_t **line, struct nod_error *err)
{
	int status;

	while (!(status = take_line(client, line, err))) {
		long long left = end < 0 ? -1 : end - milliseconds_now();
		struct pollfd waiting = {client->fd, POLLIN, 0};

		status = poll(&waiting, 1, end < 0 ? -1 : left > 0 ? (int)left : 0);
		if (status < 0 && errno == EINTR) /* a window that changes its size, say */
			continue;
		if (status < 0)
			return broken(err, errno);
		if (status == 0)
			return 0;
		status = read_more(client, err);
		if (status)
			return status;
	}
	return status;
}

static int send_request(struct nod_client *client, const char *what, json_t *request,
			struct nod_error *err)
{
	size_t length, sent = 0;

	if (!request)
		return nod_error_set(err, EINVAL,
				     "what was given is not text (UTF-8), or memory "
				     "ran out");
	nod_json_put(&request, "do", nod_json_text(what));
	nod_json_put(&request, "protocol", json_integer(1));
	nod_json_put(&request, "id", json_integer(++client->last_id));
	char *text = request ? nod_json_line(request, &length) : NULL;
	json_decref(request);
	if (!text)
		return out_of_memory(err);
	while (sent < length) {
		ssize_t count = send(client->fd, text + sent, length - sent, MSG_NOSIGNAL);
		if (count < 0 && errno == EINTR)
			continue;
		if (count < 0) {
			free(text);
			return broken(err, errno);
		}
		sent += (size_t)count;
	}
	free(text);
	return 0;
}

static json_t *check_answer(json_t *answer, struct nod_error *err)
{
	if (json_is_true(json_object_get(answer, "ok")))
		return answer;
	const char *why = nod_client_text(answer, "error");
	nod_error_set(err, EPROTO, "%s", *why ? why : "nodoffd refused and did not say why");
	json_decref(answer);
	errno = EPROTO;
	return NULL;
}

json_t *nod_client_request(struct nod_client *client, const char *what, json_t *request,
			   struct nod_error *err)
{
	long long end = milliseconds_now() + ANSWER_WITHIN;
	json_t *line;
	int status = send_request(client, what, request, err);

	while (!status && (status = wait_line(client, end, &line, err)) > 0) {
		status = 0;
		if (json_object_get(line, "event")) {
			status = keep_event(client, line, err);
		} else if (nod_client_integer(line, "id") == client->last_id ||
			   !json_object_get(line, "id")) {
			return check_answer(line, err);
		} else {
			json_decref(line); /* the answer to a request given up before */
		}
		if (milliseconds_now() >= end)
			break;
	}
	if (!status)
		status = nod_error_set(err, ETIMEDOUT, "nodoffd does not answer in time");
	errno = -status;
	return NULL;
}

int nod_client_event(struct nod_client *client, int milliseconds, json_t **event,
		     struct nod_error *err)
{
	long long end = milliseconds < 0 ? -1 : milliseconds_now() + milliseconds;
	int status;

	if (json_array_size(client->events)) {
		*event = json_incref(json_array_get(client->events, 0));
		json_array_remove(client->events, 0);
		return 1;
	}
	while ((status = wait_line(client, end, event, err)) > 0) {
		if (json_object_get(*event, "event"))
			return 1;
		json_decref(*event);
	}
	return status;
}

const char *nod_client_text(const json_t *object, const char *key)
{
	const char *text = json_string_value(json_object_get(object, key));

	return text ? text : "";
}

long long nod_client_integer(const json_t *object, const char *key)
{
	const json_t *value = json_object_get(object, key);

	return json_is_integer(value) ? json_integer_value(value) : INT64_MIN;
}

double nod_client_real(const json_t *object, const char *key)
{
	const json_t *value = json_object_get(object, key);

	return json_is_number(value) ? json_number_value(value) : -1;
}

int nod_client_true(const json_t *object, const char *key)
{
	return json_is_true(json_object_get(object, key));
}
