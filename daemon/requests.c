/* SPDX-License-Identifier: MIT */
#include "requests.h"

#include <errno.h>
#include <string.h>

#include "current-log.h"
#include "daemon.h"
#include "json-build.h"
#include "session-name.h"
#include "view.h"

static json_t *view(struct nod_daemon *daemon, struct nod_control_client *client,
		    const json_t *request, struct nod_error *err)
{
	if (daemon->links) /* the controllers' states and counters of now */
		nod_netlink_watch_list(daemon->links);
	json_t *object = nod_view_make(daemon);

	(void)client, (void)request;
	if (!object)
		nod_error_set(err, ENOMEM, "out of memory");
	return object;
}

static json_t *watch(struct nod_daemon *daemon, struct nod_control_client *client,
		     const json_t *request, struct nod_error *err)
{
	json_t *object = view(daemon, client, request, err);

	if (object)
		nod_control_subscribe(client);
	return object;
}

static json_t *map(struct nod_daemon *daemon, struct nod_control_client *client,
		   const json_t *request, struct nod_error *err)
{
	json_t *object = nod_view_map(daemon->live.vehicle);

	(void)client, (void)request;
	if (!object)
		nod_error_set(err, ENOMEM, "out of memory");
	return object;
}

static json_t *answer_text(struct nod_daemon *daemon, struct nod_control_client *client,
			   const json_t *request, struct nod_error *err)
{
	const char *form = nod_request_text(request, "form", "text", err);

	(void)client;
	if (!form || (strcmp(form, "text") && strcmp(form, "json"))) {
		nod_error_set(err, EINVAL, "\"form\" must be \"text\" or \"json\"");
		return NULL;
	}
	return nod_view_answer(daemon, !strcmp(form, "json"), err);
}

static json_t *stop(struct nod_daemon *daemon, struct nod_control_client *client,
		    const json_t *request, struct nod_error *err)
{
	char path[sizeof(daemon->live.directory)];
	json_t *answer = NULL;

	(void)client, (void)request;
	strcpy(path, daemon->live.directory);
	if (nod_daemon_end_record(daemon, &answer, err))
		return NULL;
	if (answer)
		nod_json_put(&answer, "path", nod_json_text(path));
	if (!answer)
		nod_error_set(err, ENOMEM,
			      "%s is recorded to its end, but memory ran out for the answer", path);
	return answer;
}

static json_t *list(struct nod_daemon *daemon, struct nod_control_client *client,
		    const json_t *request, struct nod_error *err)
{
	json_t *sessions = nod_session_list(daemon->options->sessions, err);

	(void)client, (void)request;
	if (!sessions)
		return NULL;
	json_t *answer = json_object();
	nod_json_put(&answer, "sessions", sessions);
	nod_json_put(&answer, "directory", nod_json_text(daemon->options->sessions));
	nod_json_put(&answer, "recording", nod_json_text(daemon->live.directory));
	return answer;
}

static json_t *current(struct nod_daemon *daemon, struct nod_control_client *client,
		       const json_t *request, struct nod_error *err)
{
	const json_t *value = json_object_get(request, "microamps");

	(void)client;
	if (!json_is_integer(value)) {
		nod_error_set(err, EINVAL, "\"microamps\" must be an integer");
		return NULL;
	}
	int64_t microamps = json_integer_value(value);
	if (microamps > NOD_CURRENT_MOST || microamps < -NOD_CURRENT_MOST) {
		nod_error_set(err, ERANGE, "\"microamps\" is beyond a million amperes");
		return NULL;
	}
	if (nod_daemon_push_current(daemon, microamps)) {
		nod_error_set(err, ENOMEM, "the reading is lost: out of memory");
		return NULL;
	}
	return json_object();
}

/* clang-format off */
static const struct {
	const char *what;
	json_t *(*answer)(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err);
} requests[] = {
	{"view", view}, {"watch", watch}, {"answer", answer_text}, {"start", nod_request_start},
	{"stop", stop}, {"list", list},   {"mark", nod_request_mark},
	{"undo", nod_request_undo}, {"amend", nod_request_amend}, {"current", current},
	{"map", map},
};
/* clang-format on */

json_t *nod_request_answer(void *context, struct nod_control_client *client, const char *what,
			   const json_t *request, struct nod_error *err)
{
	for (size_t i = 0; i < sizeof(requests) / sizeof(requests[0]); i++)
		if (!strcmp(requests[i].what, what))
			return requests[i].answer(context, client, request, err);
	nod_error_set(err, EINVAL, "there is no request `%s`", what);
	return NULL;
}
