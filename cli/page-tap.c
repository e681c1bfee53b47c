/* SPDX-License-Identifier: MIT */
#include "page-tap.h"

#include <stdio.h>
#include <string.h>

bool nod_taps_know(const struct nod_taps_known *known, const char *id)
{
	size_t kept = known->count < NOD_TAPS_KEPT ? known->count : NOD_TAPS_KEPT;

	for (size_t i = 0; i < kept; i++)
		if (!strcmp(known->ids[i], id))
			return true;
	return false;
}

void nod_taps_remember(struct nod_taps_known *known, const char *id)
{
	snprintf(known->ids[known->count++ % NOD_TAPS_KEPT], NOD_TAP_ID, "%s", id);
}

const char *nod_page_tap_read(const json_t *object, struct nod_page_tap *tap, const char **id)
{
	const json_t *ms = json_object_get(object, "time_ms"),
		     *ns = json_object_get(object, "time_ns");

	*id = json_string_value(json_object_get(object, "id"));
	tap->kind = json_string_value(json_object_get(object, "kind"));
	tap->subject = json_string_value(json_object_get(object, "subject"));
	if (!*id || !**id || strlen(*id) >= NOD_TAP_ID)
		return "\"id\" must be a text of 1 to 63 bytes";
	if (!tap->kind || !tap->subject)
		return "\"kind\" and \"subject\" must be texts";
	if (json_is_integer(ns))
		tap->time.ns = json_integer_value(ns);
	else if (json_is_integer(ms) &&
		 !__builtin_mul_overflow(json_integer_value(ms), NOD_NS_PER_MS, &tap->time.ns))
		return NULL;
	else
		return "\"time_ms\" must be a whole number of milliseconds since 1970";
	return NULL;
}
