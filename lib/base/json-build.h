/* SPDX-License-Identifier: MIT */
/* Objects and arrays of jansson, built so that a member that memory did not
 * suffice for makes the whole of it NULL: an answer is complete or there is none.
 *
 * A builder starts with json_object() or json_array(), adds with these, and
 * returns what it has; NULL goes on through every level above. */
#ifndef NOD_JSON_BUILD_H
#define NOD_JSON_BUILD_H

#include <jansson.h>

/* Adds `value` (taken over). When it, the container or memory is missing, the container
 * is released and becomes NULL. */
void nod_json_put(json_t **object, const char *key, json_t *value);
void nod_json_append(json_t **array, json_t *value);

/* A string; "(not UTF-8)" for what is none. NULL when memory ran out. */
json_t *nod_json_text(const char *text);

/* The value as text on one line and a newline, objects by their keys; for the caller to
 * free. NULL when memory ran out. (With JSON_SORT_KEYS jansson's own json_dumps leaves a
 * key out when memory runs out just there, and calls it done.) */
char *nod_json_line(const json_t *value, size_t *length);

/* A number; null for what is none. NULL when memory ran out. */
json_t *nod_json_number(double value);

#endif
