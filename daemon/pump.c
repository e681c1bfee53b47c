/* SPDX-License-Identifier: MIT */
#include "pump.h"

#include <stdlib.h>

#include "clock-watch.h"

/* Frames read from one socket in one go, so that the others get their turn.
 * Chosen: ten times what a full 500 kbit/s network brings in a tick. */
#define READ_MOST 1024

/* Ticks without a frame after which the pump sleeps. Chosen: one second. */
#define IDLE_TICKS 50

struct nod_pump {
	struct ev_loop *loop;
	struct nod_tap *taps;
	const size_t *tap_count; /* of them that listen */
	size_t slots;
	struct nod_merger *merger;
	struct nod_tap_reports reports;
	struct nod_pump_calls calls;
	struct nod_clock_watch clock, suspension;
	ev_timer tick;
	unsigned idle;
	bool sleeping;
	ev_io readable[];
};

/* Reads every socket. Returns the time up to which all has been read. */
static nod_time read_taps(struct nod_pump *pump, nod_time now, size_t *received)
{
	nod_time horizon = now;

	for (size_t i = 0; i < *pump->tap_count; i++) {
		struct nod_tap *tap = &pump->taps[i];
		int count = nod_listener_read(&tap->listener, pump->merger, READ_MOST);
		if (count <= 0)
			continue; /* a lost interface is reported over rtnetlink */
		*received += (size_t)count;
		nod_tap_check_bus(tap, now, &pump->reports);
		if (count >= READ_MOST) {
			nod_time newest = nod_merger_newest(pump->merger, tap->listener.lane);
			horizon = newest.ns < horizon.ns ? newest : horizon;
		}
	}
	return horizon;
}

static nod_time earlier(nod_time a, nod_time b)
{
	return nod_time_is_set(b) && b.ns < a.ns ? b : a;
}

/* Reads the rest, so that what follows is stamped by the clock as it is now. */
static void read_all(struct nod_pump *pump, nod_time now)
{
	size_t received;

	do {
		received = 0;
		read_taps(pump, now, &received);
	} while (received >= READ_MOST);
}

/* By how much to say that the clock was set. It is measured to a few microseconds; what was
 * stamped before it must not come to lie after what was stamped since. */
static nod_duration step_to_tell(const struct nod_pump *pump, nod_time now, nod_duration step,
				 nod_duration suspended)
{
	nod_time handed = nod_merger_handed(pump->merger);
	nod_duration told = {nod_clock_to_microseconds((nod_time){step.ns}).ns};

	if (nod_time_is_set(handed) && nod_time_since(now, handed).ns < told.ns + suspended.ns)
		told.ns = nod_time_since(now, handed).ns - suspended.ns;
	return told;
}

/* The clocks have jumped. Returns the time up to which all has been handed on. */
static nod_time take_jump(struct nod_pump *pump, nod_time now, nod_duration step,
			  nod_duration suspended)
{
	const struct nod_pump_calls *calls = &pump->calls;
	nod_duration jump = {step.ns + suspended.ns};

	read_all(pump, now);
	nod_merger_drain_old(pump->merger, (nod_time){now.ns - jump.ns / 2}, jump, calls->take,
			     calls->context);
	now = earlier(now, nod_merger_earliest(pump->merger));
	if (suspended.ns)
		calls->suspended(calls->context, now, suspended);
	if (step.ns) {
		step = step_to_tell(pump, now, step, suspended);
		for (size_t i = 0; i < *pump->tap_count; i++)
			nod_tap_clock_step(&pump->taps[i], step);
		calls->clock_step(calls->context, now, step);
	}
	return now;
}

/* Looks at the clocks after all was read. Returns NOD_TIME_NONE when they are as before,
 * else as take_jump(). */
static nod_time check_clock(struct nod_pump *pump)
{
	struct nod_clock_reading r;
	nod_time handed = NOD_TIME_NONE;

	nod_clock_read(&r);
	nod_duration step = nod_clock_watch_check(&pump->clock, r.system, r.boottime, r.apart);
	nod_duration suspended = nod_clock_watch_check(&pump->suspension, r.boottime, r.monotonic,
						       r.apart);
	if (suspended.ns < 0)
		suspended.ns = 0;
	if (step.ns || suspended.ns)
		handed = take_jump(pump, nod_clock_to_microseconds(r.system), step, suspended);
	nod_merger_confirm(pump->merger);
	return handed;
}

static void sleep_until_readable(struct nod_pump *pump)
{
	ev_timer_stop(pump->loop, &pump->tick);
	for (size_t i = 0; i < pump->slots; i++)
		ev_io_start(pump->loop, &pump->readable[i]);
	pump->sleeping = true;
}

static void wake(struct nod_pump *pump)
{
	pump->idle = 0;
	if (!pump->sleeping)
		return;
	for (size_t i = 0; i < pump->slots; i++)
		ev_io_stop(pump->loop, &pump->readable[i]);
	ev_timer_again(pump->loop, &pump->tick);
	pump->sleeping = false;
}

nod_time nod_pump_run(struct nod_pump *pump)
{
	nod_time now = nod_clock_to_microseconds(nod_clock_now()), horizon, jumped;
	size_t received = 0;

	horizon = read_taps(pump, now, &received);
	jumped = check_clock(pump);
	if (nod_time_is_set(jumped))
		horizon = jumped;
	else if (nod_time_since(now, horizon).ns < NOD_PUMP_HOLD_BACK.ns)
		horizon.ns = now.ns - NOD_PUMP_HOLD_BACK.ns;
	nod_merger_drain(pump->merger, horizon, pump->calls.take, pump->calls.context);
	if (received || nod_merger_waiting(pump->merger))
		wake(pump);
	else if (++pump->idle >= IDLE_TICKS && !pump->sleeping)
		sleep_until_readable(pump);
	return horizon;
}

void nod_pump_flush(struct nod_pump *pump)
{
	size_t received = 0;
	nod_time now = nod_clock_to_microseconds(nod_clock_now());

	do {
		received = 0;
		read_taps(pump, now, &received);
		check_clock(pump);
		nod_merger_flush(pump->merger, pump->calls.take, pump->calls.context);
	} while (received >= READ_MOST);
}

static void on_tick(struct ev_loop *loop, ev_timer *timer, int events)
{
	(void)loop, (void)events;
	nod_pump_run(timer->data);
}

static void on_readable(struct ev_loop *loop, ev_io *io, int events)
{
	(void)loop, (void)events;
	wake(io->data);
	nod_pump_run(io->data);
}

struct nod_pump *nod_pump_new(struct ev_loop *loop, struct nod_tap *taps, size_t slots,
			      const size_t *tap_count, struct nod_merger *merger,
			      const struct nod_tap_reports *reports,
			      const struct nod_pump_calls *calls)
{
	struct nod_pump *pump = calloc(1, sizeof(*pump) + slots * sizeof(ev_io));

	if (!pump)
		return NULL;
	pump->loop = loop;
	pump->taps = taps;
	pump->slots = slots;
	pump->tap_count = tap_count;
	pump->merger = merger;
	pump->reports = *reports;
	pump->calls = *calls;
	pump->clock = pump->suspension = (struct nod_clock_watch)NOD_CLOCK_WATCH_INIT;
	ev_timer_init(&pump->tick, on_tick, 0., NOD_PUMP_TICK);
	ev_set_priority(&pump->tick, EV_MAXPRI);
	pump->tick.data = pump;
	for (size_t i = 0; i < slots; i++) {
		ev_io_init(&pump->readable[i], on_readable, taps[i].listener.fd, EV_READ);
		ev_set_priority(&pump->readable[i], EV_MAXPRI);
		pump->readable[i].data = pump;
	}
	sleep_until_readable(pump);
	return pump;
}

void nod_pump_free(struct nod_pump *pump)
{
	if (!pump)
		return;
	ev_timer_stop(pump->loop, &pump->tick);
	for (size_t i = 0; i < pump->slots; i++)
		ev_io_stop(pump->loop, &pump->readable[i]);
	free(pump);
}
