/* SPDX-License-Identifier: MIT */
#include "session-current.h"

#include <errno.h>
#include <string.h>

#include "current-log.h"

int nod_session_current_open(struct nod_session_current *current, struct nod_session_file *file,
			     struct nod_arena *texts)
{
	*current = (struct nod_session_current){
		.file = file, .texts = texts, .last = NOD_TIME_NONE};
	file->form = "current";
	current->log = nod_text_log_open(file->path, NULL);
	if (!current->log && errno == ENOMEM)
		return -ENOMEM;
	current->untold = !current->log;
	if (!current->log)
		file->fault = nod_arena_printf(texts, "cannot be read: %s", strerror(errno));
	return 0;
}

static int defect(struct nod_session_current *current, uint64_t line, unsigned column,
		  const char *reason, const struct nod_event **event)
{
	current->file->counts.defects++;
	current->event = (struct nod_event){.kind = NOD_EVENT_DEFECT, .time = current->last};
	current->event.defect.file = current->file->path;
	current->event.defect.line = line;
	current->event.defect.column = column;
	current->event.defect.reason = reason;
	*event = &current->event;
	return 1;
}

static int sample(struct nod_session_current *current, nod_time time, int64_t microamps,
		  const struct nod_event **event)
{
	struct nod_source_counts *counts = &current->file->counts;

	counts->frames++;
	if (nod_time_is_set(current->last) && time.ns < current->last.ns) {
		nod_duration back = nod_time_since(current->last, time);
		counts->back_steps++;
		if (back.ns > counts->largest_back_step.ns)
			counts->largest_back_step = back;
	}
	current->last = time;
	current->event = (struct nod_event){.kind = NOD_EVENT_CURRENT, .time = time};
	current->event.current.microamps = microamps;
	*event = &current->event;
	return 1;
}

/* "# clock-step: -2 s": what follows is stamped by the clock as it was set. */
static int clock_step(struct nod_session_current *current, const char *value,
		      const struct nod_event **event)
{
	current->event = (struct nod_event){.kind = NOD_EVENT_HEADER, .time = current->last};
	current->event.header.key = "clock-step";
	current->event.header.value = value;
	*event = &current->event;
	return 1;
}

/* The end was reached, or the file cannot be read on. */
static int finish(struct nod_session_current *current, int code, const struct nod_event **event)
{
	struct nod_session_file *file = current->file;
	uint64_t line = nod_text_log_torn_line(current->log);

	file->counts.torn = nod_text_log_torn(current->log);
	nod_session_current_close(current);
	if (code < 0)
		file->fault = nod_arena_printf(current->texts, "cannot be read on: %s",
					       strerror(-code));
	else if (file->counts.torn)
		file->fault = "its last line is cut off and was not taken";
	return file->fault ? defect(current, line, 0, file->fault, event) : 0;
}

int nod_session_current_next(struct nod_session_current *current, const struct nod_event **event)
{
	struct nod_text_line line;
	unsigned column = 0;
	nod_time time;
	int64_t microamps;
	int result;

	if (current->untold) {
		current->untold = false;
		return defect(current, 1, 0, current->file->fault, event);
	}
	if (!current->log)
		return 0;
	while ((result = nod_text_log_next(current->log, &line)) > 0) {
		current->file->counts.lines = line.number;
		if (line.fault)
			return defect(current, line.number, 0, line.fault, event);
		result = nod_current_parse(&time, &microamps, line.text, &column, &current->reason);
		if (result < 0)
			return defect(current, line.number, column, current->reason.text, event);
		if (result)
			return sample(current, time, microamps, event);
		if (!strncmp(line.text, NOD_CURRENT_STEP, strlen(NOD_CURRENT_STEP)))
			return clock_step(current, line.text + strlen(NOD_CURRENT_STEP), event);
	}
	return finish(current, result, event);
}

void nod_session_current_close(struct nod_session_current *current)
{
	nod_text_log_close(current->log);
	current->log = NULL;
}
