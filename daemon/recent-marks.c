/* SPDX-License-Identifier: MIT */
#include "recent-marks.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

void nod_recent_marks_clear(struct nod_recent_marks *recent)
{
	for (size_t i = 0; i < recent->count; i++)
		free((char *)recent->list[i].subject);
	recent->count = 0;
	recent->starved = false;
}

void nod_recent_marks_remove(struct nod_recent_marks *recent, const struct nod_mark *mark)
{
	size_t i = (size_t)(mark - recent->list);

	free((char *)mark->subject);
	recent->count--;
	memmove(&recent->list[i], &recent->list[i + 1],
		(recent->count - i) * sizeof(recent->list[0]));
}

int nod_recent_marks_add(struct nod_recent_marks *recent, const struct nod_mark *mark)
{
	if (!nod_mark_is_persons(mark->kind))
		return 0;
	char *subject = strdup(mark->subject);
	if (!subject) {
		recent->starved = true;
		return -ENOMEM;
	}
	if (recent->count == NOD_RECENT_MARKS_MAX)
		nod_recent_marks_remove(recent, &recent->list[0]);
	recent->list[recent->count] = *mark;
	recent->list[recent->count++].subject = subject;
	return 0;
}

const struct nod_mark *nod_recent_marks_find(const struct nod_recent_marks *recent,
					     const struct nod_mark *like)
{
	for (size_t i = recent->count; i-- > 0;) {
		const struct nod_mark *mark = &recent->list[i];
		if (!like || (mark->time.ns == like->time.ns && mark->kind == like->kind &&
			      !strcmp(mark->subject, like->subject)))
			return mark;
	}
	return NULL;
}
