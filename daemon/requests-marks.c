/* SPDX-License-Identifier: MIT */
/* The requests that make, change and take back marks. */
#include <errno.h>
#include <string.h>

#include "daemon.h"
#include "json-build.h"
#include "requests.h"

const char *nod_request_text(const json_t *request, const char *key, const char *absent,
			     struct nod_error *err)
{
	const json_t *value = json_object_get(request, key);

	if (!value || json_is_null(value))
		return absent;
	if (!json_is_string(value))
		nod_error_set(err, EINVAL, "\"%s\" must be a string", key);
	return json_string_value(value);
}

/* Fills in what the request says: what it leaves out stays as it is. The subject is cleaned
 * here, in `text`, so that what is analysed is what will be read again. */
static int read_mark(struct nod_mark *mark, char text[NOD_MARK_LINE_MAX], const json_t *request,
		     struct nod_error *err)
{
	const json_t *time = json_object_get(request, "time_ns");
	const char *word = nod_request_text(request, "kind", NULL, err);
	const char *subject = nod_request_text(request, "subject", NULL, err);

	if (subject && nod_mark_clean(text, subject))
		nod_error_set(err, EINVAL, "the mark is longer than a line");
	else if (subject)
		mark->subject = text;
	if (word && (nod_mark_kind_parse(&mark->kind, word) || !nod_mark_is_persons(mark->kind)))
		nod_error_set(err, EINVAL, "\"kind\" must be a kind of mark");
	if (json_is_integer(time))
		mark->time.ns = json_integer_value(time);
	else if (time && !json_is_null(time))
		nod_error_set(err, EINVAL, "\"time_ns\" must be an integer");
	return err->text[0] ? -EINVAL : 0;
}

static json_t *mark_json(const struct nod_mark *mark)
{
	return json_pack("{s:I, s:s, s:s}", "time_ns", (json_int_t)mark->time.ns, "kind",
			 nod_mark_kind_name(mark->kind), "subject", mark->subject);
}

static json_t *mark_of_the_past(struct nod_daemon *daemon, struct nod_mark *mark,
				struct nod_error *err)
{
	if (nod_daemon_mark_at(daemon, mark, err))
		return NULL;
	json_t *answer = json_pack("{s:I}", "time_ns", (json_int_t)mark->time.ns);
	if (!answer)
		nod_error_set(err, ENOMEM,
			      "the mark is on the disk, but memory ran out for the answer");
	return answer;
}

json_t *nod_request_mark(struct nod_daemon *daemon, struct nod_control_client *client,
			 const json_t *request, struct nod_error *err)
{
	struct nod_mark mark = {NOD_TIME_NONE, NOD_MARK_KINDS, ""};
	struct nod_control_ticket ticket;
	char text[NOD_MARK_LINE_MAX];

	if (read_mark(&mark, text, request, err))
		return NULL;
	if (mark.kind == NOD_MARK_KINDS) {
		nod_error_set(err, EINVAL, "\"kind\" must be a kind of mark");
		return NULL;
	}
	if (nod_mark_check(&mark, err))
		return NULL;
	if (!daemon->live.recorder) {
		nod_error_set(err, ENOENT, "no session is being recorded; start one first");
		return NULL;
	}
	if (nod_time_is_set(mark.time))
		return mark_of_the_past(daemon, &mark, err);
	ticket = nod_control_defer(client, request);
	if (nod_daemon_mark(daemon, mark.kind, mark.subject, &ticket, err))
		json_decref(ticket.id);
	return NULL;
}

/* Takes back, and puts `instead` in its place unless that is NULL. */
static json_t *undo(struct nod_daemon *daemon, const json_t *request, struct nod_mark *instead,
		    struct nod_error *err)
{
	const json_t *named = json_object_get(request, "entry");
	struct nod_mark mark = {NOD_TIME_NONE, NOD_MARK_KINDS, ""}, undone;
	json_t *texts = json_array(), *answer = NULL;
	char text[NOD_MARK_LINE_MAX];

	if (json_is_object(named) && read_mark(&mark, text, named, err)) {
		json_decref(texts);
		return NULL;
	}
	if (!texts)
		nod_error_set(err, ENOMEM, "out of memory");
	else if (!nod_daemon_undo(daemon, json_is_object(named) ? &mark : NULL, instead, &undone,
				  texts, err)) {
		answer = json_object();
		nod_json_put(&answer, "undone", mark_json(&undone));
		if (instead)
			nod_json_put(&answer, "entry", mark_json(instead));
		if (!answer)
			nod_error_set(err, ENOMEM,
				      "it is taken back, but memory ran out for the answer");
	}
	json_decref(texts);
	return answer;
}

json_t *nod_request_undo(struct nod_daemon *daemon, struct nod_control_client *client,
			 const json_t *request, struct nod_error *err)
{
	(void)client;
	return undo(daemon, request, NULL, err);
}

json_t *nod_request_amend(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err)
{
	struct nod_mark instead = {NOD_TIME_NONE, NOD_MARK_KINDS, NULL};
	char text[NOD_MARK_LINE_MAX];

	(void)client;
	if (read_mark(&instead, text, request, err))
		return NULL;
	return undo(daemon, request, &instead, err);
}
