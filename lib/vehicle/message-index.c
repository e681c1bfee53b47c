/* SPDX-License-Identifier: MIT */
#include "message-index.h"

#include <errno.h>
#include <stdlib.h>

#include "id-rule.h"

struct entry {
	uint32_t id, mask;
	int message;
};

/* Messages that state an ID, sorted by it; then those with a mask, in the file's order. */
struct nod_message_index {
	size_t plain, count;
	struct entry entries[];
};

static int compare(const void *a, const void *b)
{
	const struct entry *x = a, *y = b;

	if (!x->mask != !y->mask)
		return x->mask ? 1 : -1;
	if (!x->mask && x->id != y->id)
		return x->id < y->id ? -1 : 1;
	return x->message < y->message ? -1 : x->message > y->message;
}

struct nod_message_index *nod_message_index_new(const struct nod_vehicle *v)
{
	struct nod_message_index *index = calloc(
		1, sizeof(*index) + v->message_count * sizeof(index->entries[0]));

	if (!index)
		return NULL;
	index->count = v->message_count;
	for (size_t i = 0; i < index->count; i++) {
		const struct nod_id_rule *rule = &v->messages[i].id;
		index->entries[i] = (struct entry){rule->first, rule->mask, (int)i};
		index->plain += !rule->mask;
	}
	qsort(index->entries, index->count, sizeof(index->entries[0]), compare);
	return index;
}

void nod_message_index_free(struct nod_message_index *index)
{
	free(index);
}

static bool may_be_on(const struct nod_message *message, int network)
{
	for (size_t i = 0; network != NOD_NONE && i < message->network_count; i++)
		if (message->networks[i] == network)
			return true;
	return network == NOD_NONE || !message->network_count;
}

static size_t first_at(const struct nod_message_index *index, uint32_t id)
{
	size_t low = 0, high = index->plain;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		if (index->entries[middle].id < id)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

int nod_message_index_find(const struct nod_message_index *index, const struct nod_vehicle *v,
			   int network, uint32_t id)
{
	const struct entry *e = index->entries;

	for (size_t i = first_at(index, id); i < index->plain && e[i].id == id; i++)
		if (may_be_on(&v->messages[e[i].message], network))
			return e[i].message;
	for (size_t i = index->plain; i < index->count; i++)
		if (nod_id_rule_matches(&v->messages[e[i].message].id, id) &&
		    may_be_on(&v->messages[e[i].message], network))
			return e[i].message;
	return NOD_NONE;
}

static bool share_network(const struct nod_message *a, const struct nod_message *b)
{
	for (size_t i = 0; i < a->network_count; i++)
		if (may_be_on(b, a->networks[i]))
			return true;
	return !a->network_count;
}

static int report(const struct nod_message *a, const struct nod_message *b, const char *name,
		  struct nod_error *err)
{
	char id[NOD_ID_TEXT];

	return nod_error_at(
		err, EINVAL, name, b->line, 0,
		"message `%s` has the ID %s of `%s` on line %u, expected one message of "
		"an ID on a network",
		b->name, nod_id_print(id, b->id.first), a->name, a->line);
}

int nod_messages_check(const struct nod_vehicle *v, const char *name, struct nod_error *err)
{
	struct nod_message_index *index = nod_message_index_new(v);
	int status = index ? 0 : nod_error_set(err, ENOMEM, "%s: out of memory", name);

	for (size_t i = 0; !status && i < index->plain; i++)
		for (size_t k = i;
		     !status && k-- && index->entries[k].id == index->entries[i].id;) {
			const struct nod_message *a = &v->messages[index->entries[k].message],
						 *b = &v->messages[index->entries[i].message];
			if (share_network(a, b))
				status = report(a, b, name, err);
		}
	nod_message_index_free(index);
	return status;
}
