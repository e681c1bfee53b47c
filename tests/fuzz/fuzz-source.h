/* SPDX-License-Identifier: MIT */
/* Reads a capture from memory to its end and sums up what it gave, so that two
 * readings can be compared. */
#ifndef FUZZ_SOURCE_H
#define FUZZ_SOURCE_H

#include "../lib/memory-reader.h"
#include "fuzz.h"
#include "source.h"

struct fuzz_reading {
	bool opened;
	int status;      /* of the last call, or the negative errno of opening */
	uint64_t digest; /* of all events: FNV-1a, 64 bits */
	uint64_t events, frames, defects, losses;
	struct nod_source_counts counts;
	char form[80];
};

static inline void fuzz_digest(uint64_t *digest, const void *bytes, size_t size)
{
	const uint8_t *p = bytes;

	for (size_t i = 0; i < size; i++)
		*digest = (*digest ^ p[i]) * UINT64_C(0x100000001B3);
}

static inline void fuzz_digest_text(uint64_t *digest, const char *text)
{
	fuzz_digest(digest, text, strlen(text) + 1);
}

static inline void fuzz_take_frame(struct fuzz_reading *r, const struct nod_frame *frame,
				   const struct nod_interfaces *names)
{
	FUZZ_CHECK(frame->interface < names->count && nod_time_is_loggable(frame->time));
	FUZZ_CHECK(frame->length <= (frame->flags & NOD_FRAME_FD ? 64 : 8));
	FUZZ_CHECK(!frame->raw_dlc ||
		   (frame->raw_dlc > 8 && frame->raw_dlc <= 15 && frame->length == 8));
	r->frames++;
	fuzz_digest(&r->digest, &frame->id, sizeof(frame->id));
	fuzz_digest(&r->digest, &frame->length, 4); /* length, flags, raw_dlc, interface */
	if (!(frame->id & NOD_ID_REMOTE))
		fuzz_digest(&r->digest, frame->data, frame->length);
}

static inline void fuzz_take_event(struct fuzz_reading *r, const struct nod_event *event,
				   const struct nod_interfaces *names)
{
	r->events++;
	fuzz_digest(&r->digest, &event->kind, sizeof(event->kind));
	fuzz_digest(&r->digest, &event->time, sizeof(event->time));
	switch (event->kind) {
	case NOD_EVENT_FRAME:
		FUZZ_CHECK(event->frame.time.ns == event->time.ns);
		fuzz_take_frame(r, &event->frame, names);
		break;
	case NOD_EVENT_LOSS:
		FUZZ_CHECK(event->loss.interface == NOD_ALL_INTERFACES ||
			   event->loss.interface < names->count);
		r->losses++;
		break;
	case NOD_EVENT_HEADER:
		fuzz_digest_text(&r->digest, event->header.key);
		fuzz_digest_text(&r->digest, event->header.value);
		break;
	case NOD_EVENT_DEFECT:
		FUZZ_CHECK(event->defect.file && event->defect.line && event->defect.reason);
		fuzz_digest(&r->digest, &event->defect.line, sizeof(event->defect.line));
		fuzz_digest(&r->digest, &event->defect.column, sizeof(event->defect.column));
		fuzz_digest_text(&r->digest, event->defect.reason);
		r->defects++;
		break;
	default:
		FUZZ_CHECK(event->kind == NOD_EVENT_FRAME); /* a capture holds nothing else */
	}
}

/* Reads at most `events`; a longer capture is left at that. piece as in memory-reader.h. */
static inline struct fuzz_reading fuzz_read(const uint8_t *data, size_t size, size_t piece,
					    uint64_t events)
{
	struct memory_reader reader = {data, size, 0, piece, piece ? 0x9E3779B97F4A7C15 : 0, 0};
	struct nod_interfaces names = {.count = 0};
	struct fuzz_reading r = {.digest = UINT64_C(0xCBF29CE484222325)};
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_source *source = nod_source_open_reader(memory_read, &reader, "capture", &names,
							   &err);

	if (!source) {
		FUZZ_CHECK(err.text[0]);
		return r;
	}
	r.opened = true;
	while (r.events < events && (r.status = nod_source_next(source, &event, &err)) > 0)
		fuzz_take_event(&r, event, &names);
	FUZZ_CHECK(r.status >= 0 || err.text[0]);
	nod_source_counts(source, &r.counts);
	FUZZ_CHECK(r.counts.frames == r.frames && r.counts.defects == r.defects);
	FUZZ_CHECK(r.counts.errors <= r.frames && r.counts.back_steps <= r.frames);
	FUZZ_CHECK(r.counts.largest_back_step.ns >= 0 && (r.losses || !r.counts.lost));
	snprintf(r.form, sizeof(r.form), "%s", nod_source_form(source));
	nod_source_close(source);
	return r;
}

/* The same capture as a whole and in pieces of random size is the same. */
static inline void fuzz_read_twice(const uint8_t *data, size_t size, uint64_t events)
{
	struct fuzz_reading whole = fuzz_read(data, size, 0, events);
	struct fuzz_reading pieces = fuzz_read(data, size, 61, events);

	FUZZ_CHECK(whole.opened == pieces.opened && whole.status == pieces.status);
	FUZZ_CHECK(whole.events == pieces.events && whole.digest == pieces.digest);
	FUZZ_CHECK(whole.counts.torn == pieces.counts.torn);
	FUZZ_CHECK(whole.counts.lines == pieces.counts.lines);
	FUZZ_CHECK(!strcmp(whole.form, pieces.form));
}

#endif
