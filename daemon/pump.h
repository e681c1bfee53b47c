/* SPDX-License-Identifier: MIT */
/* Moves frames from the taps' sockets through the merger, in batches.
 *
 * While nothing arrives it sleeps until a socket becomes readable; while
 * frames arrive it looks every NOD_PUMP_TICK instead of waking for each. A
 * frame is handed on NOD_PUMP_HOLD_BACK after its time, when everything that
 * happened before it on any network has been read.
 *
 * What was read is handed on only after a look at the clocks: a frame that was stamped after
 * the clock had been set must not go before the mark that says so. */
#ifndef NOD_PUMP_H
#define NOD_PUMP_H

#include <ev.h>

#include "merger.h"
#include "tap.h"

/* Chosen: fifty wake-ups a second cost nothing that shows, and a full
 * 500 kbit/s network fills a hundredth of the socket's buffer meanwhile. */
#define NOD_PUMP_TICK 0.020 /* s */

/* Chosen: five ticks, so that frames of two networks come in the order of
 * their times even when one tick is late. */
#define NOD_PUMP_HOLD_BACK nod_milliseconds(100)

struct nod_pump_calls {
	nod_merger_take *take; /* events in time order */
	/* The system clock was set: all events stamped before have been handed on, and `now`
	 * is not later than any stamped since. To be put in front of these. */
	void (*clock_step)(void *context, nod_time now, nod_duration step);
	/* The machine was suspended for so long, and nobody listened meanwhile; `now` as
	 * above. Called before clock_step() when the clock was set as well. */
	void (*suspended)(void *context, nod_time now, nod_duration length);
	void *context;
};

struct nod_pump;

/* Of the taps, which have a socket each, the first *tap_count are read: that number may change
 * while nothing waits. All of it must outlive the pump. NULL when memory ran out. */
struct nod_pump *nod_pump_new(struct ev_loop *loop, struct nod_tap *taps, size_t slots,
			      const size_t *tap_count, struct nod_merger *merger,
			      const struct nod_tap_reports *reports,
			      const struct nod_pump_calls *calls);
void nod_pump_free(struct nod_pump *pump);

/* Reads what waits and hands on what is due. Call when something was pushed
 * into a lane of the merger from elsewhere, or to be up to date. Returns the
 * time up to which everything has been handed on. */
nod_time nod_pump_run(struct nod_pump *pump);

/* Reads what waits and hands on everything. */
void nod_pump_flush(struct nod_pump *pump);

#endif
