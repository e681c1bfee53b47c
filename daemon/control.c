/* SPDX-License-Identifier: MIT */
#include "control.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "control-socket.h"
#include "json-build.h"
#include "json-read.h"

/* Room for a request at first. Chosen: a note of a few hundred characters. */
#define REQUEST_ROOM 4096 /* bytes */

/* Instead of an answer that no client has room for. Its request is known by
 * the order. */
#define TOO_LARGE "{\"error\":\"the answer is too large\",\"ok\":false,\"protocol\":1}\n"

struct nod_control_client {
	struct nod_control *control; /* NULL: free slot */
	ev_io readable, writable;
	int fd;
	unsigned long serial; /* of the connection */
	unsigned long turn;   /* when it last sent a request, for choosing whom to drop */
	int subscribed;
	size_t in_length, in_room;
	char *in;  /* NULL when nothing came */
	char *out; /* NULL when nothing waits */
	size_t out_length, out_sent;
};

struct nod_control {
	struct ev_loop *loop;
	ev_io acceptable;
	int fd;
	char path[sizeof(((struct sockaddr_un *)0)->sun_path)];
	nod_control_handler *handler;
	void *context;
	unsigned long turns, connections;
	bool deferred;  /* the request that is being answered */
	size_t waiting; /* bytes of output, all clients */
	struct nod_control_client clients[NOD_CONTROL_CLIENTS_MAX];
};

static void cut_off(struct nod_control_client *client)
{
	struct ev_loop *loop = client->control->loop;

	ev_io_stop(loop, &client->readable);
	ev_io_stop(loop, &client->writable);
	close(client->fd);
	client->control->waiting -= client->out_length;
	free(client->out);
	free(client->in);
	memset(client, 0, sizeof(*client));
}

/* ---- output ---- */

/* Sends what waits. Returns a negative errno when the client is to be cut off. */
static int push_out(struct nod_control_client *client)
{
	while (client->out_sent < client->out_length) {
		ssize_t sent = send(client->fd, client->out + client->out_sent,
				    client->out_length - client->out_sent,
				    MSG_NOSIGNAL | MSG_DONTWAIT);
		if (sent < 0 && errno == EAGAIN) {
			ev_io_start(client->control->loop, &client->writable);
			return 0;
		}
		if (sent < 0)
			return -errno;
		client->out_sent += (size_t)sent;
	}
	client->control->waiting -= client->out_length;
	free(client->out);
	client->out = NULL;
	client->out_length = client->out_sent = 0;
	ev_io_stop(client->control->loop, &client->writable);
	return 0;
}

static int append_out(struct nod_control_client *client, const char *text, size_t length)
{
	size_t waiting = client->out_length - client->out_sent;
	char *out;

	if (waiting + length > NOD_CONTROL_OUTPUT_MAX ||
	    client->control->waiting + length > NOD_CONTROL_OUTPUT_ALL)
		return -ENOBUFS;
	if (client->out)
		memmove(client->out, client->out + client->out_sent, waiting);
	out = realloc(client->out, waiting + length);
	if (!out)
		return -ENOMEM;
	memcpy(out + waiting, text, length);
	client->control->waiting += waiting + length - client->out_length;
	client->out = out;
	client->out_length = waiting + length;
	client->out_sent = 0;
	return push_out(client);
}

/* Sends one line; cuts a client off that does not take it. */
static void send_line(struct nod_control_client *client, json_t *object)
{
	char *text;
	size_t length;

	if (!client->control)
		return; /* cut off meanwhile */
	if (json_object_set_new(object, "protocol", json_integer(NOD_PROTOCOL))) {
		cut_off(client);
		return;
	}
	text = nod_json_line(object, &length);
	bool fits = text && length <= NOD_CONTROL_OUTPUT_MAX;
	if (!text || (fits ? append_out(client, text, length)
			   : append_out(client, TOO_LARGE, strlen(TOO_LARGE))))
		cut_off(client);
	free(text);
}

/* ---- requests ---- */

static json_t *answer(struct nod_control_client *client, const json_t *request,
		      struct nod_error *err)
{
	struct nod_control *control = client->control;
	const json_t *protocol = json_object_get(request, "protocol");
	const char *what = json_string_value(json_object_get(request, "do"));

	if (protocol && json_integer_value(protocol) != NOD_PROTOCOL) {
		nod_error_set(err, EPROTO, "this daemon speaks protocol %d", NOD_PROTOCOL);
		return NULL;
	}
	if (!what) {
		nod_error_set(err, EINVAL, "a request is an object with a string \"do\"");
		return NULL;
	}
	return control->handler(control->context, client, what, request, err);
}

/* Completes a reply (NULL: the error) and sends it. Takes over `reply`. */
static void send_reply(struct nod_control_client *client, json_t *reply, json_t *id,
		       const struct nod_error *err)
{
	bool ok = reply != NULL;

	if (!reply)
		reply = json_object();
	nod_json_put(&reply, "ok", json_boolean(ok));
	if (!ok) /* a message that was cut to fit may end in half a character */
		nod_json_put(&reply, "error", nod_json_text(err->text));
	if (reply && id)
		nod_json_put(&reply, "id", json_incref(id));
	if (reply)
		send_line(client, reply);
	else
		cut_off(client);
	json_decref(reply);
}

/* Takes over the request; NULL: it was none, or memory ran out. */
static void take_request(struct nod_control_client *client, json_t *request, bool starved)
{
	struct nod_control *control = client->control; /* the client may be cut off meanwhile */
	struct nod_error err = {""};
	json_t *reply = NULL;

	client->turn = ++control->turns;
	control->deferred = false;
	if (json_is_object(request))
		reply = answer(client, request, &err);
	else if (!starved)
		nod_error_set(&err, EINVAL, "a request is one line with one JSON object");
	if (!reply && !err.text[0] && !control->deferred)
		nod_error_set(&err, ENOMEM, "out of memory");
	if (reply || err.text[0])
		send_reply(client, reply, json_object_get(request, "id"), &err);
	json_decref(request);
}

/* The end of the first complete line; NULL: there is none. */
static const char *first_end(const struct nod_control_client *client)
{
	return client->in_length ? memchr(client->in, '\n', client->in_length) : NULL;
}

/* Answers the first complete line. Returns whether there was one. */
static int take_first_line(struct nod_control_client *client)
{
	const char *newline = first_end(client);

	if (!newline)
		return 0;
	size_t length = (size_t)(newline - client->in);
	json_t *request = nod_json_read(client->in, length, JSON_REJECT_DUPLICATES);
	bool starved = !request && errno == ENOMEM;
	client->in_length -= length + 1;
	memmove(client->in, newline + 1, client->in_length);
	if (!client->in_length) { /* a long one does not keep its room */
		free(client->in);
		client->in = NULL;
		client->in_room = 0;
	}
	take_request(client, request, starved);
	return 1;
}

static bool make_room(struct nod_control_client *client)
{
	size_t room = client->in_room ? 2 * client->in_room : REQUEST_ROOM;
	char *in = room <= NOD_CONTROL_REQUEST_MAX ? realloc(client->in, room) : NULL;

	if (!in)
		return false;
	client->in = in;
	client->in_room = room;
	return true;
}

static void on_client_readable(struct ev_loop *loop, ev_io *io, int events)
{
	struct nod_control_client *client = io->data;
	ssize_t received;

	(void)events;
	if (!take_first_line(client)) {
		if (client->in_length == client->in_room && !make_room(client)) {
			cut_off(client); /* a line without an end */
			return;
		}
		received = recv(client->fd, client->in + client->in_length,
				client->in_room - client->in_length, MSG_DONTWAIT);
		if (received == 0 || (received < 0 && errno != EAGAIN && errno != EINTR)) {
			cut_off(client);
			return;
		}
		client->in_length += received > 0 ? (size_t)received : 0;
		if (!take_first_line(client))
			return;
	}
	/* More complete lines wait in memory, where no event announces them. */
	if (client->control && first_end(client))
		ev_feed_event(loop, &client->readable, EV_READ);
}

static void on_client_writable(struct ev_loop *loop, ev_io *io, int events)
{
	struct nod_control_client *client = io->data;

	(void)loop, (void)events;
	if (push_out(client))
		cut_off(client);
}

/* ---- connections ---- */

/* A free slot, made by dropping the client that has been silent longest and
 * listens to nothing when all are taken. */
static struct nod_control_client *find_slot(struct nod_control *control)
{
	struct nod_control_client *oldest = NULL;

	for (size_t i = 0; i < NOD_CONTROL_CLIENTS_MAX; i++) {
		struct nod_control_client *client = &control->clients[i];
		if (!client->control)
			return client;
		if (!client->subscribed && (!oldest || client->turn < oldest->turn))
			oldest = client;
	}
	if (oldest)
		cut_off(oldest);
	return oldest;
}

static void on_acceptable(struct ev_loop *loop, ev_io *io, int events)
{
	struct nod_control *control = io->data;
	int fd = accept4(control->fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
	struct nod_control_client *client = fd >= 0 ? find_slot(control) : NULL;

	(void)events;
	if (fd < 0)
		return;
	if (!client) {
		close(fd);
		return;
	}
	client->control = control;
	client->fd = fd;
	client->turn = ++control->turns;
	client->serial = ++control->connections;
	ev_io_init(&client->readable, on_client_readable, fd, EV_READ);
	ev_io_init(&client->writable, on_client_writable, fd, EV_WRITE);
	client->readable.data = client->writable.data = client;
	ev_io_start(loop, &client->readable);
}

struct nod_control *nod_control_new(struct ev_loop *loop, const char *path, const char *group,
				    nod_control_handler *handler, void *context,
				    struct nod_error *err)
{
	struct nod_control *control = calloc(1, sizeof(*control));
	int fd = control ? nod_control_socket_open(path, group, NOD_CONTROL_CLIENTS_MAX, err)
			 : nod_error_set(err, ENOMEM, "out of memory");

	if (fd < 0) {
		free(control);
		errno = -fd;
		return NULL;
	}
	control->loop = loop;
	control->fd = fd;
	control->handler = handler;
	control->context = context;
	strcpy(control->path, path);
	ev_io_init(&control->acceptable, on_acceptable, fd, EV_READ);
	control->acceptable.data = control;
	ev_io_start(loop, &control->acceptable);
	return control;
}

void nod_control_free(struct nod_control *control)
{
	if (!control)
		return;
	for (size_t i = 0; i < NOD_CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].control)
			cut_off(&control->clients[i]);
	ev_io_stop(control->loop, &control->acceptable);
	close(control->fd);
	unlink(control->path);
	free(control);
}

struct nod_control_ticket nod_control_defer(const struct nod_control_client *client,
					    const json_t *request)
{
	client->control->deferred = true;
	return (struct nod_control_ticket){
		.slot = (size_t)(client - client->control->clients),
		.serial = client->serial,
		.id = json_incref(json_object_get(request, "id")),
	};
}

void nod_control_answer(struct nod_control *control, struct nod_control_ticket *ticket,
			json_t *reply, const struct nod_error *err)
{
	struct nod_control_client *client = &control->clients[ticket->slot];

	if (client->control && client->serial == ticket->serial)
		send_reply(client, reply, ticket->id, err);
	else
		json_decref(reply);
	json_decref(ticket->id);
	ticket->id = NULL;
}

void nod_control_subscribe(struct nod_control_client *client)
{
	client->subscribed = 1;
}

int nod_control_has_subscribers(const struct nod_control *control)
{
	for (size_t i = 0; i < NOD_CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].control && control->clients[i].subscribed)
			return 1;
	return 0;
}

void nod_control_publish(struct nod_control *control, const char *event, json_t *object)
{
	if (object)
		nod_json_put(&object, "event", nod_json_text(event));
	for (size_t i = 0; object && i < NOD_CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].control && control->clients[i].subscribed)
			send_line(&control->clients[i], object);
	json_decref(object);
}
