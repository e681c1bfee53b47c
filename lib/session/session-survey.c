/* SPDX-License-Identifier: MIT */
#include "session-survey.h"

#include <string.h>

#include "mark-forms.h"

static void init_interface(struct nod_survey_interface *interface)
{
	interface->first = interface->last = NOD_TIME_NONE;
}

void nod_survey_init(struct nod_survey *survey)
{
	memset(survey, 0, sizeof(*survey));
	for (size_t i = 0; i < 255; i++)
		init_interface(&survey->interfaces[i]);
	init_interface(&survey->all);
	survey->first = survey->last = survey->end = NOD_TIME_NONE;
	survey->lock.time = survey->lock.start = NOD_TIME_NONE;
}

static void reach(struct nod_survey *survey, nod_time time)
{
	if (time.ns > survey->end.ns)
		survey->end = time;
}

static void take_heard(struct nod_survey *survey, nod_time time)
{
	if (!nod_time_is_set(survey->first))
		survey->first = time;
	if (time.ns > survey->last.ns)
		survey->last = time;
	reach(survey, time);
}

static void take_frame(struct nod_survey_interface *interface, const struct nod_frame *frame)
{
	if (nod_frame_is_error(frame)) {
		interface->errors++;
		return;
	}
	interface->frames++;
	if (!nod_time_is_set(interface->first))
		interface->first = frame->time;
	if (frame->time.ns > interface->last.ns)
		interface->last = frame->time;
}

static void take_gap(struct nod_survey_interface *interface, nod_duration length)
{
	interface->gaps++;
	interface->gap_length.ns = nod_ns_add(interface->gap_length.ns, length.ns);
}

static void take_mark(struct nod_survey *survey, const struct nod_mark *mark,
		      const struct nod_interfaces *interfaces)
{
	nod_duration length;
	uint8_t interface;

	survey->marks++;
	reach(survey, mark->time);
	survey->clock_steps += mark->kind == NOD_MARK_CLOCK_STEP;
	if (mark->kind != NOD_MARK_GAP || nod_mark_gap(mark, interfaces, &interface, &length))
		return;
	if (interface == NOD_ALL_INTERFACES)
		take_gap(&survey->all, length);
	else
		take_gap(&survey->interfaces[interface], length);
}

static void take_loss(struct nod_survey_interface *interface, uint64_t count)
{
	interface->losses++;
	interface->lost += count;
}

static void take_header(struct nod_survey *survey, const char *key, const char *value)
{
	nod_time time;

	if (!strcmp(key, "ended") && !nod_time_parse(&time, value, strlen(value)))
		reach(survey, time);
}

void nod_survey_take(struct nod_survey *survey, const struct nod_event *event,
		     const struct nod_interfaces *interfaces)
{
	switch (event->kind) {
	case NOD_EVENT_FRAME:
		take_frame(&survey->interfaces[event->frame.interface], &event->frame);
		take_frame(&survey->all, &event->frame);
		take_heard(survey, event->time);
		break;
	case NOD_EVENT_LOSS:
		take_loss(&survey->all, event->loss.count);
		if (event->loss.interface != NOD_ALL_INTERFACES)
			take_loss(&survey->interfaces[event->loss.interface], event->loss.count);
		break;
	case NOD_EVENT_CURRENT:
		survey->samples++;
		take_heard(survey, event->time);
		break;
	case NOD_EVENT_MARK:
		take_mark(survey, &event->mark, interfaces);
		break;
	case NOD_EVENT_HEADER:
		take_header(survey, event->header.key, event->header.value);
		break;
	case NOD_EVENT_DEFECT:
		survey->defects++;
		break;
	default:
		break;
	}
}

int nod_survey_session(struct nod_survey *survey, struct nod_session *session,
		       struct nod_error *err)
{
	const struct nod_event *event;
	int result;

	nod_survey_init(survey);
	while ((result = nod_session_next(session, &event, err)) > 0)
		nod_survey_take(survey, event, nod_session_interfaces(session));
	nod_session_lock(session, &survey->lock);
	return result;
}
