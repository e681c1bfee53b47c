/* SPDX-License-Identifier: MIT */
#include "search.h"

#include <string.h>
#include <strings.h>

#include "json-build.h"

static const char *after_word(const char *text, const char *word)
{
	size_t length = strlen(word);

	return !strncasecmp(text, word, length) && text[length] == ' ' ? text + length + 1 : NULL;
}

void nod_wanted_parse(struct nod_wanted *w, const char *text)
{
	const char *id = after_word(text, "id"), *module = after_word(text, "module");
	const char *rest = id ? id : module ? module : text;

	*w = (struct nod_wanted){.text = rest};
	if (!module && strlen(rest) <= 8)
		w->is_id = !nod_id_parse(&w->id, rest, (unsigned)strlen(rest));
}

bool nod_wanted_fits(const struct nod_wanted *w, const struct nod_findings *f,
		     const struct nod_ident_finding *ident)
{
	return w->is_id ? ident->id == w->id : !strcasecmp(f->senders[ident->sender].name, w->text);
}

int nod_search_network(const struct nod_findings *f, const char *name)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (!strcasecmp(f->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}

json_t *nod_json_time(nod_time time)
{
	char text[NOD_TIME_TEXT];

	return nod_time_is_set(time) ? json_string(nod_time_print(text, time, 9)) : json_null();
}

json_t *nod_json_length(nod_duration length)
{
	return length.ns == INT64_MIN ? json_null() : nod_json_number((double)length.ns / 1e9);
}
