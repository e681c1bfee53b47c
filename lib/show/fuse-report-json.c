/* SPDX-License-Identifier: MIT */
/* The survey of fuses for programs. */
#include "fuse-report.h"

#include "json-build.h"

static json_t *milli(int64_t micro)
{
	return nod_json_number((double)micro / 1e3);
}

static json_t *range(int64_t low, int64_t high)
{
	return json_pack("{s:o, s:o}", "low_ma", milli(low), "high_ma", milli(high));
}

static json_t *modules(const struct nod_fuse_line *line, const struct nod_vehicle *vehicle)
{
	json_t *list = json_array();

	for (size_t i = 0; i < line->module_count; i++)
		nod_json_append(&list, nod_json_text(vehicle->modules[line->modules[i]].name));
	return list;
}

static json_t *current(const struct nod_fuse_line *line)
{
	const struct nod_fuse_current *c = &line->current;

	if (!line->known)
		return json_null();
	return json_pack("{s:o, s:o, s:o, s:s, s:o, s:s}", "ma", milli(c->ua), "low_ma",
			 milli(c->low_ua), "high_ma", milli(c->high_ua), "state",
			 nod_fuse_state_name(c->state), "resistance_mohm",
			 milli(c->resistance.uohm), "basis",
			 nod_fuse_basis_name(c->resistance.basis));
}

static json_t *lines(const struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	json_t *list = json_array();

	for (size_t i = 0; i < s->line_count; i++) {
		const struct nod_fuse_line *l = &s->lines[i];
		nod_json_append(&list,
				json_pack("{s:s, s:o, s:o, s:o, s:o, s:s*}", "fuse",
					  l->reading.name, "mv", milli(l->reading.uv), "off_mv",
					  milli(l->reading.uncertainty_uv), "current", current(l),
					  "modules", modules(l, vehicle), "refusal",
					  l->known ? NULL : l->refusal));
	}
	return list;
}

static json_t *common(const struct nod_fuse_survey *s)
{
	json_t *list = json_array();

	for (size_t i = 0; i < s->common_count; i++) {
		const struct nod_fuse_common *c = &s->common[i];
		nod_json_append(&list,
				json_pack("{s:s, s:s, s:i, s:i, s:i, s:i, s:f, s:f}", "tie",
					  nod_fuse_tie_name(c->tie), "name", c->name, "measured",
					  (int)c->measured, "carrying", (int)c->carrying, "sharing",
					  (int)c->sharing, "both", (int)c->both, "chance",
					  c->chance, "corrected", c->corrected));
	}
	return list;
}

static json_t *unmeasured(const struct nod_fuse_survey *s, const struct nod_vehicle *vehicle)
{
	json_t *list = json_array();

	for (size_t i = 0; i < s->unmeasured_count; i++)
		nod_json_append(&list, nod_json_text(vehicle->fuses[s->unmeasured[i]].name));
	return list;
}

json_t *nod_fuse_survey_json(const struct nod_fuse_survey *survey,
			     const struct nod_vehicle *vehicle)
{
	const struct nod_fuse_survey *s = survey;

	return json_pack("{s:o, s:i, s:i, s:o, s:i, s:o, s:o, s:s, s:o, s:o}", "fuses",
			 lines(s, vehicle), "known", (int)s->known, "carrying", (int)s->carrying,
			 "common", common(s), "compared", (int)s->compared, "sum",
			 range(s->sum_low_ua, s->sum_high_ua), "clamp",
			 s->clamp_given ? range(s->clamp_low_ua, s->clamp_high_ua) : json_null(),
			 "rest", nod_fuse_rest_name(s->rest), "not_accounted",
			 s->clamp_given ? range(s->rest_low_ua, s->rest_high_ua) : json_null(),
			 "unmeasured", unmeasured(s, vehicle));
}
