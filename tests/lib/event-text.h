/* SPDX-License-Identifier: MIT */
/* All events of a source as text, so that two readings can be compared. */
#ifndef EVENT_TEXT_H
#define EVENT_TEXT_H

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "memory-reader.h"
#include "source.h"

static inline void event_print(FILE *out, const struct nod_event *e,
			       const struct nod_interfaces *names)
{
	if (nod_time_is_set(e->time))
		fprintf(out, "%" PRId64 " ", e->time.ns);
	switch (e->kind) {
	case NOD_EVENT_FRAME:
		fprintf(out, "%s %08" PRIX32 " [%u] flags %02X dlc %u",
			names->names[e->frame.interface], e->frame.id, e->frame.length,
			e->frame.flags, e->frame.raw_dlc);
		for (unsigned i = 0; i < e->frame.length && !(e->frame.id & NOD_ID_REMOTE); i++)
			fprintf(out, " %02X", e->frame.data[i]);
		break;
	case NOD_EVENT_LOSS:
		fprintf(out, "lost %" PRIu64 " on %s", e->loss.count,
			names->names[e->loss.interface]);
		break;
	case NOD_EVENT_HEADER:
		fprintf(out, "header %s=%s", e->header.key, e->header.value);
		break;
	case NOD_EVENT_DEFECT:
		fprintf(out, "%s:%" PRIu64 ":%u %s", e->defect.file, e->defect.line,
			e->defect.column, e->defect.reason);
		break;
	default:
		fprintf(out, "event %d", (int)e->kind);
	}
	fputc('\n', out);
}

/* Reads to the end, then the counts or the error. The caller frees the text
 * and the source is closed. */
static inline char *events_of(struct nod_source *source, const struct nod_interfaces *names)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);
	const struct nod_event *event;
	struct nod_error err = {""};
	struct nod_source_counts n;
	int status;

	while ((status = nod_source_next(source, &event, &err)) > 0)
		event_print(out, event, names);
	nod_source_counts(source, &n);
	fprintf(out,
		"%s: %d %s; %" PRIu64 " lines, %" PRIu64 " frames, %" PRIu64 " errors, %" PRIu64
		" defects, %" PRIu64 " lost, %" PRIu64 " back, %" PRId64 " ns%s\n",
		nod_source_form(source), status, err.text, n.lines, n.frames, n.errors, n.defects,
		n.lost, n.back_steps, n.largest_back_step.ns, n.torn ? ", torn" : "");
	fclose(out);
	nod_source_close(source);
	return text;
}

/* The events of a capture in memory, or the reason why it is refused. */
static inline char *events_in(const void *bytes, size_t length, size_t piece, uint64_t random)
{
	struct memory_reader reader = {bytes, length, 0, piece, random, 0};
	struct nod_interfaces names = {0};
	struct nod_error err = {""};
	struct nod_source *source = nod_source_open_reader(memory_read, &reader, "x.log", &names,
							   &err);

	return source ? events_of(source, &names) : strdup(err.text);
}

#endif
