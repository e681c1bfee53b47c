/* SPDX-License-Identifier: MIT */
#include "session-show-json.h"

#include <string.h>

#include "json-build.h"
#include "search.h"

static json_t *count(uint64_t n)
{
	return json_integer((json_int_t)n);
}

static json_t *text_or_null(const char *text)
{
	return text ? nod_json_text(text) : json_null();
}

json_t *nod_session_show_mark(const struct nod_mark *mark)
{
	json_t *o = json_object();

	nod_json_put(&o, "time", nod_json_time(mark->time));
	nod_json_put(&o, "kind", nod_json_text(nod_mark_kind_name(mark->kind)));
	nod_json_put(&o, "subject", nod_json_text(mark->subject));
	return o;
}

static json_t *files(const struct nod_session *session)
{
	json_t *array = json_array();

	for (size_t i = 0; i < nod_session_file_count(session); i++) {
		const struct nod_session_file *file = nod_session_file(session, i);
		const char *slash = strrchr(file->path, '/');
		json_t *o = json_object();
		nod_json_put(&o, "name", nod_json_text(slash ? slash + 1 : file->path));
		nod_json_put(&o, "form", nod_json_text(file->form));
		nod_json_put(&o, "entries", count(file->counts.frames));
		nod_json_put(&o, "defects", count(file->counts.defects));
		nod_json_put(&o, "back_steps", count(file->counts.back_steps));
		nod_json_put(&o, "cut_off", json_boolean(file->counts.torn));
		nod_json_put(&o, "fault", text_or_null(file->fault));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *interface(const char *name, const struct nod_survey_interface *n)
{
	json_t *o = json_object();

	nod_json_put(&o, "name", nod_json_text(name));
	nod_json_put(&o, "frames", count(n->frames));
	nod_json_put(&o, "first", nod_json_time(n->first));
	nod_json_put(&o, "last", nod_json_time(n->last));
	nod_json_put(&o, "errors", count(n->errors));
	nod_json_put(&o, "lost", count(n->lost));
	nod_json_put(&o, "losses", count(n->losses));
	nod_json_put(&o, "gaps", count(n->gaps));
	nod_json_put(&o, "not_listened", nod_json_length(n->gap_length));
	return o;
}

static json_t *about(const struct nod_session *session)
{
	json_t *o = json_object();
	const char *key, *value;

	for (size_t i = 0; nod_session_note(session, i, &key, &value); i++)
		nod_json_put(&o, key, nod_json_text(value));
	return o;
}

json_t *nod_session_show_json(struct nod_session *session, const struct nod_survey *survey,
			      json_t *journal)
{
	const struct nod_interfaces *names = nod_session_interfaces(session);
	json_t *o = json_object(), *interfaces = json_array();

	for (unsigned i = 0; i < names->count; i++)
		nod_json_append(&interfaces, interface(names->names[i], &survey->interfaces[i]));
	nod_json_put(&o, "path", nod_json_text(nod_session_path(session)));
	nod_json_put(&o, "about", about(session));
	nod_json_put(&o, "vehicle", json_boolean(nod_session_vehicle(session) != NULL));
	nod_json_put(&o, "lock", nod_json_time(survey->lock.time));
	nod_json_put(&o, "lock_source", nod_json_text(nod_session_lock_text(survey->lock.source)));
	nod_json_put(&o, "start", nod_json_time(survey->lock.start));
	nod_json_put(&o, "end", nod_json_time(survey->end));
	nod_json_put(&o, "frames", count(survey->all.frames));
	nod_json_put(&o, "samples", count(survey->samples));
	nod_json_put(&o, "clock_steps", count(survey->clock_steps));
	nod_json_put(&o, "files", files(session));
	nod_json_put(&o, "interfaces", interfaces);
	nod_json_put(&o, "all_interfaces", interface("", &survey->all));
	nod_json_put(&o, "journal", journal);
	return o;
}
