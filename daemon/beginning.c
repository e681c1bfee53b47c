/* SPDX-License-Identifier: MIT */
/* How a recording begins: the adapters it takes, a bitrate that nobody said, then the session;
 * and that the adapters are left as they were found. Part of daemon.h. */
#include "daemon-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "json-build.h"
#include "requests.h"
#include "view.h"

/* How often what a search heard is looked at, s. Chosen: short beside NOD_BITRATE_PATIENCE. */
#define SEARCH_TICK 0.1

static bool is_undecided(const struct nod_daemon *daemon)
{
	for (size_t i = 0; i < daemon->tap_count; i++)
		if (nod_tap_is_undecided(&daemon->taps[i]))
			return true;
	return false;
}

static bool is_searching(const struct nod_daemon *daemon)
{
	for (size_t i = 0; i < daemon->tap_count; i++)
		if (daemon->taps[i].state == NOD_TAP_SEARCHING)
			return true;
	return false;
}

/* What `start` answers. */
static json_t *begun(const struct nod_daemon *daemon, struct nod_error *err)
{
	json_t *answer = json_object();

	nod_json_put(&answer, "path", nod_json_text(daemon->live.directory));
	nod_json_put(&answer, "taps", nod_view_taps(daemon->taps, daemon->tap_count));
	if (!answer)
		nod_error_set(err, ENOMEM,
			      "it is recorded into %s, but memory ran out for the answer",
			      daemon->live.directory);
	return answer;
}

static int record(struct nod_daemon *daemon, const char *title, struct nod_error *err)
{
	int status = nod_daemon_record(daemon, title, err);

	if (status)
		nod_daemon_leave_adapters(daemon);
	return status;
}

/* The bitrates are known, or were looked for in vain. */
static void go_on(struct nod_daemon *daemon)
{
	struct nod_beginning beginning = daemon->beginning;
	struct nod_error err = {""};

	daemon->beginning = (struct nod_beginning){.waits = false};
	int status = record(daemon, beginning.title, &err);
	if (beginning.asked)
		nod_control_answer(daemon->control, &beginning.ticket,
				   status ? NULL : begun(daemon, &err), &err);
	else if (status)
		nod_daemon_say("%s", err.text);
	free(beginning.title);
}

static void on_search(struct ev_loop *loop, ev_timer *timer, int events)
{
	struct nod_daemon *daemon = timer->data;
	struct nod_tap_reports reports = nod_daemon_tap_reports(daemon);

	(void)events;
	nod_pump_run(daemon->pump); /* reads what was heard */
	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_search(&daemon->taps[i], nod_daemon_now(), &reports);
	if (daemon->beginning.waits && !is_undecided(daemon))
		go_on(daemon);
	if (!is_searching(daemon))
		ev_timer_stop(loop, timer);
}

void nod_daemon_search(struct nod_daemon *daemon)
{
	if (ev_is_active(&daemon->search) || !is_searching(daemon))
		return;
	ev_timer_init(&daemon->search, on_search, SEARCH_TICK, SEARCH_TICK);
	daemon->search.data = daemon;
	ev_timer_start(daemon->loop, &daemon->search);
}

int nod_daemon_begin(struct nod_daemon *daemon, const char *title, const char *map,
		     struct nod_error *err)
{
	int status = 0;

	if (daemon->live.recorder)
		return nod_error_set(err, EBUSY, "a session is being recorded: %s",
				     daemon->live.directory);
	if (daemon->beginning.waits)
		return nod_error_set(err, EBUSY, "a session is about to be recorded");
	if (map || daemon->as_needed)
		status = nod_daemon_take_adapters(daemon, map, err);
	if (status)
		return status;
	if (!is_undecided(daemon))
		return record(daemon, title, err);
	daemon->beginning = (struct nod_beginning){.waits = true,
						   .title = title ? strdup(title) : NULL};
	return 1;
}

json_t *nod_request_start(struct nod_daemon *daemon, struct nod_control_client *client,
			  const json_t *request, struct nod_error *err)
{
	const char *title = nod_request_text(request, "title", "", err);
	const char *map = nod_request_text(request, "vehicle", NULL, err);
	int status = err->text[0] ? -EINVAL
				  : nod_daemon_begin(daemon, *title ? title : NULL, map, err);

	if (status > 0) {
		daemon->beginning.asked = true;
		daemon->beginning.ticket = nod_control_defer(client, request);
	}
	return status ? NULL : begun(daemon, err);
}
