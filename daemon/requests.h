/* What clients can ask of nodoffd: see PROTOCOL.md. */
#ifndef NOD_REQUESTS_H
#define NOD_REQUESTS_H

#include "control.h"

/* The handler of the control socket; context is the struct nod_daemon. */
json_t *nod_request_answer(void *context, struct nod_control_client *client, const char *what,
			   const json_t *request, struct nod_error *err);

#endif
