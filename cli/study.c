#include "study.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "progress.h"

static int open_all(struct nod_study *s, const char *path, const char *vehicle_path)
{
	struct nod_error err = {""};

	s->session = nod_session_open(path, &err);
	if (!s->session)
		return nod_unreadable("%s", err.text);
	s->vehicle_path = vehicle_path ? vehicle_path : nod_session_vehicle(s->session);
	if (s->vehicle_path) {
		s->vehicle = nod_vehicle_load(s->vehicle_path, &err);
		if (!s->vehicle)
			return nod_unreadable("%s", err.text);
	}
	s->engine = nod_engine_new(s->vehicle, nod_session_interfaces(s->session));
	s->timeline = nod_timeline_new(nod_session_interfaces(s->session));
	if (!s->engine || !s->timeline)
		return nod_unreadable("out of memory");
	return NOD_EXIT_OK;
}

static int take(struct nod_study *s, const struct nod_event *event, struct nod_defect_report *bad)
{
	if (event->kind == NOD_EVENT_DEFECT) {
		nod_defect_tell(bad, event);
		s->defects++;
		return 0;
	}
	int status = nod_engine_take(s->engine, event);
	if (status == -ENOMEM)
		return status;
	return nod_timeline_take(s->timeline, event, nod_engine_clock_shift(s->engine));
}

static int read_on(struct nod_study *s)
{
	struct nod_error err = {""};
	struct nod_defect_report bad = {0};
	struct nod_progress progress;
	const struct nod_event *event;
	char what[64];
	int status, taken = 0;

	snprintf(what, sizeof(what), "reading %.50s", nod_path_name(nod_session_path(s->session)));
	nod_progress_begin(&progress, what);
	while (!taken && (status = nod_session_next(s->session, &event, &err)) > 0) {
		taken = take(s, event, &bad);
		nod_progress_step(&progress, event->time);
	}
	nod_progress_end(&progress);
	nod_defect_sum_up(&bad);
	if (taken)
		return nod_unreadable("out of memory");
	return status < 0 ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

int nod_study_read(struct nod_study *s, const char *path, const char *vehicle_path)
{
	memset(s, 0, sizeof(*s));
	int code = open_all(s, path, vehicle_path);

	if (!code)
		code = read_on(s);
	if (code)
		return code;
	s->findings = nod_engine_findings(s->engine);
	return s->findings ? NOD_EXIT_OK : nod_unreadable("out of memory");
}

void nod_study_close(struct nod_study *s)
{
	if (s->findings)
		nod_findings_free(s->findings);
	nod_timeline_free(s->timeline);
	nod_engine_free(s->engine);
	nod_vehicle_free(s->vehicle);
	if (s->session)
		nod_session_close(s->session);
	memset(s, 0, sizeof(*s));
}

const char *nod_path_name(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash && slash[1] ? slash + 1 : path;
}

const char *nod_study_title(const struct nod_study *s)
{
	const char *title = nod_session_about(s->session, "title");

	return title && *title ? title : nod_path_name(nod_session_path(s->session));
}
