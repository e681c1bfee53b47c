/* SPDX-License-Identifier: MIT */
/* The values of a vehicle file: texts, quantities, times, words. */
#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "bitrate.h"
#include "id-rule.h"
#include "nearest-word.h"
#include "vehicle-reader.h"

static void *field(void *object, size_t offset)
{
	return (char *)object + offset;
}

/* ---- objects ---- */

static int unknown_key(struct nod_reader *r, const struct nod_key *keys, const char *key,
		       const yaml_node_t *node)
{
	struct nod_nearest nearest = {.word = key};
	char list[300] = "", guess[120] = "";
	size_t used = 0;

	for (const struct nod_key *k = keys; k->name; k++) {
		nod_nearest_offer(&nearest, k->name);
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s", used ? ", " : "",
					 k->name);
		if (used >= sizeof(list))
			break;
	}
	if (nearest.best)
		snprintf(guess, sizeof(guess), "did you mean `%s`? ", nearest.best);
	return nod_yaml_error(&r->yaml, node, "unknown key `%s`; %sexpected one of: %s", key, guess,
			      list);
}

struct object {
	struct nod_reader *reader;
	const struct nod_key *keys;
	void *object;
};

static int take_key(void *context, const char *name, const yaml_node_t *key_node,
		    const yaml_node_t *value)
{
	struct object *o = context;

	for (const struct nod_key *k = o->keys; k->name; k++)
		if (!strcasecmp(k->name, name))
			return k->read(o->reader, k, value, o->object);
	return unknown_key(o->reader, o->keys, name, key_node);
}

int nod_read_object(struct nod_reader *r, const yaml_node_t *node, const char *what,
		    const struct nod_key *keys, void *object)
{
	struct object context = {r, keys, object};

	return nod_yaml_each_pair(&r->yaml, node, what, take_key, &context);
}

/* ---- texts and words ---- */

const char *nod_read_filled(struct nod_reader *r, const yaml_node_t *value, const char *what)
{
	const char *text = nod_yaml_text(&r->yaml, value, what);

	if (text && !*text) {
		nod_yaml_error(&r->yaml, value, "expected %s, found nothing", what);
		return NULL;
	}
	return text;
}

int nod_read_text(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		  void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	char **to = field(object, key->at);

	if (!text)
		return -EINVAL;
	*to = strdup(text);
	return *to ? 0 : nod_yaml_out_of_memory(&r->yaml);
}

void *nod_append(void *items, size_t *count, size_t size)
{
	void **array = items;
	bool full = !(*count & (*count - 1)); /* room is the next power of two */
	char *grown = *array;

	if (full)
		grown = realloc(grown, (*count ? *count * 2 : 1) * size);
	if (!grown)
		return NULL;
	*array = grown;
	memset(grown + *count * size, 0, size);
	return grown + (*count)++ * size;
}

struct texts {
	struct nod_reader *reader;
	const struct nod_key *key;
	void *object;
};

static int take_text(void *context, const yaml_node_t *item)
{
	struct texts *t = context;
	size_t *count = field(t->object, t->key->count);
	struct nod_key single = {.what = t->key->what};

	if (*count >= NOD_VEHICLE_LIST_MAX)
		return nod_yaml_error(&t->reader->yaml, item, "more than %d items in `%s`",
				      NOD_VEHICLE_LIST_MAX, t->key->name);
	char **slot = nod_append(field(t->object, t->key->at), count, sizeof(char *));
	if (!slot)
		return nod_yaml_out_of_memory(&t->reader->yaml);
	return nod_read_text(t->reader, &single, item, slot);
}

int nod_read_texts(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		   void *object)
{
	struct texts context = {r, key, object};

	return nod_yaml_each_item(&r->yaml, value, take_text, &context);
}

int nod_read_word(struct nod_reader *r, const yaml_node_t *value, const char *what,
		  const char *const *words)
{
	const char *text = nod_yaml_text(&r->yaml, value, what);
	char list[120] = "";
	size_t used = 0;

	if (!text)
		return -EINVAL;
	for (int i = 0; words[i]; i++)
		if (!strcasecmp(words[i], text))
			return i;
	for (int i = 0; words[i] && used < sizeof(list); i++)
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s",
					 !i             ? ""
					 : words[i + 1] ? ", "
							: " or ",
					 words[i]);
	return nod_yaml_error(&r->yaml, value, "expected %s: %s; found `%s`", what, list, text);
}

int nod_read_yes_no(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		    void *object)
{
	static const char *const words[] = {"yes", "no", "true", "false", NULL};
	int word = nod_read_word(r, value, key->what, words);

	if (word >= 0)
		*(bool *)field(object, key->at) = !(word & 1);
	return word < 0 ? word : 0;
}

/* ---- numbers ---- */

static int outside_limits(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
			  const char *text)
{
	char least[NOD_QUANTITY_TEXT], most[NOD_QUANTITY_TEXT];

	return nod_yaml_error(&r->yaml, value, "expected %s from %s to %s, found `%s`", key->what,
			      nod_quantity_print(least, key->least * key->micro, key->unit),
			      nod_quantity_print(most, key->most * key->micro, key->unit), text);
}

int nod_read_quantity(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	struct nod_error err = {""};
	struct nod_quantity q;

	if (!text)
		return -EINVAL;
	int status = nod_quantity_parse_as(&q, text, key->unit, key->what, &err);
	if (status == -ERANGE)
		return outside_limits(r, key, value, text);
	if (status)
		return nod_yaml_error(&r->yaml, value, "%s", err.text);
	if (q.micro < key->least * key->micro || q.micro > key->most * key->micro)
		return outside_limits(r, key, value, text);
	*(int64_t *)field(object, key->at) = (q.micro + key->micro / 2) / key->micro;
	return 0;
}

static bool has_unit(const char *text)
{
	size_t length = strlen(text);

	while (length && text[length - 1] == ' ')
		length--;
	return length && !isdigit((unsigned char)text[length - 1]);
}

int nod_read_duration(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		      void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	char least[NOD_TIME_TEXT], most[NOD_TIME_TEXT];
	nod_duration d;

	if (!text)
		return -EINVAL;
	if (!has_unit(text))
		return nod_yaml_error(&r->yaml, value,
				      "%s: `%s` is without a unit, expected a time such as "
				      "`10 min` or `2 s`",
				      key->what, text);
	int status = nod_duration_parse(&d, text);
	if (status == -ERANGE || (!status && (d.ns < key->least || d.ns > key->most)))
		return nod_yaml_error(&r->yaml, value, "expected %s from %s to %s, found `%s`",
				      key->what,
				      nod_duration_print(least, (nod_duration){key->least}),
				      nod_duration_print(most, (nod_duration){key->most}), text);
	if (status)
		return nod_yaml_error(&r->yaml, value,
				      "expected %s as a time such as `10 min` or `2 s`, found `%s`",
				      key->what, text);
	*(nod_duration *)field(object, key->at) = d;
	if (key->count != NOD_NO_FLAG)
		*(bool *)field(object, key->count) = true;
	return 0;
}

int nod_read_bitrate(struct nod_reader *r, const struct nod_key *key, const yaml_node_t *value,
		     void *object)
{
	const char *text = nod_read_filled(r, value, key->what);
	uint64_t bitrate;

	if (!text)
		return -EINVAL;
	if (!nod_bitrate_parse(&bitrate, text) || bitrate < (uint64_t)key->least ||
	    bitrate > (uint64_t)key->most)
		return nod_yaml_error(&r->yaml, value,
				      "expected %s from %" PRId64 " to %" PRId64
				      " bit/s such as `500000` or `500k`, found `%s`",
				      key->what, key->least, key->most, text);
	*(uint32_t *)field(object, key->at) = (uint32_t)bitrate;
	return 0;
}

static int hex_value(const char *text)
{
	char *end;

	if (!strncasecmp(text, "0x", 2))
		text += 2;
	if (!isxdigit((unsigned char)*text) || strlen(text) > 3)
		return -1;
	long number = strtol(text, &end, 16);
	if (*end == 'h' || *end == 'H')
		end++;
	return *end ? -1 : (int)number;
}

int nod_read_hex(struct nod_reader *r, const yaml_node_t *value, const char *what, int least,
		 int most, int *number)
{
	const char *text = nod_read_filled(r, value, what);

	if (!text)
		return -EINVAL;
	*number = hex_value(text);
	if (*number < least || *number > most)
		return nod_yaml_error(&r->yaml, value,
				      "expected %s in hex from %02X to %02X, found `%s`", what,
				      (unsigned)least, (unsigned)most, text);
	return 0;
}

int nod_read_rule(struct nod_reader *r, const yaml_node_t *value, struct nod_id_rule *rule)
{
	const char *text = nod_read_filled(r, value, "an ID, a range or a value/mask");
	struct nod_error err = {""};

	if (!text)
		return -EINVAL;
	rule->line = nod_yaml_line(value);
	if (nod_id_rule_parse(rule, text, &err))
		return nod_yaml_error(&r->yaml, value, "%s", err.text);
	return 0;
}
