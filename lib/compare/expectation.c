/* SPDX-License-Identifier: MIT */
#include "expectation.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "expectation-keys.h"
#include "text-log.h"

/* An expectation is a screenful; more is a wrong file. */
#define DEMANDS_MAX 1000

static char *trim(char *text)
{
	text += strspn(text, " \t");
	size_t length = strlen(text);
	while (length && strchr(" \t\r", text[length - 1]))
		text[--length] = '\0';
	return text;
}

static int find_key(struct nod_demand *d, const char *word, struct nod_error *err)
{
	char list[320] = "";
	size_t used = 0;

	for (int k = 0; k < NOD_DEMAND_KEYS; k++) {
		const char *name = nod_demand_rule((enum nod_demand_key)k)->name;
		if (!strcmp(word, name)) {
			d->key = (enum nod_demand_key)k;
			return 0;
		}
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s", k ? ", " : "",
					 name);
	}
	return nod_error_set(err, EINVAL, "there is no key \"%.40s\"; expected one of %s", word,
			     list);
}

/* Splits "slept-at body" into the key and what it is about. */
static int read_key(struct nod_demand *d, char *key, struct nod_arena *arena, struct nod_error *err)
{
	size_t length = strcspn(key, " \t");
	char *object = key + length;

	if (*object) {
		*object++ = '\0';
		object += strspn(object, " \t");
	}
	if (find_key(d, key, err))
		return -EINVAL;
	const struct nod_demand_rule *rule = nod_demand_rule(d->key);
	if (rule->object != !!*object)
		return nod_error_set(err, EINVAL,
				     rule->object ? "\"%s\" needs to say of what: \"%s %s: ...\""
						  : "\"%s\" stands alone before its colon",
				     rule->name, rule->name,
				     d->key == NOD_DEMAND_KNOWN_MISS ? "culprit" : "body");
	d->object = nod_arena_printf(arena, "%s", object);
	d->label = nod_arena_printf(arena, "%s%s%s", rule->name, *object ? " " : "", object);
	return 0;
}

static int read_demand(struct nod_demand *d, char *line, struct nod_arena *arena,
		       struct nod_error *err)
{
	char *colon = strchr(line, ':');

	if (!colon || colon == line)
		return nod_error_set(err, EINVAL, "expected \"key: value\"");
	*colon = '\0';
	if (read_key(d, trim(line), arena, err))
		return -EINVAL;
	d->text = nod_arena_printf(arena, "%s", trim(colon + 1));
	if (!*d->text)
		return nod_error_set(err, EINVAL, "\"%s\" has no value", d->label);
	return nod_demand_rule(d->key)->read(d, err);
}

/* A demand made twice contradicts itself or hides a typing error. */
static int check_twice(const struct nod_expectation *x, const struct nod_demand *d,
		       struct nod_error *err)
{
	bool repeated = nod_demand_rule(d->key)->repeated;

	for (size_t i = 0; i < x->count; i++) {
		const struct nod_demand *other = &x->demands[i];
		if (strcmp(other->label, d->label))
			continue;
		bool nobody = !strcmp(d->text, NOD_NONE_NAMED) ||
			      !strcmp(other->text, NOD_NONE_NAMED);
		if (repeated ? nobody || !strcmp(other->text, d->text) : other->bound == d->bound)
			return nod_error_set(err, EINVAL, "\"%s\" is already in line %" PRIu64,
					     d->label, other->line);
	}
	return 0;
}

static int add(struct nod_expectation *x, char *line, uint64_t number, const char *path,
	       struct nod_error *err)
{
	struct nod_demand d = {.object = "", .line = number};
	struct nod_error reason = {""};

	if (x->count == DEMANDS_MAX)
		return nod_error_at(err, EINVAL, path, number, 0, "more than %d demands",
				    DEMANDS_MAX);
	int wrong = read_demand(&d, line, &x->arena, &reason);
	if (!wrong)
		wrong = check_twice(x, &d, &reason);
	if (x->arena.failed)
		return nod_error_set(err, ENOMEM, "%s: out of memory", path);
	if (wrong)
		return nod_error_at(err, EINVAL, path, number, 0, "%s", reason.text);
	void *grown = reallocarray(x->demands, x->count + 1, sizeof(d));
	if (!grown)
		return nod_error_set(err, ENOMEM, "%s: out of memory", path);
	x->demands = grown;
	x->demands[x->count++] = d;
	return 0;
}

/* A known miss of something that is not demanded would excuse nothing. */
static int check_misses(const struct nod_expectation *x, const char *path, struct nod_error *err)
{
	for (size_t i = 0; i < x->count; i++) {
		const struct nod_demand *miss = &x->demands[i];
		bool demanded = miss->key != NOD_DEMAND_KNOWN_MISS;
		for (size_t k = 0; k < x->count && !demanded; k++)
			demanded = !strcmp(x->demands[k].label, miss->object);
		if (!demanded)
			return nod_error_at(err, EINVAL, path, miss->line, 0,
					    "\"%s\" is known to be missed, but it is not demanded",
					    miss->object);
	}
	return 0;
}

static int read_all(struct nod_expectation *x, struct nod_text_log *log, const char *path,
		    struct nod_error *err)
{
	struct nod_text_line line;
	int result;

	while ((result = nod_text_log_next(log, &line)) > 0) {
		if (line.fault)
			return nod_error_at(err, EINVAL, path, line.number, 0, "%s", line.fault);
		char *text = trim(line.text);
		result = *text && *text != '#' ? add(x, text, line.number, path, err) : 0;
		if (result)
			return result;
	}
	if (result < 0)
		return nod_error_set(err, -result, "%s: %s", path, strerror(-result));
	if (nod_text_log_torn(log))
		return nod_error_at(err, EINVAL, path, nod_text_log_torn_line(log), 0,
				    "the last line is cut off: it has no newline");
	if (!nod_expectation_text(x, NOD_DEMAND_VERDICT))
		return nod_error_set(err, EINVAL, "%s: it demands no verdict", path);
	return check_misses(x, path, err);
}

struct nod_expectation *nod_expectation_load(const char *path, struct nod_error *err)
{
	struct nod_text_log *log = nod_text_log_open(path, err);

	if (!log)
		return NULL;
	struct nod_expectation *x = calloc(1, sizeof(*x));
	int result = x ? read_all(x, log, path, err) : nod_error_set(err, ENOMEM, "out of memory");
	nod_text_log_close(log);
	if (!result)
		return x;
	nod_expectation_free(x);
	errno = -result;
	return NULL;
}

void nod_expectation_free(struct nod_expectation *x)
{
	if (!x)
		return;
	nod_arena_free(&x->arena);
	free(x->demands);
	free(x);
}

const char *nod_expectation_text(const struct nod_expectation *x, enum nod_demand_key key)
{
	for (size_t i = 0; i < x->count; i++)
		if (x->demands[i].key == key)
			return x->demands[i].text;
	return NULL;
}
