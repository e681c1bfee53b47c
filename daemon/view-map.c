/* SPDX-License-Identifier: MIT */
/* What the vehicle file names, for who chooses a fuse. */
#include "view.h"

#include "json-build.h"
#include "vehicle.h"

static json_t *texts(char *const *items, size_t count)
{
	json_t *list = json_array();

	for (size_t i = 0; i < count; i++)
		nod_json_append(&list, nod_json_text(items[i]));
	return list;
}

static json_t *fuses_of(const struct nod_vehicle *v)
{
	json_t *list = json_array();

	for (size_t i = 0; i < v->fuse_count; i++) {
		const struct nod_fuse *fuse = &v->fuses[i];
		nod_json_append(&list,
				json_pack("{s:o, s:o, s:o, s:o}", "name", nod_json_text(fuse->name),
					  "box", fuse->box ? nod_json_text(fuse->box) : json_null(),
					  "feeds", texts(fuse->feeds, fuse->feed_count), "cautions",
					  texts(fuse->cautions, fuse->caution_count)));
	}
	return list;
}

json_t *nod_view_map(const struct nod_vehicle *v)
{
	json_t *map = json_object(), *modules = json_array(), *inputs = json_array();

	nod_json_put(&map, "fuses", fuses_of(v));
	for (size_t i = 0; i < v->module_count; i++) {
		nod_json_append(&modules, nod_json_text(v->modules[i].name));
		for (size_t k = 0; k < v->modules[i].input_count; k++)
			nod_json_append(&inputs, nod_json_text(v->modules[i].inputs[k]));
	}
	nod_json_put(&map, "modules", modules);
	nod_json_put(&map, "inputs", inputs);
	return map;
}
