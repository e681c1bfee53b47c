/* SPDX-License-Identifier: MIT */
/* What the files of the daemon object share: daemon.c has sessions and time, daemon-push.c
 * what is put between the frames, daemon-reports.c what taps, links and clocks report. */
#ifndef NOD_DAEMON_INTERNAL_H
#define NOD_DAEMON_INTERNAL_H

#include "daemon.h"

/* Now, as a recording keeps times: in microseconds. */
nod_time nod_daemon_now(void);

/* Puts a mark in the journal; 0 or a negative errno. _first: in front of what a jump of the
 * clocks has left waiting. */
int nod_daemon_push_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
			 nod_time time);
void nod_daemon_push_mark_first(struct nod_daemon *daemon, enum nod_mark_kind kind,
				const char *subject, nod_time time);

/* The oldest mark of a client, when it has this time, is on the disk (status 0) or not (a
 * negative errno): its ticket is answered. */
void nod_daemon_answer_mark(struct nod_daemon *daemon, nod_time time, int status);

/* corrections.c: keeps it, so that it can be taken back, or says that it cannot be. */
void nod_daemon_keep_mark(struct nod_daemon *daemon, const struct nod_mark *mark);

/* Where taps, and the clock of the pump, report to. */
struct nod_tap_reports nod_daemon_tap_reports(struct nod_daemon *daemon);
void nod_daemon_clock_was_set(void *daemon, nod_time now, nod_duration step);
/* beginning.c: while bitrates are being looked for, a timer goes on with that. */
void nod_daemon_search(struct nod_daemon *daemon);

/* Everything up to now belongs to the watch that ends. */
void nod_daemon_flush(struct nod_daemon *daemon);

/* A new watch knows nothing of before: gaps count from its start. */
void nod_daemon_begin_gaps(struct nod_daemon *daemon, nod_time now);

void nod_daemon_was_suspended(void *daemon, nod_time now, nod_duration length);

#endif
