/* SPDX-License-Identifier: MIT */
#include "fuse-reading.h"

#include <errno.h>
#include <string.h>

/* Where the value begins: after the last '=', or after the first blank whose
 * rest is a voltage ("fuse 12 2.3 mV"). *name_length is how much stands
 * before. NULL when there is no value. */
static const char *find_value(const char *text, size_t *name_length, struct nod_quantity *value,
			      struct nod_error *err)
{
	const char *equals = strrchr(text, '=');

	if (equals) {
		*name_length = (size_t)(equals - text);
		return nod_quantity_parse_as(value, equals + 1, NOD_UNIT_VOLT, text, err)
			       ? NULL
			       : equals + 1;
	}
	for (const char *blank = text; (blank = strpbrk(blank, " \t")); blank++) {
		*name_length = (size_t)(blank - text);
		if (!nod_quantity_parse_as(value, blank + 1, NOD_UNIT_VOLT, text, NULL))
			return blank + 1;
	}
	nod_error_set(err, EINVAL, "`%.80s` is no fuse reading such as F12=2.3mV", text);
	return NULL;
}

/* "10A" */
static bool parse_rating(int64_t *ma, const char *text)
{
	struct nod_quantity q;

	if (nod_quantity_parse_as(&q, text, NOD_UNIT_AMPERE, "", NULL) || q.micro <= 0)
		return false;
	*ma = q.micro / 1000;
	return true;
}

/* Splits "mini:10A" or "F12:mini:10A" in place at its colons. */
static int parse_which(struct nod_fuse_reading *r, char *which, struct nod_error *err)
{
	char *rating = strrchr(which, ':');

	if (!rating)
		return 0;
	*rating++ = '\0';
	char *family = strrchr(which, ':');
	if (family) {
		*family++ = '\0';
		r->name = which;
	}
	r->unnamed = !family;
	r->family = family ? family : which;
	if (*r->family && parse_rating(&r->rating_ma, rating))
		return 0;
	return nod_error_set(err, EINVAL, "`%.80s:%.80s`: expected FAMILY:RATING such as mini:10A",
			     r->family, rating);
}

int nod_fuse_reading_parse(struct nod_fuse_reading *reading, const char *text,
			   int64_t uncertainty_uv, const struct nod_vehicle *vehicle,
			   struct nod_arena *arena, struct nod_error *err)
{
	struct nod_quantity value;
	size_t length;

	if (!find_value(text, &length, &value, err))
		return -EINVAL;
	while (length && (text[length - 1] == ' ' || text[length - 1] == '\t'))
		length--;
	if (!length)
		return nod_error_set(err, EINVAL, "`%.80s` does not say which fuse", text);
	const char *name = nod_arena_printf(arena, "%.*s", (int)length, text);
	char *which = nod_arena_alloc(arena, length + 1);
	if (!which || arena->failed)
		return nod_error_set(err, ENOMEM, "out of memory");
	memcpy(which, text, length);
	*reading = (struct nod_fuse_reading){
		.name = name,
		.fuse = nod_vehicle_fuse_by_name(vehicle, name),
		.uv = value.micro,
		.uncertainty_uv = uncertainty_uv < 0 ? value.last_digit : uncertainty_uv,
	};
	return reading->fuse == NOD_NONE ? parse_which(reading, which, err) : 0;
}
