/* SPDX-License-Identifier: MIT */
#include "live.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "moment-text.h"
#include "session-about.h"
#include "session-create.h"
#include "vehicle.h"
#include "zone.h"

/* As candump writes: the pieces are to open with canplayer. */
#define TIME_DIGITS 6

struct analysis {
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
};

static int new_analysis(struct analysis *analysis, const char *vehicle_path,
			const struct nod_interfaces *interfaces, struct nod_error *err)
{
	*analysis = (struct analysis){NULL, NULL};
	if (vehicle_path) {
		analysis->vehicle = nod_vehicle_load(vehicle_path, err);
		if (!analysis->vehicle)
			return -errno;
	}
	analysis->engine = nod_engine_new(analysis->vehicle, interfaces);
	if (!analysis->engine) {
		nod_vehicle_free(analysis->vehicle);
		return nod_error_set(err, ENOMEM, "out of memory");
	}
	return 0;
}

static void drop_rebuild(struct nod_live *live)
{
	nod_rebuild_free(live->rebuild);
	nod_vehicle_free(live->rebuild_vehicle);
	live->rebuild = NULL;
	live->rebuild_vehicle = NULL;
}

static void replace_analysis(struct nod_live *live, const struct analysis *analysis, nod_time now)
{
	drop_rebuild(live);
	nod_engine_free(live->engine);
	nod_vehicle_free(live->vehicle);
	live->vehicle = analysis->vehicle;
	live->engine = analysis->engine;
	live->started = now;
	live->starved = false;
	live->samples = 0;
	live->current_at = NOD_TIME_NONE;
}

static struct nod_event mark_event(enum nod_mark_kind kind, nod_time now)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = now};

	event.mark = (struct nod_mark){.time = now, .kind = kind, .subject = ""};
	return event;
}

static int take_mark(struct nod_live *live, enum nod_mark_kind kind, nod_time now)
{
	struct nod_event event = mark_event(kind, now);

	return nod_live_take(live, &event);
}

int nod_live_open(struct nod_live *live, const char *vehicle_path,
		  struct nod_interfaces *interfaces, nod_time now, struct nod_error *err)
{
	struct analysis analysis;
	int status = new_analysis(&analysis, vehicle_path, interfaces, err);

	memset(live, 0, sizeof(*live));
	if (status)
		return status;
	live->vehicle_path = vehicle_path;
	live->interfaces = interfaces;
	replace_analysis(live, &analysis, now);
	take_mark(live, NOD_MARK_STARTED, now);
	return 0;
}

/* What was found, for whoever lists the recordings. Returns 0 or a negative errno. */
static int note_end(struct nod_live *live, uint64_t frames, nod_time now)
{
	struct nod_findings *f = nod_engine_findings(live->engine);

	if (!f)
		return -ENOMEM;
	char *sentence = nod_moment_tell_clock(f, f->sentence, NULL);
	struct nod_session_end end = {now, frames, nod_verdict_name(f->verdict), sentence};
	int status = sentence ? nod_session_note_end(live->directory, &end) : -ENOMEM;
	free(sentence);
	nod_findings_free(f);
	return status;
}

static int close_recording(struct nod_live *live, nod_time now)
{
	struct nod_recorder *recorder = live->recorder;
	struct nod_recorder_status status;
	int marked, closed;

	if (!recorder)
		return 0;
	while (live->rebuild && nod_live_follow(live, SIZE_MAX, NULL) > 0)
		continue;
	marked = take_mark(live, NOD_MARK_STOPPED, now);
	nod_engine_advance(live->engine, now);
	nod_recorder_status(recorder, &status);
	closed = nod_recorder_close(recorder, now);
	if (!marked && !closed && !live->starved)
		closed = note_end(live, status.frames - status.lost, now);
	live->recorder = NULL;
	live->directory[0] = 0;
	return marked ? marked : closed;
}

void nod_live_close(struct nod_live *live, nod_time now)
{
	close_recording(live, now);
	replace_analysis(live, &(struct analysis){NULL, NULL}, now);
}

/* Makes the session and begins to write it, or leaves nothing. */
static int begin_recording(struct nod_recorder **recorder, const char *vehicle,
			   const struct nod_session_about *about,
			   const struct nod_recorder_settings *settings, struct nod_error *err)
{
	struct nod_event started = mark_event(NOD_MARK_STARTED, about->created);
	int status = nod_session_create(settings->directory, about, vehicle, NULL, err);

	if (status)
		return status;
	*recorder = nod_recorder_new(settings, err);
	if (!*recorder) {
		status = -errno;
	} else if ((status = nod_recorder_take(*recorder, &started))) {
		nod_error_set(err, -status, "%s: cannot be recorded into: %s", settings->directory,
			      strerror(-status));
		nod_recorder_close(*recorder, about->created);
	}
	if (status)
		nod_session_remove_empty(settings->directory);
	return status;
}

int nod_live_record(struct nod_live *live, const char *path, const char *title, const char *clock,
		    nod_time now, struct nod_error *err)
{
	char zone[NOD_ZONE_TEXT];
	struct nod_session_about about = {
		.title = title, .created = now, .clock = clock, .zone = nod_zone_print(zone)};
	struct nod_recorder_settings settings = {.directory = path,
						 .interfaces = live->interfaces,
						 .clock = clock,
						 .digits = TIME_DIGITS};
	struct nod_recorder *recorder;
	struct analysis analysis;
	int status;

	if (live->recorder)
		return nod_error_set(err, EBUSY, "a session is being recorded: %s",
				     live->directory);
	if (strlen(path) >= sizeof(live->directory))
		return nod_error_set(err, ENAMETOOLONG, "the name is too long");
	status = new_analysis(&analysis, live->vehicle_path, live->interfaces, err);
	if (status)
		return status;
	status = begin_recording(&recorder, live->vehicle_path, &about, &settings, err);
	if (status) {
		nod_engine_free(analysis.engine);
		nod_vehicle_free(analysis.vehicle);
		return status;
	}
	replace_analysis(live, &analysis, now);
	live->recorder = recorder;
	snprintf(live->directory, sizeof(live->directory), "%s", path);
	struct nod_event started = mark_event(NOD_MARK_STARTED, now);
	live->starved = nod_engine_take(live->engine, &started) == -ENOMEM;
	return 0;
}

int nod_live_finish(struct nod_live *live, nod_time now, struct nod_error *err)
{
	int status = close_recording(live, now);

	if (status)
		return nod_error_set(err, -status, "the end could not be written: %s",
				     strerror(-status));
	return 0;
}

void nod_live_renew(struct nod_live *live, nod_time now)
{
	struct analysis analysis;

	if (new_analysis(&analysis, live->vehicle_path, live->interfaces, NULL)) {
		live->starved = true;
		return;
	}
	replace_analysis(live, &analysis, now);
	take_mark(live, NOD_MARK_STARTED, now);
}

/* Reads all that is on the disk now, and from here on keeps what happens. */
static int begin_rebuild(struct nod_live *live, struct nod_error *err)
{
	struct nod_recorder_status status;
	struct analysis analysis;
	int result = new_analysis(&analysis, live->vehicle_path, live->interfaces, err);

	drop_rebuild(live);
	if (result)
		return result;
	nod_recorder_status(live->recorder, &status);
	live->rebuild = nod_rebuild_begin(live->directory, analysis.engine, live->interfaces,
					  status.frames - status.lost,
					  live->samples - status.samples_lost, err);
	live->rebuild_vehicle = analysis.vehicle;
	if (live->rebuild)
		return 0;
	result = -errno;
	nod_engine_free(analysis.engine);
	drop_rebuild(live);
	return result;
}

int nod_live_correct(struct nod_live *live, const struct nod_mark *marks, size_t count,
		     nod_time now, struct nod_error *err)
{
	int status = 0;

	for (size_t i = 0; i < count && !status; i++) {
		struct nod_event event = {.kind = NOD_EVENT_MARK, .time = now};
		event.mark = marks[i];
		status = nod_recorder_take(live->recorder, &event);
	}
	if (status)
		return nod_error_set(err, -status, "the mark is not on the disk: %s",
				     strerror(-status));
	if (nod_recorder_flush(live->recorder, now) || begin_rebuild(live, err))
		live->starved = true; /* the mark stands; the recording has it */
	return 0;
}

int nod_live_follow(struct nod_live *live, size_t events, struct nod_error *err)
{
	int status = live->rebuild ? nod_rebuild_step(live->rebuild, events, err) : 0;

	if (status > 0 || !live->rebuild)
		return status;
	if (!status) {
		nod_engine_free(live->engine);
		nod_vehicle_free(live->vehicle);
		live->engine = nod_rebuild_engine(live->rebuild);
		live->vehicle = live->rebuild_vehicle;
		live->rebuild_vehicle = NULL;
		live->starved = false;
	} else {
		live->starved = true;
	}
	drop_rebuild(live);
	return status;
}

/* A rebuild that cannot keep what happens is given up. */
static void keep_for_rebuild(struct nod_live *live, const struct nod_event *event)
{
	if (live->rebuild && nod_rebuild_keep(live->rebuild, event)) {
		drop_rebuild(live);
		live->starved = true;
	}
}

int nod_live_take(struct nod_live *live, const struct nod_event *event)
{
	int status = live->recorder ? nod_recorder_take(live->recorder, event) : 0;

	if (event->kind == NOD_EVENT_CURRENT) {
		live->current_ua = event->current.microamps;
		live->current_at = event->time;
		live->samples += live->recorder != NULL;
	}
	keep_for_rebuild(live, event);
	if (nod_engine_take(live->engine, event) == -ENOMEM)
		live->starved = true;
	return status;
}

int nod_live_tick(struct nod_live *live, nod_time now)
{
	nod_engine_advance(live->engine, now);
	return live->recorder ? nod_recorder_flush(live->recorder, now) : 0;
}
