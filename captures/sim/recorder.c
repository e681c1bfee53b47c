/* SPDX-License-Identifier: MIT */
#include "recorder.h"

#include <stdlib.h>
#include <string.h>

#include "bus.h"
#include "queue.h"

#define ERROR_CLASS_PROTOCOL 0x08
#define ERROR_CLASS_BUS_ERROR 0x80

static void put(struct sim *sim, struct sim_queue *queue, int64_t at, struct nod_event *event)
{
	if (!sim_queue_put(queue, at, event))
		sim->recorder.failed = true;
}

int64_t sim_recorder_stamp(const struct sim *sim, int64_t at)
{
	int64_t stamp = sim->recorder.epoch + at;

	for (int i = 0; i < sim->recorder.window_count; i++) {
		const struct sim_window *w = &sim->recorder.windows[i];
		if (w->kind == SIM_WINDOW_CLOCK && w->from <= at)
			stamp += w->step;
	}
	return stamp - stamp % SIM_US; /* the log has microseconds */
}

static bool covers(const struct sim_window *w, int network, int64_t at)
{
	return (w->network < 0 || w->network == network) && w->from <= at && at < w->until;
}

static void report_loss(struct sim *sim, struct sim_window *w, int network, int64_t at)
{
	struct nod_event event = {.kind = NOD_EVENT_LOSS};

	if (!w->lost)
		return;
	event.time.ns = sim_recorder_stamp(sim, at);
	event.loss.interface = (uint8_t)network;
	event.loss.count = w->lost;
	w->lost_in_all += w->lost;
	w->lost = 0;
	put(sim, &sim->recorder.events, at, &event);
}

/* What stood where the supply failed cannot be read. Always false. */
static bool tear(struct sim *sim, struct sim_window *w, int64_t at)
{
	struct nod_event event = {.kind = NOD_EVENT_DEFECT};

	event.time.ns = sim_recorder_stamp(sim, at);
	if (w->torn)
		put(sim, &sim->recorder.events, at, &event);
	w->torn = false;
	return false;
}

/* Frames that waited in a stalled adapter come at its end, as fast as the bus allows. */
static int64_t delayed(const struct sim *sim, int network, int64_t at)
{
	for (int i = 0; i < sim->recorder.window_count; i++) {
		const struct sim_window *w = &sim->recorder.windows[i];
		if (w->kind == SIM_WINDOW_HOLE && w->late && covers(w, network, at))
			return w->until + (at - w->from) / 1000;
	}
	return at;
}

/* False when the frame does not get through the windows. */
static bool passes(struct sim *sim, int network, int64_t at)
{
	struct sim_recorder *rec = &sim->recorder;

	for (int i = 0; i < rec->window_count; i++) {
		struct sim_window *w = &rec->windows[i];
		if (w->network >= 0 && w->network != network)
			continue;
		bool inside = covers(w, network, at);
		if (w->kind == SIM_WINDOW_GAP && inside)
			return false;
		if (w->kind == SIM_WINDOW_HOLE && inside && !w->late)
			return tear(sim, w, at);
		if ((w->kind == SIM_WINDOW_LOSS || w->kind == SIM_WINDOW_STORM) && inside &&
		    sim_random_chance(&sim->faulty, w->percent)) {
			w->lost += w->kind == SIM_WINDOW_LOSS;
			return false;
		}
		report_loss(sim, w, network, at);
	}
	return true;
}

static bool deaf(const struct sim *sim, int network, int64_t at)
{
	const struct sim_network *net = &sim->networks[network];

	if (!sim->recorder.wake_deaf || !net->span_count)
		return false;
	/* The span of a first frame is noted only after this call. */
	const struct sim_span *span = &net->spans[net->span_count - 1];
	int64_t since = at - span->to > SIM_SPAN_QUIET ? at : span->from;
	return at - since < sim->recorder.wake_deaf && since > sim->lock;
}

bool sim_recorder_frame(struct sim *sim, int network, int64_t at, uint32_t id, const uint8_t *data,
			unsigned length)
{
	struct sim_recorder *rec = &sim->recorder;
	struct nod_event event = {.kind = NOD_EVENT_FRAME};

	if (at < rec->start || at >= rec->stop || sim->networks[network].hidden)
		return false;
	if (deaf(sim, network, at) || !passes(sim, network, at))
		return false;
	at = delayed(sim, network, at);
	event.time.ns = sim_recorder_stamp(sim, at);
	if (rec->back_step && network == 0 && sim_random_chance(&sim->faulty, 5)) {
		event.time.ns -= sim_random_range(&sim->faulty, 0, rec->back_step);
		event.time.ns -= event.time.ns % SIM_US;
	}
	event.frame.time = event.time;
	event.frame.id = id;
	event.frame.length = (uint8_t)length;
	event.frame.interface = (uint8_t)network;
	if (sim->networks[network].fd && !(id & NOD_ID_ERROR))
		event.frame.flags = NOD_FRAME_FD | NOD_FRAME_BRS;
	memcpy(event.frame.data, data, length);
	put(sim, &rec->events, at, &event);
	rec->frames++;
	return true;
}

static void put_mark(struct sim *sim, enum nod_mark_kind kind, const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK};

	event.time.ns = sim_recorder_stamp(sim, sim->now);
	event.mark = (struct nod_mark){event.time, kind, subject};
	put(sim, &sim->recorder.events, sim->now, &event);
}

static void put_error_frame(struct sim *sim, const struct sim_window *w)
{
	uint8_t data[8] = {0, 0, 0, 0, 0, 0, 0, (uint8_t)sim_random_range(&sim->faulty, 0, 200)};

	data[2] = (uint8_t)(1 << sim_random_range(&sim->faulty, 0, 5));
	sim_recorder_frame(sim, w->network, sim->now,
			   NOD_ID_ERROR | ERROR_CLASS_PROTOCOL | ERROR_CLASS_BUS_ERROR, data,
			   sizeof(data));
}

static void storm(struct sim *sim, int index)
{
	const struct sim_window *w = &sim->recorder.windows[index];

	/* Errors come of traffic: a silent bus has none. */
	if (sim->now - sim->networks[w->network].last_frame < 200 * SIM_MS)
		put_error_frame(sim, w);
	if (sim->now < w->until)
		sim_set_timer(sim, sim_random_spread(&sim->faulty, 5, 400) * SIM_MS,
			      SIM_TIMER_WINDOW, index, 0);
}

static void window(struct sim *sim, int index)
{
	const struct sim_window *w = &sim->recorder.windows[index];
	struct nod_event event = {.kind = NOD_EVENT_GAP};

	if (w->kind == SIM_WINDOW_STORM) {
		storm(sim, index);
		return;
	}
	if (sim->now < sim->recorder.start || sim->now > sim->recorder.stop)
		return;
	event.time.ns = sim_recorder_stamp(sim, sim->now);
	if (w->kind == SIM_WINDOW_CLOCK) {
		event.kind = NOD_EVENT_CLOCK;
		event.clock.step.ns = w->step;
	} else {
		event.gap.interface = w->network < 0 ? NOD_ALL_INTERFACES : (uint8_t)w->network;
		event.gap.from.ns = sim_recorder_stamp(sim, w->from);
	}
	put(sim, &sim->recorder.events, sim->now, &event);
}

static void header(struct sim *sim, const char *key, const char *value)
{
	struct nod_event event = {.kind = NOD_EVENT_HEADER, .time = NOD_TIME_NONE};

	event.header.key = key;
	event.header.value = value;
	put(sim, &sim->recorder.events, sim->now, &event);
}

static void start(struct sim *sim)
{
	char text[NOD_TIME_TEXT];
	nod_time lock = {sim_recorder_stamp(sim, sim->lock)};

	if (sim->recorder.lock_in_header) {
		strncpy(sim->recorder.header_lock, nod_time_print(text, lock, 6),
			sizeof(sim->recorder.header_lock) - 1);
		header(sim, "locked", sim->recorder.header_lock);
	}
	if (!sim->recorder.foreign)
		put_mark(sim, NOD_MARK_STARTED, "");
}

static void stop(struct sim *sim)
{
	for (int i = 0; i < sim->recorder.window_count; i++)
		if (sim->recorder.windows[i].kind == SIM_WINDOW_LOSS)
			report_loss(sim, &sim->recorder.windows[i],
				    sim->recorder.windows[i].network < 0
					    ? NOD_ALL_INTERFACES
					    : sim->recorder.windows[i].network,
				    sim->now);
	put_mark(sim, NOD_MARK_STOPPED, "");
	sim->recorder.stopped = true;
}

static void sample(struct sim *sim)
{
	const struct sim_clamp *clamp = &sim->clamp;
	struct nod_event event = {.kind = NOD_EVENT_CURRENT};

	sim_set_timer(sim, clamp->interval, SIM_TIMER_SAMPLE, 0, 0);
	if (sim->now < sim->recorder.start || sim->now > sim->recorder.stop)
		return;
	event.time.ns = sim->recorder.epoch + sim->now + clamp->clock_offset;
	event.time.ns -= event.time.ns % SIM_US;
	event.current.microamps = sim_clamp_reading(sim);
	put(sim, &sim->recorder.samples, sim->now + clamp->clock_offset, &event);
}

void sim_recorder_begin(struct sim *sim)
{
	struct sim_recorder *rec = &sim->recorder;

	sim_timers_push(&sim->timers, rec->start, SIM_TIMER_START, 0, 0);
	sim_timers_push(&sim->timers, rec->stop, SIM_TIMER_STOP, 0, 0);
	for (int i = 0; i < rec->window_count; i++) {
		const struct sim_window *w = &rec->windows[i];
		int64_t at = w->kind == SIM_WINDOW_GAP ? w->until : w->from;
		if (w->kind != SIM_WINDOW_LOSS && w->kind != SIM_WINDOW_HOLE)
			sim_timers_push(&sim->timers, at, SIM_TIMER_WINDOW, i, 0);
	}
	if (sim->clamp.on)
		sim_timers_push(&sim->timers, rec->start, SIM_TIMER_SAMPLE, 0, 0);
}

void sim_recorder_timer(struct sim *sim, const struct sim_timer *timer)
{
	const struct sim_action *action = &sim->actions[timer->index];

	switch (timer->kind) {
	case SIM_TIMER_MARK:
		if (sim->now >= sim->recorder.start && sim->now < sim->recorder.stop)
			put_mark(sim, sim_action_mark(action->act), action->text);
		break;
	case SIM_TIMER_SAMPLE:
		sample(sim);
		break;
	case SIM_TIMER_WINDOW:
		window(sim, timer->index);
		break;
	case SIM_TIMER_START:
		start(sim);
		break;
	case SIM_TIMER_STOP:
		if (sim->now >= sim->recorder.stop)
			stop(sim);
		break;
	default:
		break;
	}
}

bool sim_recorder_deliver(struct sim *sim, int64_t horizon, struct nod_event *event)
{
	struct sim_recorder *rec = &sim->recorder;
	const struct sim_out *next = sim_queue_front(&rec->events);
	const struct sim_out *sampled = sim_queue_front(&rec->samples);
	struct sim_queue *from = &rec->events;

	if (sampled && (!next || sampled->at < next->at)) {
		next = sampled;
		from = &rec->samples;
	}
	/* A logger whose clock is behind stamps the present as the past. */
	if (sim->clamp.on && sim->clamp.clock_offset < 0 && horizon != SIM_NEVER)
		horizon += sim->clamp.clock_offset;
	if (!next || next->at > horizon)
		return false;
	*event = next->event;
	sim_queue_drop_front(from);
	return true;
}

void sim_recorder_free(struct sim_recorder *rec)
{
	free(rec->events.items);
	free(rec->samples.items);
	rec->events = rec->samples = (struct sim_queue){0};
}
