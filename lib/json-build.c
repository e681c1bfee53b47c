#include "json-build.h"

#include <errno.h>
#include <math.h>

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

json_t *nod_json_number(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}
