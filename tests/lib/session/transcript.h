/* SPDX-License-Identifier: MIT */
/* What a session delivers, as text. */
#ifndef TRANSCRIPT_H
#define TRANSCRIPT_H

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <zstd.h>

#include "scratch.h"
#include "session.h"

/* What a session delivers, as text: one line an event. */
struct transcript {
	char text[8192];
	size_t length;
	int frames, marks, samples, defects;
};

static inline void put(struct transcript *t, const char *what, nod_time time, const char *rest)
{
	char at[NOD_TIME_TEXT] = "-";

	if (nod_time_is_set(time))
		nod_time_print(at, time, 0);
	t->length += (size_t)snprintf(t->text + t->length, sizeof(t->text) - t->length,
				      "%s %s%s%s\n", at, what, *rest ? " " : "", rest);
	assert_true(t->length < sizeof(t->text));
}

static inline void put_event(struct transcript *t, const struct nod_event *event)
{
	char rest[700] = "";

	switch (event->kind) {
	case NOD_EVENT_FRAME:
		nod_id_print(rest, event->frame.id);
		t->frames++;
		put(t, "frame", event->time, rest);
		break;
	case NOD_EVENT_MARK:
		t->marks++;
		put(t, nod_mark_kind_name(event->mark.kind), event->time, event->mark.subject);
		break;
	case NOD_EVENT_CURRENT:
		t->samples++;
		put(t, "current", event->time, "");
		break;
	case NOD_EVENT_DEFECT:
		snprintf(rest, sizeof(rest), "%s:%d:%u %s", strrchr(event->defect.file, '/') + 1,
			 (int)event->defect.line, event->defect.column, event->defect.reason);
		t->defects++;
		put(t, "defect", event->time, rest);
		break;
	case NOD_EVENT_HEADER:
		put(t, "header", event->time, event->header.key);
		break;
	case NOD_EVENT_LOSS:
		put(t, "loss", event->time, "");
		break;
	default:
		fail();
	}
}

static inline void read_all(struct nod_session *session, struct transcript *t)
{
	const struct nod_event *event;
	struct nod_error err = {""};
	int result;

	memset(t, 0, sizeof(*t));
	while ((result = nod_session_next(session, &event, &err)) > 0)
		put_event(t, event);
	assert_int_equal(result, 0);
	assert_int_equal(nod_session_next(session, &event, &err), 0);
}

static inline void check(struct scratch *s, const char *name, const char *expected)
{
	struct nod_error err = {""};
	struct transcript t;
	struct nod_session *session = nod_session_open(scratch_path(s, name), &err);

	assert_string_equal(err.text, "");
	assert_non_null(session);
	read_all(session, &t);
	assert_string_equal(t.text, expected);
	nod_session_close(session);
}

static inline void write_zstd(struct scratch *s, const char *name, const char *text, size_t cut)
{
	char packed[4096];
	size_t length = ZSTD_compress(packed, sizeof(packed), text, strlen(text), 1);

	assert_false(ZSTD_isError(length));
	scratch_write(s, name, packed, length - cut);
}

#endif
