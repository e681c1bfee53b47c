/* SPDX-License-Identifier: MIT */
#include "gate-line.h"

#include <stdlib.h>
#include <string.h>

#include "json-build.h"
#include "json-read.h"
#include "option.h"
#include "text-stream.h"

static json_t *texts(const char *const *lines, size_t count)
{
	json_t *array = json_array();

	for (size_t i = 0; i < count; i++)
		nod_json_append(&array, nod_json_text(lines[i]));
	return array;
}

static json_t *known(const struct nod_gate_result *r)
{
	json_t *array = json_array();

	for (size_t i = 0; i < r->known_count; i++) {
		json_t *o = json_object();
		nod_json_put(&o, "difference", nod_json_text(r->known[i]));
		nod_json_put(&o, "why", nod_json_text(r->why[i] ? r->why[i] : ""));
		nod_json_append(&array, o);
	}
	return array;
}

/* Takes the object over. */
static char *line_of(json_t *o)
{
	char *text = o ? json_dumps(o, JSON_COMPACT | JSON_PRESERVE_ORDER) : NULL, *line = NULL;

	if (text && asprintf(&line, "%s\n", text) < 0)
		line = NULL;
	free(text);
	json_decref(o);
	return line;
}

char *nod_gate_line_of_shard(const struct nod_gate_shard *shard, size_t sessions, bool finished)
{
	json_t *o = json_object();

	nod_json_put(&o, "nodoff", json_integer(NOD_JSON_VERSION));
	nod_json_put(&o, "what", json_string("shard"));
	nod_json_put(&o, "version", json_string(NOD_VERSION));
	nod_json_put(&o, "program", json_string(shard->program));
	nod_json_put(&o, "shard", json_integer(shard->shard));
	nod_json_put(&o, "shards", json_integer(shard->shards));
	nod_json_put(&o, "sessions", json_integer((json_int_t)sessions));
	nod_json_put(&o, "finished", json_boolean(finished));
	return line_of(o);
}

char *nod_gate_line_of_session(const char *name, const struct nod_gate_result *r)
{
	json_t *o = json_object();

	nod_json_put(&o, "nodoff", json_integer(NOD_JSON_VERSION));
	nod_json_put(&o, "what", json_string("session"));
	nod_json_put(&o, "session", nod_json_text(name));
	nod_json_put(&o, "state", json_string(nod_gate_state_name(r->state)));
	nod_json_put(&o, "differences", texts(r->differences, r->difference_count));
	nod_json_put(&o, "known", known(r));
	nod_json_put(&o, "healed", texts(r->healed, r->healed_count));
	nod_json_put(&o, "digest", *r->digest ? json_string(r->digest) : json_null());
	return line_of(o);
}

json_t *nod_gate_line_read(const char *line, size_t length)
{
	json_t *o = nod_json_read(line, length, 0);

	if (json_integer_value(json_object_get(o, "nodoff")) == NOD_JSON_VERSION)
		return o;
	json_decref(o);
	return NULL;
}

const char *nod_gate_line_session(const json_t *line)
{
	return json_string_value(json_object_get(line, "session"));
}

/* The lines as nod_gate_judge() writes them. */
static void write_lines(FILE *out, char letter, const json_t *array, const char *key)
{
	size_t i;
	json_t *item;

	json_array_foreach((json_t *)array, i, item) {
		const char *text = json_string_value(key ? json_object_get(item, key) : item);
		const char *why = key ? json_string_value(json_object_get(item, "why")) : NULL;
		fprintf(out, "%c %s\n", letter, text ? text : "");
		if (why)
			fprintf(out, "W %s\n", why);
	}
}

static bool state_of(const json_t *line, enum nod_gate_state *state)
{
	const char *name = json_string_value(json_object_get(line, "state"));

	for (*state = NOD_GATE_OK; name && *state <= NOD_GATE_UNREADABLE; (*state)++)
		if (!strcmp(name, nod_gate_state_name(*state)))
			return true;
	return false;
}

int nod_gate_line_result(const json_t *line, struct nod_gate_result *result)
{
	const char *digest = json_string_value(json_object_get(line, "digest"));
	enum nod_gate_state state;
	struct nod_text_stream stream;

	if (!state_of(line, &state) || nod_text_stream_open(&stream))
		return -1;
	if (digest)
		fprintf(stream.out, "X %s\n", digest);
	write_lines(stream.out, 'D', json_object_get(line, "differences"), NULL);
	write_lines(stream.out, 'K', json_object_get(line, "known"), "difference");
	write_lines(stream.out, 'H', json_object_get(line, "healed"), NULL);
	if (nod_text_stream_close(&stream)) {
		free(stream.text);
		return -1;
	}
	free(result->text);
	nod_gate_result_read(result, state, stream.text);
	return 0;
}
