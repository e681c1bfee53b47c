/* SPDX-License-Identifier: MIT */
#include "current-offset.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "engine.h"
#include "session.h"

/* What a session says about its networks, and all that keeps it alive. */
struct watch {
	struct nod_session *session;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *findings;
	nod_time last;
};

static void watch_free(struct watch *w)
{
	nod_findings_free(w->findings);
	nod_engine_free(w->engine);
	nod_vehicle_free(w->vehicle);
	nod_session_close(w->session);
}

static int watch_open(struct watch *w, const char *path, struct nod_error *err)
{
	w->session = nod_session_open(path, err);
	if (!w->session)
		return -errno;
	const char *vehicle = nod_session_vehicle(w->session);
	w->vehicle = vehicle ? nod_vehicle_load(vehicle, err) : nod_vehicle_new();
	if (!w->vehicle)
		return vehicle ? -errno : nod_error_set(err, ENOMEM, "out of memory");
	w->engine = nod_engine_new(w->vehicle, nod_session_interfaces(w->session));
	if (!w->engine)
		return nod_error_set(err, ENOMEM, "out of memory");
	return 0;
}

static int watch_read(struct watch *w, struct nod_error *err)
{
	const struct nod_event *event;
	int rc;

	while ((rc = nod_session_next(w->session, &event, err)) > 0) {
		if (event->kind == NOD_EVENT_CURRENT)
			continue; /* another logger's, on this clock already */
		if (nod_engine_take(w->engine, event))
			return nod_error_set(err, ENOMEM, "out of memory");
		if (event->time.ns > w->last.ns)
			w->last = event->time;
	}
	if (rc < 0)
		return rc;
	nod_engine_advance(w->engine, w->last);
	w->findings = nod_engine_findings(w->engine);
	return w->findings ? 0 : nod_error_set(err, ENOMEM, "out of memory");
}

static int compare(const void *a, const void *b)
{
	const struct nod_transition *x = a, *y = b;

	if (x->time.ns != y->time.ns)
		return x->time.ns < y->time.ns ? -1 : 1;
	return x->network != y->network ? x->network - y->network : x->wakes - y->wakes;
}

/* Every time a network was heard to wake, or to fall asleep. NULL without
 * memory; free it. */
static struct nod_transition *transitions_of(const struct nod_findings *f, size_t *count)
{
	size_t room = 1;

	for (size_t i = 0; i < f->network_count; i++)
		room += 2 * f->networks[i].span_count;
	struct nod_transition *list = calloc(room, sizeof(*list));
	*count = 0;
	for (size_t i = 0; list && i < f->network_count; i++)
		for (size_t k = 0; k < f->networks[i].span_count; k++) {
			const struct nod_span_finding *s = &f->networks[i].spans[k];
			if (s->slept_before)
				list[(*count)++] = (struct nod_transition){s->from, (int)i, true};
			if (!s->open && s->silence_known)
				list[(*count)++] = (struct nod_transition){s->to, (int)i, false};
		}
	if (list)
		qsort(list, *count, sizeof(*list), compare);
	return list;
}

static int match(struct nod_clock_offset *result, const struct watch *w,
		 const struct nod_current_trace *trace)
{
	const struct nod_current_request request = {.lock = NOD_TIME_NONE,
						    .wander_ua = NOD_CLAMP_WANDER_UA};
	struct nod_offset_step steps[NOD_OFFSET_STEPS];
	struct nod_arena arena = {0};
	size_t count, step_count = 0;
	struct nod_transition *transitions = transitions_of(w->findings, &count);
	struct nod_current_findings *current = nod_current_trace_findings(trace, &request, &arena);
	nod_time from = NOD_TIME_NONE, to = NOD_TIME_NONE;
	int rc = -ENOMEM;

	if (current) {
		step_count = nod_offset_steps_collect(steps, NOD_OFFSET_STEPS, current);
		from = current->from;
		to = current->to;
	}
	if (transitions)
		rc = nod_clock_offset_find(result, steps, step_count, from, to, transitions, count,
					   w->findings->start, w->findings->end);
	free(transitions);
	nod_arena_free(&arena);
	return rc;
}

int nod_current_offset_find(struct nod_clock_offset *result, const char *session,
			    const struct nod_current_trace *trace, struct nod_error *err)
{
	struct watch w = {.last = NOD_TIME_NONE};
	int rc = watch_open(&w, session, err);

	if (!rc)
		rc = watch_read(&w, err);
	if (!rc && match(result, &w, trace))
		rc = nod_error_set(err, ENOMEM, "out of memory");
	watch_free(&w);
	return rc;
}
