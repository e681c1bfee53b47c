/* SPDX-License-Identifier: MIT */
/* What the taps, the links and the clock report: said, and noted in the journal. */
#include "daemon-internal.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static void tap_changed(void *context, struct nod_tap *tap, const char *text)
{
	(void)context, (void)tap;
	nod_daemon_say("%s", text);
}

static void tap_deaf(void *context, struct nod_tap *tap, nod_time from)
{
	nod_daemon_push_mark(context, NOD_MARK_DEAF, tap->interface, from);
}

/* "can0 12.500000 s": see journal.h. */
static void tap_gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	struct nod_daemon *daemon = context;
	char length[NOD_TIME_TEXT], subject[IFNAMSIZ + NOD_TIME_TEXT + 4];
	nod_duration gap = nod_time_since(to, from);

	if (gap.ns <= 0)
		return;
	snprintf(subject, sizeof(subject), "%s %s s", tap->interface,
		 nod_duration_print_seconds(length, gap, 6));
	nod_daemon_push_mark(daemon, NOD_MARK_GAP, subject, to);
}

void nod_daemon_clock_was_set(void *context, nod_time now, nod_duration step)
{
	struct nod_daemon *daemon = context;
	char length[NOD_TIME_TEXT], subject[NOD_TIME_TEXT + 4];

	snprintf(subject, sizeof(subject), "%s%s s", step.ns > 0 ? "+" : "",
		 nod_duration_print_seconds(length, step, 6));
	nod_daemon_say("the system clock was set: %s", subject);
	daemon->last_mark = NOD_TIME_NONE;
	daemon->live.started = nod_time_after(daemon->live.started, step);
	nod_daemon_push_mark_first(daemon, NOD_MARK_CLOCK_STEP, subject, now);
}

/* It ends when it is noticed, which is at the first tick afterwards. */
void nod_daemon_was_suspended(void *context, nod_time now, nod_duration length)
{
	struct nod_daemon *daemon = context;
	char text[NOD_TIME_TEXT], subject[NOD_TIME_TEXT + 8];

	snprintf(subject, sizeof(subject), "all %s s", nod_duration_print_seconds(text, length, 6));
	nod_daemon_say("the machine was suspended for %s s: nobody listened", text);
	nod_daemon_push_mark_first(daemon, NOD_MARK_GAP, subject, now);
}

struct nod_tap_reports nod_daemon_tap_reports(struct nod_daemon *daemon)
{
	return (struct nod_tap_reports){tap_changed, tap_deaf, tap_gap, daemon};
}

static void link_changed(void *context, const struct nod_link *link, bool gone)
{
	struct nod_daemon *daemon = context;
	struct nod_tap_reports reports = nod_daemon_tap_reports(daemon);
	nod_time now = nod_daemon_now();

	for (size_t i = 0; i < daemon->tap_count; i++)
		nod_tap_link_changed(&daemon->taps[i], link, gone, now, &reports);
	nod_pump_run(daemon->pump); /* that nobody listens is on the disk at once */
	nod_daemon_search(daemon);
}

int nod_daemon_open_links(struct nod_daemon *daemon, struct nod_error *err)
{
	daemon->links = nod_netlink_watch_new(daemon->loop, link_changed, daemon, err);
	return daemon->links ? 0 : -errno;
}

int nod_daemon_watch_links(struct nod_daemon *daemon, struct nod_error *err)
{
	int status = nod_netlink_watch_list(daemon->links);

	if (!status) /* what the first pass has switched on is up now */
		status = nod_netlink_watch_list(daemon->links);
	if (status)
		return nod_error_set(err, -status, "cannot list the interfaces: %s",
				     strerror(-status));
	for (size_t i = 0; i < daemon->tap_count; i++)
		if (daemon->taps[i].state == NOD_TAP_ABSENT)
			nod_daemon_say(
				"%s: there is no such interface; nobody listens to it until it "
				"is plugged in",
				daemon->taps[i].interface);
	return 0;
}
