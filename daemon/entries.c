/* SPDX-License-Identifier: MIT */
#include "entries.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

void nod_entries_clear(struct nod_entries *entries)
{
	for (size_t i = 0; i < entries->count; i++)
		free((char *)entries->list[i].subject);
	entries->count = 0;
	entries->starved = false;
}

void nod_entries_remove(struct nod_entries *entries, const struct nod_mark *entry)
{
	size_t i = (size_t)(entry - entries->list);

	free((char *)entry->subject);
	entries->count--;
	memmove(&entries->list[i], &entries->list[i + 1],
		(entries->count - i) * sizeof(entries->list[0]));
}

int nod_entries_add(struct nod_entries *entries, const struct nod_mark *mark)
{
	if (!nod_mark_is_persons(mark->kind))
		return 0;
	char *subject = strdup(mark->subject);
	if (!subject) {
		entries->starved = true;
		return -ENOMEM;
	}
	if (entries->count == NOD_ENTRIES_MAX)
		nod_entries_remove(entries, &entries->list[0]);
	entries->list[entries->count] = *mark;
	entries->list[entries->count++].subject = subject;
	return 0;
}

const struct nod_mark *nod_entries_find(const struct nod_entries *entries,
					const struct nod_mark *like)
{
	for (size_t i = entries->count; i-- > 0;) {
		const struct nod_mark *entry = &entries->list[i];
		if (!like || (entry->time.ns == like->time.ns && entry->kind == like->kind &&
			      !strcmp(entry->subject, like->subject)))
			return entry;
	}
	return NULL;
}
