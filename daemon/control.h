/* SPDX-License-Identifier: MIT */
/* The control socket: requests and answers as lines of JSON over a Unix
 * socket. PROTOCOL.md says what can be asked.
 *
 * Several clients at once. What one of them does cannot hurt the recording:
 * a request is one line of bounded length, one request of a client is
 * answered per turn of the loop, answers wait in a bounded buffer, and a
 * client that sends rubbish or does not read is cut off. */
#ifndef NOD_CONTROL_H
#define NOD_CONTROL_H

#include <ev.h>
#include <jansson.h>

#include "error.h"

#define NOD_PROTOCOL 1 /* version; changes when an old client would misunderstand */

/* Chosen: "start" brings a map of the car; one of ten thousand messages has half a megabyte. */
#define NOD_CONTROL_REQUEST_MAX (1024 * 1024) /* bytes, with the newline; a power of two */
/* Chosen: several full answers; a client this far behind does not read. */
#define NOD_CONTROL_OUTPUT_MAX (1024 * 1024)                /* bytes for one client */
#define NOD_CONTROL_OUTPUT_ALL (4 * NOD_CONTROL_OUTPUT_MAX) /* bytes for all of them */
/* Chosen: far more screens than a car has people around it. */
#define NOD_CONTROL_CLIENTS_MAX 32

struct nod_control;
struct nod_control_client;

/* Answers a request (a JSON object whose "do" is a string). Returns a new
 * object with the reply's own members, to which "ok": true is added; or NULL
 * with err set, which becomes "ok": false with "error"; or NULL with an empty
 * err after nod_control_defer(), or else because memory ran out. */
typedef json_t *nod_control_handler(void *context, struct nod_control_client *client,
				    const char *what, const json_t *request, struct nod_error *err);

/* Opens the socket: mode 0600, or 0660 and owned by `group` when one is given.
 * A socket that nobody answers any more is replaced; anything else at that path is left
 * alone. NULL with errno and err set: EADDRINUSE when another daemon answers there, EEXIST
 * when there is something that is no socket. */
struct nod_control *nod_control_new(struct ev_loop *loop, const char *path, const char *group,
				    nod_control_handler *handler, void *context,
				    struct nod_error *err);

/* Ends all connections and removes the socket file. */
void nod_control_free(struct nod_control *control);

/* A promise to answer the request later. The client may go away meanwhile. */
struct nod_control_ticket {
	size_t slot;
	unsigned long serial;
	json_t *id; /* of the request, or NULL */
};

struct nod_control_ticket nod_control_defer(const struct nod_control_client *client,
					    const json_t *request);

/* Keeps the promise: `reply` (taken over) as a handler would return it, or
 * NULL for the error in err. */
void nod_control_answer(struct nod_control *control, struct nod_control_ticket *ticket,
			json_t *reply, const struct nod_error *err);

/* From now on the client receives what is published. */
void nod_control_subscribe(struct nod_control_client *client);

/* True when somebody has subscribed. */
int nod_control_has_subscribers(const struct nod_control *control);

/* Sends an object to all subscribers, with "event": event added. Takes over
 * the reference. */
void nod_control_publish(struct nod_control *control, const char *event, json_t *object);

#endif
