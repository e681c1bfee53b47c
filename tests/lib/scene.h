/* SPDX-License-Identifier: MIT */
/* A small language for scenes: an engine, and what happens to it. Times are
 * milliseconds on the session's clock. */
#ifndef NOD_TEST_SCENE_H
#define NOD_TEST_SCENE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "answer.h"
#include "answer-json.h"
#include "engine.h"
#include "heard-times.h"

struct scene {
	struct nod_interfaces interfaces;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *found;
	struct nod_heard *heard; /* fed, too, when a test sets it; the scene frees it */
};

/* vehicle: text of a vehicle file, or NULL. */
static inline void scene_begin(struct scene *s, const char *vehicle)
{
	struct nod_error err = {""};

	memset(s, 0, sizeof(*s));
	if (vehicle) {
		s->vehicle = nod_vehicle_parse(vehicle, strlen(vehicle), "scene", &err);
		if (!s->vehicle)
			fail_msg("%s", err.text);
	}
	for (int i = 0; i < 3; i++) {
		char name[16];
		snprintf(name, sizeof(name), "can%d", i);
		assert_int_equal(nod_interfaces_index(&s->interfaces, name, strlen(name)), i);
	}
	s->engine = nod_engine_new(s->vehicle, &s->interfaces);
	assert_non_null(s->engine);
}

static inline void scene_end(struct scene *s)
{
	nod_findings_free(s->found);
	nod_engine_free(s->engine);
	nod_heard_free(s->heard);
	nod_vehicle_free(s->vehicle);
}

static inline void scene_take(struct scene *s, const struct nod_event *event)
{
	assert_int_equal(nod_engine_take(s->engine, event), 0);
	if (s->heard)
		assert_int_equal(nod_heard_take(s->heard, event, (nod_duration){0}), 0);
}

/* A frame on can<interface>: "2A0#1122". */
static inline void frame_at(struct scene *s, int64_t ms, int interface, const char *text)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};
	const char *hash = strchr(text, '#');

	e.frame.time = e.time;
	e.frame.interface = (uint8_t)interface;
	assert_int_equal(nod_id_parse(&e.frame.id, text, (unsigned)(hash - text)), 0);
	for (const char *p = hash + 1; p[0] && p[1]; p += 2) {
		char byte[3] = {p[0], p[1], 0};
		e.frame.data[e.frame.length++] = (uint8_t)strtoul(byte, NULL, 16);
	}
	scene_take(s, &e);
}

static inline void mark_at(struct scene *s, int64_t ms, enum nod_mark_kind kind,
			   const char *subject)
{
	struct nod_event e = {.kind = NOD_EVENT_MARK, .time = {ms * NOD_NS_PER_MS}};

	e.mark = (struct nod_mark){e.time, kind, subject};
	scene_take(s, &e);
}

static inline void loss_at(struct scene *s, int64_t ms, int interface)
{
	struct nod_event e = {.kind = NOD_EVENT_LOSS, .time = {ms * NOD_NS_PER_MS}};

	e.loss.interface = (uint8_t)interface;
	e.loss.count = 7;
	scene_take(s, &e);
}

struct cyclic {
	int interface;
	const char *text;
	int64_t from, to, period; /* ms */
};

/* All frames of several cyclic messages, in time order. */
static inline void play(struct scene *s, const struct cyclic *messages, size_t count)
{
	int64_t next[64];

	for (size_t i = 0; i < count; i++)
		next[i] = messages[i].from;
	for (;;) {
		size_t first = count;
		for (size_t i = 0; i < count; i++)
			if (next[i] < messages[i].to && (first == count || next[i] < next[first]))
				first = i;
		if (first == count)
			return;
		frame_at(s, next[first], messages[first].interface, messages[first].text);
		next[first] += messages[first].period;
	}
}

#define PLAY(s, ...)                                  \
	play(s, (const struct cyclic[]){__VA_ARGS__}, \
	     sizeof((const struct cyclic[]){__VA_ARGS__}) / sizeof(struct cyclic))

/* The findings when the recording has gone on until `ms`. */
static inline const struct nod_findings *found_at(struct scene *s, int64_t ms)
{
	nod_engine_advance(s->engine, (nod_time){ms * NOD_NS_PER_MS});
	nod_findings_free(s->found);
	s->found = nod_engine_findings(s->engine);
	assert_non_null(s->found);
	return s->found;
}

/* What was found out about a suspect; NULL, or 0: it is none, or has none of that
 * kind. */
static inline const struct nod_suspect *suspect(const struct nod_findings *f, const char *name)
{
	for (size_t i = 0; i < f->suspect_count; i++)
		if (!strcmp(f->suspects[i].name, name))
			return &f->suspects[i];
	return NULL;
}

static inline double probability(const struct nod_findings *f, const char *name)
{
	return suspect(f, name) ? suspect(f, name)->probability : 0;
}

static inline const char *evidence(const struct nod_findings *f, const char *name,
				   enum nod_evidence kind)
{
	const struct nod_suspect *s = suspect(f, name);

	for (size_t i = 0; s && i < s->evidence_count; i++)
		if (s->evidence[i].kind == kind)
			return s->evidence[i].text;
	return NULL;
}

/* The answer as JSON text; the caller frees it. */
static inline char *answer_text(const struct nod_findings *f)
{
	json_t *json = nod_answer_json(f);
	char *text = json_dumps(json, NOD_JSON_FLAGS);

	json_decref(json);
	assert_non_null(text);
	return text;
}

#endif
