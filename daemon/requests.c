#include "requests.h"

#include <errno.h>
#include <string.h>

#include "current-log.h"
#include "daemon.h"
#include "json-build.h"
#include "session-name.h"
#include "view.h"

/* A member that must be a string when it is there; NULL with err set. */
static const char *text_of(const json_t *request, const char *key, const char *absent,
			   struct nod_error *err)
{
	const json_t *value = json_object_get(request, key);

	if (!value || json_is_null(value))
		return absent;
	if (!json_is_string(value))
		nod_error_set(err, EINVAL, "\"%s\" must be a string", key);
	return json_string_value(value);
}

static json_t *view(struct nod_daemon *daemon, struct nod_control_client *client,
		    const json_t *request, struct nod_error *err)
{
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

static json_t *answer_text(struct nod_daemon *daemon, struct nod_control_client *client,
			   const json_t *request, struct nod_error *err)
{
	const char *form = text_of(request, "form", "text", err);

	(void)client;
	if (!form || (strcmp(form, "text") && strcmp(form, "json"))) {
		nod_error_set(err, EINVAL, "\"form\" must be \"text\" or \"json\"");
		return NULL;
	}
	return nod_view_answer(daemon, !strcmp(form, "json"), err);
}

static json_t *start(struct nod_daemon *daemon, struct nod_control_client *client,
		     const json_t *request, struct nod_error *err)
{
	const char *title = text_of(request, "title", "", err);

	(void)client;
	if (!title || nod_daemon_record(daemon, *title ? title : NULL, err))
		return NULL;
	json_t *answer = json_object();
	nod_json_put(&answer, "path", nod_json_text(daemon->live.directory));
	if (!answer)
		nod_error_set(err, ENOMEM, "it is recorded into %s, but memory ran out for the answer",
			      daemon->live.directory);
	return answer;
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
		nod_error_set(err, ENOMEM, "%s is recorded to its end, but memory ran out for the answer",
			      path);
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

/* Kinds that only the daemon itself writes. */
static bool is_own_kind(enum nod_mark_kind kind)
{
	return kind == NOD_MARK_GAP || kind == NOD_MARK_CLOCK_STEP || kind == NOD_MARK_STARTED ||
	       kind == NOD_MARK_STOPPED;
}

static json_t *mark(struct nod_daemon *daemon, struct nod_control_client *client,
		    const json_t *request, struct nod_error *err)
{
	const char *word = text_of(request, "kind", NULL, err);
	const char *subject = text_of(request, "subject", "", err);
	struct nod_control_ticket ticket;
	enum nod_mark_kind kind;

	if (!word || !subject || nod_mark_kind_parse(&kind, word) || is_own_kind(kind)) {
		if (!err->text[0])
			nod_error_set(err, EINVAL, "\"kind\" must be a kind of journal entry");
		return NULL;
	}
	if (!daemon->live.recorder) {
		nod_error_set(err, ENOENT, "no session is being recorded; start one first");
		return NULL;
	}
	ticket = nod_control_defer(client, request);
	if (nod_daemon_mark(daemon, kind, subject, &ticket, err))
		json_decref(ticket.id);
	return NULL;
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

static const struct {
	const char *what;
	json_t *(*answer)(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err);
} requests[] = {
	{"view", view}, {"watch", watch}, {"answer", answer_text}, {"start", start},
	{"stop", stop}, {"list", list},   {"mark", mark},	   {"current", current},
};

json_t *nod_request_answer(void *context, struct nod_control_client *client, const char *what,
			   const json_t *request, struct nod_error *err)
{
	for (size_t i = 0; i < sizeof(requests) / sizeof(requests[0]); i++)
		if (!strcmp(requests[i].what, what))
			return requests[i].answer(context, client, request, err);
	nod_error_set(err, EINVAL, "there is no request `%s`", what);
	return NULL;
}
