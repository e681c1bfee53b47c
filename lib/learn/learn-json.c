/* What was learned, as JSON. */
#include "learn-internal.h"

#include <math.h>

#include "json-build.h"

static json_t *text_or_null(const char *text)
{
	return text ? nod_json_text(text) : json_null();
}

static json_t *share(double x)
{
	return nod_json_number(round(x * 1e6) / 1e6);
}

static json_t *id_json(const struct nod_learned_id *id)
{
	char text[NOD_ID_TEXT];
	json_t *o = json_object();

	nod_json_put(&o, "network", nod_json_text(id->network));
	nod_json_put(&o, "id", nod_json_text(nod_id_print(text, id->id)));
	nod_json_put(&o, "source_address",
	    id->source_address < 0 ? json_null() : json_integer(id->source_address));
	nod_json_put(&o, "confidence", share(id->confidence));
	nod_json_put(&o, "silent", json_integer(id->silent));
	nod_json_put(&o, "went_on", json_integer(id->went_on));
	nod_json_put(&o, "came_back", json_integer(id->came_back));
	nod_json_put(&o, "missed", share(id->missed));
	nod_json_put(&o, "owner", text_or_null(id->owner));
	nod_json_put(&o, "fits", json_boolean(id->fits));
	nod_json_put(&o, "why", nod_json_text(id->why));
	nod_json_put(&o, "conflict", text_or_null(id->conflict));
	return o;
}

static json_t *ids_json(const struct nod_learned_id *ids, size_t count)
{
	json_t *array = json_array();

	for (size_t i = 0; i < count; i++)
		nod_json_append(&array, id_json(&ids[i]));
	return array;
}

static json_t *subjects_json(const struct nod_lesson *l)
{
	static const char *const kinds[] = {"fuse", "module", "not in the map"};
	json_t *array = json_array();

	for (size_t i = 0; i < l->subject_count; i++) {
		const struct nod_learned_subject *s = &l->subjects[i];
		json_t *o = json_object();
		nod_json_put(&o, "name", nod_json_text(s->name));
		nod_json_put(&o, "kind", nod_json_text(kinds[s->kind]));
		nod_json_put(&o, "isolated", json_integer(s->trials));
		nod_json_put(&o, "judged", json_integer(s->judged));
		nod_json_put(&o, "ids", ids_json(s->ids, s->id_count));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *groups_json(const struct nod_lesson *l)
{
	json_t *array = json_array();
	char text[NOD_ID_TEXT];

	for (size_t i = 0; i < l->group_count; i++) {
		const struct nod_learned_group *g = &l->groups[i];
		json_t *o = json_object(), *ids = json_array();
		for (size_t k = 0; k < g->id_count; k++)
			nod_json_append(&ids, nod_json_text(nod_id_print(text, g->ids[k].id)));
		nod_json_put(&o, "name", nod_json_text(g->name));
		nod_json_put(&o, "network", nod_json_text(g->network));
		nod_json_put(&o, "ids", ids);
		nod_json_put(&o, "confidence", share(g->confidence));
		nod_json_put(&o, "shared", json_integer(g->edges));
		nod_json_put(&o, "why", nod_json_text(g->why));
		nod_json_append(&array, o);
	}
	return array;
}

static json_t *inputs_json(const struct nod_lesson *l)
{
	json_t *array = json_array();
	char text[NOD_ID_TEXT];

	for (size_t i = 0; i < l->input_count; i++) {
		const struct nod_learned_input *in = &l->inputs[i];
		json_t *o = json_object();
		nod_json_put(&o, "input", nod_json_text(in->input));
		nod_json_put(&o, "network", nod_json_text(in->network));
		nod_json_put(&o, "id", nod_json_text(nod_id_print(text, in->id)));
		nod_json_put(&o, "byte", json_integer(in->bit / 8));
		nod_json_put(&o, "bit", json_integer(in->bit % 8));
		nod_json_put(&o, "signal", text_or_null(in->signal));
		nod_json_put(&o, "marks", json_integer(in->moved));
		nod_json_put(&o, "toggles", json_integer(in->toggles));
		nod_json_append(&array, o);
	}
	return array;
}

json_t *nod_lesson_json(const struct nod_lesson *l)
{
	json_t *o = json_object();

	if (!o)
		return NULL;
	nod_json_put(&o, "nodoff", json_integer(1));
	nod_json_put(&o, "recordings", json_integer(l->sessions));
	nod_json_put(&o, "subjects", subjects_json(l));
	nod_json_put(&o, "groups", groups_json(l));
	nod_json_put(&o, "inputs", inputs_json(l));
	return o;
}
