/* SPDX-License-Identifier: MIT */
/* A recording in a directory of its own, and what it holds. */
#ifndef RECORDING_H
#define RECORDING_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "faulty-ops.h"
#include "recorder.h"
#include "scratch.h"
#include "session.h"

#define S NOD_NS_PER_S

static struct nod_interfaces names = {2, {"can0", "can1"}};

static inline struct nod_recorder *start(struct scratch *s, const struct nod_file_ops *ops,
					 int digits)
{
	struct nod_recorder_settings settings = {.directory = s->path,
						 .interfaces = &names,
						 .clock = "kernel",
						 .digits = digits,
						 .ops = ops};
	struct nod_error err = {""};
	struct nod_recorder *recorder = nod_recorder_new(&settings, &err);

	assert_int_equal(recorder == NULL, err.text[0] != '\0');
	return recorder;
}

static inline int take_frame(struct nod_recorder *recorder, int64_t ns, uint8_t interface,
			     uint32_t id)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {ns}};

	event.frame.time.ns = ns;
	event.frame.interface = interface;
	event.frame.id = id;
	event.frame.length = 2;
	event.frame.data[0] = (uint8_t)ns;
	event.frame.data[1] = (uint8_t)(ns >> 8);
	return nod_recorder_take(recorder, &event);
}

static inline int take_mark(struct nod_recorder *recorder, int64_t s, enum nod_mark_kind kind,
			    const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = {s * S}};

	event.mark = (struct nod_mark){event.time, kind, subject};
	return nod_recorder_take(recorder, &event);
}

/* What the recording holds, as text, and how much of it. */
struct content {
	char text[16384];
	int frames, marks, samples, defects, torn;
	uint64_t lost;
};

static inline void add(struct content *c, const char *format, ...)
{
	size_t used = strlen(c->text);
	va_list args;

	va_start(args, format);
	vsnprintf(c->text + used, sizeof(c->text) - used, format, args);
	va_end(args);
}

static inline void add_event(struct content *c, struct nod_session *session,
			     const struct nod_event *event)
{
	char time[NOD_TIME_TEXT];
	const char *at = nod_time_is_set(event->time) ? nod_time_print(time, event->time, 9) : "-";

	if (event->kind == NOD_EVENT_FRAME) {
		c->frames++;
		if (c->frames < 100)
			add(c, "%s %s %X\n", at,
			    nod_session_interfaces(session)->names[event->frame.interface],
			    event->frame.id);
	} else if (event->kind == NOD_EVENT_MARK) {
		c->marks++;
		add(c, "%s %s %s\n", at, nod_mark_kind_name(event->mark.kind), event->mark.subject);
	} else if (event->kind == NOD_EVENT_CURRENT) {
		c->samples++;
		add(c, "%s %d uA\n", at, (int)event->current.microamps);
	} else if (event->kind == NOD_EVENT_LOSS) {
		c->lost += event->loss.count;
		add(c, "%s lost %d on %s\n", at, (int)event->loss.count,
		    nod_session_interfaces(session)->names[event->loss.interface]);
	} else if (event->kind == NOD_EVENT_HEADER) {
		if (strcmp(event->header.key, "tool") != 0)
			add(c, "%s # %s: %s\n", at, event->header.key, event->header.value);
	} else {
		c->defects++;
	}
}

static inline void read_back(struct scratch *s, struct content *c)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(s->path, &err);
	const struct nod_event *event;

	memset(c, 0, sizeof(*c));
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		add_event(c, session, event);
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		c->torn += nod_session_file(session, i)->counts.torn;
	assert_string_equal(err.text, "");
	nod_session_close(session);
}

#endif
