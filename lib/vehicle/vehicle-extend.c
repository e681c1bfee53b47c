/* SPDX-License-Identifier: MIT */
#include "vehicle-extend.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "id-rule.h"
#include "message-write.h"
#include "text-stream.h"
#include "vehicle-check.h"
#include "vehicle-splice.h"
#include "vehicle-write.h"

struct extend {
	struct nod_splice splice;
	const struct nod_vehicle *old, *more;
	int *network; /* of each network of `more`: its index in `old`, or NOD_NONE */
	struct nod_extension *done;
};

static int old_network(const struct extend *x, const int *networks, size_t count)
{
	return count ? x->network[networks[0]] : NOD_NONE;
}

/* ---- networks ---- */

static int network_by_name(const struct nod_vehicle *v, const char *name)
{
	for (size_t i = 0; i < v->network_count; i++)
		if (!strcasecmp(v->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}

static int add_networks(struct extend *x)
{
	struct nod_text_stream stream;
	int status = nod_text_stream_open(&stream);

	if (status)
		return status;
	for (size_t i = 0; i < x->more->network_count; i++) {
		x->network[i] = network_by_name(x->old, x->more->networks[i].name);
		if (x->network[i] != NOD_NONE)
			continue;
		nod_vehicle_write_network(stream.out, &x->more->networks[i]);
		x->done->networks++;
	}
	status = nod_text_stream_close(&stream);
	if (!status)
		status = nod_splice_section(&x->splice, "networks", stream.text);
	free(stream.text);
	return status;
}

/* ---- modules ---- */

/* Whether a module of the file claims an ID; a network that is new has none. */
static bool is_claimed(const struct extend *x, const struct nod_module *m,
		       const struct nod_id_rule *rule)
{
	int network = old_network(x, m->networks, m->network_count);
	uint32_t id;

	for (size_t i = 0; i < x->old->module_count; i++) {
		const struct nod_module *other = &x->old->modules[i];
		if (m->network_count && other->network_count &&
		    (network == NOD_NONE || !nod_module_sits_on(other, network)))
			continue;
		for (size_t k = 0; k < other->id_count; k++)
			if (nod_id_rules_overlap(&other->ids[k], rule, &id))
				return true;
	}
	return false;
}

/* Whether the module itself, where it is there, has the ID already. */
static bool has_id(const struct extend *x, int module, const struct nod_id_rule *rule)
{
	uint32_t id;

	for (size_t k = 0; module != NOD_NONE && k < x->old->modules[module].id_count; k++)
		if (nod_id_rules_overlap(&x->old->modules[module].ids[k], rule, &id))
			return true;
	return false;
}

static int add_ids(struct extend *x, const char *name, const struct nod_module *m)
{
	char *list = calloc(m->id_count + 1, NOD_ID_RULE_TEXT + 2), id[NOD_ID_RULE_TEXT];
	size_t used = 0;

	if (!list)
		return -ENOMEM;
	for (size_t i = 0; i < m->id_count; i++)
		used += (size_t)snprintf(list + used, NOD_ID_RULE_TEXT + 2, "%s%s",
					 used ? ", " : "", nod_id_rule_print(id, &m->ids[i]));
	x->done->ids += (unsigned)m->id_count;
	int status = used ? nod_splice_list(&x->splice, "modules", name, "ids", list) : 0;
	free(list);
	return status;
}

static int add_module(struct extend *x, const struct nod_module *from, FILE *out)
{
	struct nod_id_rule *rules = calloc(from->id_count + 1, sizeof(*rules));
	struct nod_module m = *from;
	int there = nod_vehicle_module_by_name(x->old, from->name), status = 0;

	if (!rules)
		return -ENOMEM;
	m.ids = rules;
	m.id_count = 0;
	for (size_t i = 0; i < from->id_count; i++)
		if (has_id(x, there, &from->ids[i]))
			continue;
		else if (is_claimed(x, from, &from->ids[i]))
			x->done->claimed++;
		else
			rules[m.id_count++] = from->ids[i];
	if (there != NOD_NONE) {
		status = add_ids(x, x->old->modules[there].name, &m);
	} else {
		nod_vehicle_write_module(out, x->more, &m);
		x->done->modules++;
	}
	free(rules);
	return status;
}

static int add_modules(struct extend *x)
{
	struct nod_text_stream stream;
	int status = nod_text_stream_open(&stream);

	if (status)
		return status;
	for (size_t i = 0; !status && i < x->more->module_count; i++)
		status = add_module(x, &x->more->modules[i], stream.out);
	int failed = nod_text_stream_close(&stream);
	status = status ? status : failed;
	if (!status)
		status = nod_splice_section(&x->splice, "modules", stream.text);
	free(stream.text);
	return status;
}

/* ---- messages ---- */

static bool is_described(const struct extend *x, const struct nod_message *m)
{
	int network = old_network(x, m->networks, m->network_count);

	if (!m->id.mask)
		return !(m->network_count && network == NOD_NONE) &&
		       nod_vehicle_message_of_id(x->old, network, m->id.first) != NOD_NONE;
	for (size_t i = 0; i < x->old->message_count; i++)
		if (x->old->messages[i].id.mask == m->id.mask &&
		    x->old->messages[i].id.first == m->id.first)
			return true;
	return false;
}

static bool has_message(const struct nod_vehicle *v, const char *name)
{
	for (size_t i = 0; i < v->message_count; i++)
		if (!strcasecmp(v->messages[i].name, name))
			return true;
	return false;
}

/* A name that is taken gets the ID behind it. */
static void write_message(struct extend *x, const struct nod_message *m, FILE *out)
{
	char name[120], id[NOD_ID_RULE_TEXT];
	struct nod_message copy = *m;

	if (has_message(x->old, m->name)) {
		int length = (int)strnlen(m->name, 50);
		while (m->name[length] && length && ((unsigned char)m->name[length] & 0xC0) == 0x80)
			length--;
		snprintf(name, sizeof(name), "%.*s (%s)", length, m->name,
			 nod_id_rule_print(id, &m->id));
		copy.name = name;
	}
	nod_message_write(&copy, x->more, out);
	x->done->messages++;
}

static int add_messages(struct extend *x)
{
	struct nod_text_stream stream;
	int status = nod_text_stream_open(&stream);

	if (status)
		return status;
	for (size_t i = 0; i < x->more->message_count; i++)
		if (is_described(x, &x->more->messages[i]))
			x->done->known++;
		else
			write_message(x, &x->more->messages[i], stream.out);
	status = nod_text_stream_close(&stream);
	if (!status)
		status = nod_splice_section(&x->splice, "messages", stream.text);
	free(stream.text);
	return status;
}

/* ---- all of it ---- */

/* What was there is there still, in its place. */
static bool kept(const struct nod_vehicle *old, const struct nod_vehicle *now)
{
	bool same = now->network_count >= old->network_count &&
		    now->module_count >= old->module_count && now->fuse_count == old->fuse_count &&
		    now->message_count >= old->message_count;

	for (size_t i = 0; same && i < old->module_count; i++)
		same = !strcmp(old->modules[i].name, now->modules[i].name) &&
		       old->modules[i].id_count <= now->modules[i].id_count;
	for (size_t i = 0; same && i < old->message_count; i++)
		same = !strcmp(old->messages[i].name, now->messages[i].name);
	return same;
}

static int check(const char *text, const struct nod_vehicle *old, const char *name,
		 struct nod_error *err)
{
	struct nod_error why = {""};
	struct nod_vehicle *now = nod_vehicle_parse(text, strlen(text), "the result", &why);
	bool good = now && kept(old, now);

	nod_vehicle_free(now);
	return good ? 0
		    : nod_error_set(err, EINVAL,
				    "%s: it is written so that nothing can be added without "
				    "changing it: %s",
				    name, *why.text ? why.text : "lines would move");
}

static int extend(struct extend *x, const char *name, char **result, struct nod_error *err)
{
	int status = add_networks(x);

	if (!status)
		status = add_modules(x);
	if (!status)
		status = add_messages(x);
	if (!status && !(*result = nod_splice_apply(&x->splice)))
		status = -ENOMEM;
	if (status == -ENOMEM)
		return nod_error_set(err, ENOMEM, "%s: out of memory", name);
	return status ? status : check(*result, x->old, name, err);
}

char *nod_vehicle_extend(const char *text, size_t length, const char *name,
			 const struct nod_vehicle *more, struct nod_extension *done,
			 struct nod_error *err)
{
	struct nod_vehicle *old = nod_vehicle_parse(text, length, name, err);
	struct extend x = {.old = old, .more = more, .done = done};
	char *result = NULL;
	int status = old ? nod_splice_begin(&x.splice, text, length, name, err) : -errno;

	*done = (struct nod_extension){0};
	if (!status) {
		x.network = calloc(more->network_count + 1, sizeof(int));
		status = x.network ? extend(&x, name, &result, err)
				   : nod_error_set(err, ENOMEM, "%s: out of memory", name);
		nod_splice_end(&x.splice);
	}
	free(x.network);
	nod_vehicle_free(old);
	if (!status)
		return result;
	free(result);
	errno = -status;
	return NULL;
}
