/* SPDX-License-Identifier: MIT */
/* What belongs together while nodoffd runs. main.c makes it in order and
 * undoes it in reverse; requests.c and view.c read it. */
#ifndef NOD_DAEMON_H
#define NOD_DAEMON_H

#include <ev.h>
#include <limits.h>

#include "control.h"
#include "current-input.h"
#include "recent-marks.h"
#include "live.h"
#include "merger.h"
#include "netlink-watch.h"
#include "options.h"
#include "privileges.h"
#include "pump.h"
#include "switcher.h"
#include "tap.h"

/* Lanes of the merger, in the order in which a session is read again at equal
 * times (see session.h): the journal, the current, then the frames. */
enum { NOD_LANE_JOURNAL, NOD_LANE_CURRENT, NOD_LANE_TAPS };

/* Marks of clients that wait to be on the disk. Chosen: more than
 * anybody types in the tenth of a second that one takes. */
#define NOD_PENDING_MARKS_MAX 64

struct nod_pending_mark {
	nod_time time;
	struct nod_control_ticket ticket;
};

/* A recording that begins when the bitrates are known. */
struct nod_beginning {
	bool waits;
	bool asked; /* by a client: `ticket` is answered */
	struct nod_control_ticket ticket;
	char *title; /* owned; NULL: none */
};

struct nod_daemon {
	const struct nod_options *options;
	struct ev_loop *loop;
	struct nod_account account; /* who we become */
	struct nod_switcher switcher;
	struct nod_interfaces interfaces; /* index = index of the tap */
	struct nod_tap taps[NOD_TAPS_MAX];
	size_t tap_count;
	size_t socket_count; /* of the taps' sockets: those behind tap_count wait for use */
	bool as_needed;      /* adapters are taken for a recording, and left when it ends */
	char map[PATH_MAX];  /* the vehicle file that came with the recording, or "" */
	struct nod_merger *merger;
	struct nod_pump *pump;
	struct nod_netlink_watch *links;
	struct nod_control *control;
	struct nod_live live;
	struct nod_current_input *current;                      /* NULL: none */
	struct nod_pending_mark pending[NOD_PENDING_MARKS_MAX]; /* oldest first */
	size_t pending_count;
	struct nod_recent_marks recent; /* of this recording, that can be taken back */
	nod_time last_mark;             /* marks have times of their own */
	int recording_error;            /* last said; 0: recording works */
	bool starved_said;              /* that the analysis lacks something */
	ev_timer second;
	struct nod_beginning beginning;
	ev_timer search; /* for bitrates */
	ev_timer follow; /* goes on with a new analysis after a correction */
	ev_signal terminate, interrupt;
};

/* Decides what to listen to: the options' interfaces, else one for each
 * network of the vehicle file, else every CAN interface there is. Fills taps
 * and the interface table. Returns 0 or a negative errno with err set. */
int nod_daemon_choose_taps(struct nod_daemon *daemon, struct nod_error *err);

/* Opens sockets for as many taps as there may ever be, at reserved descriptors; and closes
 * them, with the adapters as they were found. */
int nod_daemon_open_taps(struct nod_daemon *daemon, struct nod_error *err);
void nod_daemon_close_taps(struct nod_daemon *daemon);

/* For a recording: takes the adapters of a map (the text of a vehicle file, NULL: none), or
 * those that the options name, or all there are. Returns 0, or a negative errno with err set
 * and the adapters left. */
int nod_daemon_take_adapters(struct nod_daemon *daemon, const char *map, struct nod_error *err);

/* The recording is over: the adapters that were taken for it are left as they were found. */
void nod_daemon_leave_adapters(struct nod_daemon *daemon);

/* Begins and ends moving frames (merger, pump, timers, signals). */
int nod_daemon_start(struct nod_daemon *daemon, struct nod_error *err);
void nod_daemon_stop(struct nod_daemon *daemon);

/* Opens what watches the interfaces; takes what there is and sets ours up. */
int nod_daemon_open_links(struct nod_daemon *daemon, struct nod_error *err);
int nod_daemon_watch_links(struct nod_daemon *daemon, struct nod_error *err);

/* Takes adapters for a recording where that is to be done, lets bitrates that nobody said be
 * found, and records. Returns 0 when it records, 1 when it will as soon as they are known, or a
 * negative errno with err set. */
int nod_daemon_begin(struct nod_daemon *daemon, const char *title, const char *map,
		     struct nod_error *err);

/* Begins a session named after the time and `title` (may be NULL), or ends it;
 * *answer is then the final answer, see nod_view_answer(), or NULL when memory ran out. */
int nod_daemon_record(struct nod_daemon *daemon, const char *title, struct nod_error *err);
int nod_daemon_end_record(struct nod_daemon *daemon, json_t **answer, struct nod_error *err);

/* Puts a mark of now in the journal; `ticket` is answered when it is on the
 * disk. Returns 0 or a negative errno with err set. */
int nod_daemon_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
		    struct nod_control_ticket *ticket, struct nod_error *err);

/* A time for a mark: now, and later than every mark before. */
nod_time nod_daemon_mark_time(struct nod_daemon *daemon);

/* corrections.c: puts a mark of the past in the journal, on the disk when this returns 0. Times up to
 * NOD_MARK_AHEAD later than now are taken as now (a phone's clock). Else a negative errno
 * with err set. */
#define NOD_MARK_AHEAD nod_seconds(2) /* chosen */
int nod_daemon_mark_at(struct nod_daemon *daemon, struct nod_mark *mark, struct nod_error *err);

/* Takes a mark back (NULL: the last one) and, unless `instead` is NULL, puts that one in
 * its place; what is not set there (time, kind NOD_MARK_KINDS, subject NULL) stays as it was.
 * *undone is what was taken back, *instead is complete then; their subjects are
 * json strings that `texts` owns. Returns 0, or a negative errno with err set. */
int nod_daemon_undo(struct nod_daemon *daemon, const struct nod_mark *mark,
		    struct nod_mark *instead, struct nod_mark *undone, json_t *texts,
		    struct nod_error *err);

/* Takes a sample of the battery current, microamps, of now; the first returns 0 or a
 * negative errno when it could not be kept, the second is for nod_current_input_new(). */
int nod_daemon_push_current(struct nod_daemon *daemon, int64_t microamps);
void nod_daemon_take_current(void *daemon, int64_t microamps);

/* Says something on standard error, with the time. */
__attribute__((format(printf, 1, 2))) void nod_daemon_say(const char *format, ...);

#endif
