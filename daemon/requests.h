/* SPDX-License-Identifier: MIT */
/* What clients can ask of nodoffd: see PROTOCOL.md. */
#ifndef NOD_REQUESTS_H
#define NOD_REQUESTS_H

#include "control.h"

/* The handler of the control socket; context is the struct nod_daemon. */
json_t *nod_request_answer(void *context, struct nod_control_client *client, const char *what,
			   const json_t *request, struct nod_error *err);

struct nod_daemon;

/* requests-marks.c: a member that must be a string when it is there (NULL with err set
 * when it is not), and the requests that concern the journal. */
const char *nod_request_text(const json_t *request, const char *key, const char *absent,
			     struct nod_error *err);
json_t *nod_request_start(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err);
json_t *nod_request_mark(struct nod_daemon *daemon, struct nod_control_client *client,
			 const json_t *request, struct nod_error *err);
json_t *nod_request_undo(struct nod_daemon *daemon, struct nod_control_client *client,
			 const json_t *request, struct nod_error *err);
json_t *nod_request_amend(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err);

#endif
