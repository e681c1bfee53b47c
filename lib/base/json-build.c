/* SPDX-License-Identifier: MIT */
#include "json-build.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static void give_up(json_t **container)
{
	json_decref(*container);
	*container = NULL;
}

void nod_json_put(json_t **object, const char *key, json_t *value)
{
	if (json_object_set_new(*object, key, value))
		give_up(object);
}

void nod_json_append(json_t **array, json_t *value)
{
	if (json_array_append_new(*array, value))
		give_up(array);
}

json_t *nod_json_text(const char *text)
{
	errno = 0;
	json_t *string = json_string(text);

	/* NULL for bad UTF-8, too, which does not touch errno. */
	return string || errno == ENOMEM ? string : json_string("(not UTF-8)");
}

struct line {
	char *text;
	size_t length, room;
	bool failed;
};

static int take(const char *bytes, size_t size, void *context)
{
	struct line *line = context;

	if (line->room - line->length <= size) {
		size_t room = line->room * 2 + size;
		char *text = line->failed ? NULL : realloc(line->text, room);
		if (!text) {
			line->failed = true;
			return -1;
		}
		line->text = text;
		line->room = room;
	}
	memcpy(line->text + line->length, bytes, size);
	line->length += size;
	return 0;
}

char *nod_json_line(const json_t *value, size_t *length)
{
	struct line line = {.room = 512};

	line.text = malloc(line.room);
	line.failed = !line.text;
	if (line.failed || json_dump_callback(value, take, &line, JSON_COMPACT | JSON_SORT_KEYS) ||
	    take("\n", 1, &line) || line.failed) {
		free(line.text);
		return NULL;
	}
	line.text[line.length] = '\0';
	*length = line.length;
	return line.text;
}

json_t *nod_json_number(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}
