/* SPDX-License-Identifier: MIT */
#include "judged.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "lock-option.h"
#include "progress.h"
#include "settings.h"
#include "signal-watch.h"
#include "terminal.h"
#include "when.h"
#include "zone.h"

static int apply_lock(struct nod_judged *j, const char *locked, nod_time start)
{
	nod_time lock;
	int status = nod_lock_parse(&lock, "--locked", locked, start, NOD_TIME_NONE);

	if (!status)
		nod_engine_set_lock(j->engine, lock, NOD_LOCK_FROM_OPTION);
	return status;
}

/* Seen at the end: the options name a lock that comes after everything. */
static int check_lock(const struct nod_judged *j, const struct nod_judge_options *o)
{
	const struct nod_findings *f = j->findings;
	char lock[NOD_WHEN_TEXT], end[NOD_WHEN_TEXT];

	if (!o->locked || !nod_time_is_set(f->lock) || f->lock.ns <= f->end.ns)
		return NOD_EXIT_OK;
	return nod_usage(NULL,
			 "--locked %s: that is %s, but the recording ends at %s: nothing "
			 "was recorded after the lock",
			 o->locked, nod_when_print(lock, f->lock, NULL),
			 nod_when_print(end, f->end, NULL));
}

static int take(struct nod_judged *j, const struct nod_event *event,
		const struct nod_judge_options *o, struct nod_defect_report *defects)
{
	if (event->kind == NOD_EVENT_DEFECT) {
		nod_engine_take(j->engine, event); /* counts them */
		if (!o->quiet)
			nod_defect_tell(defects, event);
		return o->strict ? NOD_EXIT_UNREADABLE : NOD_EXIT_OK;
	}
	if (nod_engine_take(j->engine, event) == -ENOMEM)
		return nod_unreadable("out of memory");
	if (o->vin && event->kind == NOD_EVENT_FRAME)
		nod_vin_heard_take(&j->vin, &event->frame);
	if (j->timeline &&
	    nod_timeline_take(j->timeline, event, nod_engine_clock_shift(j->engine)) == -ENOMEM)
		return nod_unreadable("out of memory");
	if (j->heard &&
	    nod_heard_take(j->heard, event, nod_engine_clock_shift(j->engine)) == -ENOMEM)
		return nod_unreadable("out of memory");
	if (o->signals && event->kind == NOD_EVENT_FRAME &&
	    nod_signal_watch_take(o->signals, &event->frame,
				  nod_time_after(event->time, nod_engine_clock_shift(j->engine))))
		return nod_unreadable("out of memory");
	return NOD_EXIT_OK;
}

/* The frames behind one that was taken, by the hundred, when nobody but the
 * engine wants them. Adds their number to *events. */
static int take_more(struct nod_judged *j, const struct nod_judge_options *o, size_t *events)
{
	const struct nod_frame *frames;
	size_t count;

	if (j->timeline || j->heard || o->signals)
		return NOD_EXIT_OK;
	while ((count = nod_session_frames(j->session, &frames)) > 0) {
		*events += count;
		for (size_t i = 0; o->vin && i < count; i++)
			nod_vin_heard_take(&j->vin, &frames[i]);
		if (nod_engine_take_frames(j->engine, frames, count))
			return nod_unreadable("out of memory");
	}
	return NOD_EXIT_OK;
}

static int read_all(struct nod_judged *j, const struct nod_judge_options *o)
{
	struct nod_defect_report defects = {0};
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_progress progress;
	char what[64];
	bool lock_pending = o->locked != NULL;
	bool piped = !strcmp(nod_session_path(j->session), "-"); /* ends by itself */
	int status = 0, code = NOD_EXIT_OK;

	snprintf(what, sizeof(what), "reading %.40s", nod_path_name(nod_session_path(j->session)));
	nod_progress_begin(&progress, what);
	while (!code && (piped || !nod_terminal_is_interrupted()) &&
	       (status = nod_session_next(j->session, &event, &err)) > 0) {
		size_t events = 1;
		if (lock_pending && nod_time_is_set(event->time)) {
			lock_pending = false;
			code = apply_lock(j, o->locked, event->time);
		}
		if (!code)
			code = take(j, event, o, &defects);
		if (!code && event->kind == NOD_EVENT_FRAME)
			code = take_more(j, o, &events);
		if (!o->quiet)
			nod_progress_step(&progress, event->time, events);
	}
	nod_progress_end(&progress);
	nod_defect_sum_up(&defects);
	if (nod_terminal_is_interrupted())
		fprintf(stderr, "interrupted: this is the answer so far\n");
	else if (!code && status < 0)
		code = nod_unreadable("%s", err.text);
	return code;
}

const char *nod_judged_map(const struct nod_judged *j, const struct nod_judge_options *o)
{
	return o->vehicle ? nod_find_map(o->vehicle) : nod_session_vehicle(j->session);
}

/* Times are told and taken as where it was recorded, unless the person says another zone. */
static void use_zone_of(const struct nod_session *session)
{
	const char *zone = nod_session_about(session, "zone");
	struct nod_error err;

	if (zone && !getenv("TZ"))
		nod_zone_use(zone, &err); /* one that is not known here: the machine's */
}

static int open_all(struct nod_judged *j, const char *const *paths, size_t count,
		    const struct nod_judge_options *o)
{
	struct nod_error err = {""};
	int code = NOD_EXIT_OK;

	const char *named = count == 1 ? nod_find_session(paths[0]) : NULL;
	j->session = nod_session_open_all(named ? &named : paths, count, &err);
	if (!j->session)
		return nod_unreadable("%s", err.text);
	if (!o->beside)
		use_zone_of(j->session);
	const char *map = nod_judged_map(j, o);
	if (map) {
		j->vehicle = nod_vehicle_load(map, &err);
		if (!j->vehicle)
			return nod_unreadable("%s", err.text);
	}
	j->engine = nod_engine_new(j->vehicle, nod_session_interfaces(j->session));
	if (o->timeline)
		j->timeline = nod_timeline_new(nod_session_interfaces(j->session));
	if (o->heard)
		j->heard = nod_heard_new();
	if (!j->engine || (o->timeline && !j->timeline) || (o->heard && !j->heard))
		return nod_unreadable("out of memory");
	if (o->signals)
		code = nod_signal_watch_begin(o->signals, j->vehicle,
					      nod_session_interfaces(j->session));
	nod_engine_set_good(j->engine, o->good);
	for (size_t i = 0; i < o->earlier_count; i++)
		nod_engine_add_earlier(j->engine, o->earlier[i]);
	return code;
}

/* Not an empty network: an input of which nothing is known. */
static bool nothing_was_readable(const struct nod_findings *f)
{
	return f->defects && !f->frames && !f->mark_count && !f->has_current;
}

static int say_nothing_readable(const struct nod_judged *j)
{
	const struct nod_findings *f = j->findings;
	const char *path = nod_path_name(nod_session_path(j->session));

	if (f->misdated == f->defects)
		return nod_unreadable(
			"nothing of %s is taken: its %" PRIu64 " frame%s before the year 1843 or "
			"after 2096, which no clock of a recorder should give; this says nothing of "
			"the car. Shift its times: nodoff needs their distances, not the date",
			path, f->misdated, f->misdated == 1 ? " has a time" : "s have times");
	return nod_unreadable("nothing in %s could be read: %" PRIu64 " line%s, none of them a "
			      "frame; this says nothing of the car. See the reasons above, and "
			      "`nodoff frames --help` for what is read",
			      path, f->defects, f->defects == 1 ? "" : "s");
}

int nod_judge(struct nod_judged *j, const char *const *paths, size_t count,
	      const struct nod_judge_options *options)
{
	*j = (struct nod_judged){0};
	if (!options->quiet)
		nod_terminal_catch_interrupt(); /* opening reads already */
	int code = open_all(j, paths, count, options);

	if (!code)
		code = read_all(j, options);
	if (!options->quiet)
		nod_terminal_let_go();
	if (code)
		return code;
	j->findings = nod_engine_findings(j->engine);
	if (!j->findings)
		return nod_unreadable("out of memory");
	return nothing_was_readable(j->findings) ? say_nothing_readable(j) : check_lock(j, options);
}

void nod_judged_close(struct nod_judged *j)
{
	nod_findings_free(j->findings);
	nod_timeline_free(j->timeline);
	nod_heard_free(j->heard);
	nod_engine_free(j->engine);
	nod_vehicle_free(j->vehicle);
	nod_session_close(j->session);
	*j = (struct nod_judged){0};
}

const char *nod_path_name(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash && slash[1] ? slash + 1 : path;
}

const char *nod_judged_title(const struct nod_judged *j)
{
	const char *title = nod_session_about(j->session, "title");

	return title && *title ? title : nod_path_name(nod_session_path(j->session));
}
