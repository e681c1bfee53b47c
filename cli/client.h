/* SPDX-License-Identifier: MIT */
/* Talks to nodoffd over its control socket (daemon/PROTOCOL.md). */
#ifndef NOD_CLIENT_H
#define NOD_CLIENT_H

#include <jansson.h>

#include "error.h"

struct nod_client;

/* What every command that uses it says about --socket in its help. */
#define NOD_CLIENT_HELP                                                               \
	"  --socket PATH      where nodoffd listens [$NODOFF_SOCKET, else your own\n" \
	"                     nodoffd, else /run/nodoff/nodoff.sock]\n"

/* Connects. path NULL: $NODOFF_SOCKET, else the setting, else
 * $XDG_RUNTIME_DIR/nodoff/nodoff.sock where one answers, else the service's. NULL with errno and
 * err set when nobody answers there. */
struct nod_client *nod_client_open(const char *path, struct nod_error *err);
void nod_client_close(struct nod_client *client);

/* Sends a request (taken over; its "do" set to `what`; NULL: it could not be made) and
 * waits up to ten seconds for its answer; events that come before it are kept
 * for nod_client_event(). Returns the answer, or NULL with err set when the
 * daemon refused (errno EPROTO) or the connection broke. */
json_t *nod_client_request(struct nod_client *client, const char *what, json_t *request,
			   struct nod_error *err);

/* The next event, waiting up to `milliseconds` (-1: for ever). Returns 1 with
 * *event for the caller to release, 0 when none came, or a negative errno with
 * err set when the connection broke. */
int nod_client_event(struct nod_client *client, int milliseconds, json_t **event,
		     struct nod_error *err);

/* For poll(): readable when an event may have come. */
int nod_client_descriptor(const struct nod_client *client);

/* A member of an object, with a value for when it is not there or of another
 * type. Strings live as long as the object. */
const char *nod_client_text(const json_t *object, const char *key);  /* "" */
long long nod_client_integer(const json_t *object, const char *key); /* INT64_MIN */
double nod_client_real(const json_t *object, const char *key);       /* -1 */
int nod_client_true(const json_t *object, const char *key);          /* 0 */

#endif
