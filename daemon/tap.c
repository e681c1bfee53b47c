/* SPDX-License-Identifier: MIT */
#include "tap.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

const char *nod_tap_state_name(enum nod_tap_state state)
{
	static const char *const names[] = {
		[NOD_TAP_ABSENT] = "not plugged in",
		[NOD_TAP_DOWN] = "switched off",
		[NOD_TAP_REFUSED] = "not used",
		[NOD_TAP_BUS_OFF] = "bus-off",
		[NOD_TAP_LISTENING] = "listening",
		[NOD_TAP_SEARCHING] = "looking for its bitrate",
	};

	return names[state];
}

void nod_tap_begin_gap(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	tap->gap_from = tap->state == NOD_TAP_LISTENING ? NOD_TIME_NONE : now;
	if (nod_time_is_set(tap->gap_from))
		reports->deaf(reports->context, tap, now);
}

void nod_tap_tell_gap(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	if (!nod_time_is_set(tap->gap_from) || now.ns <= tap->gap_from.ns)
		return;
	reports->gap(reports->context, tap, tap->gap_from, now);
	tap->gap_from = now;
}

static void enter(struct nod_tap *tap, enum nod_tap_state state, nod_time now,
		  const struct nod_tap_reports *reports)
{
	char text[sizeof(tap->note.text) + 64];

	if (state == tap->state)
		return;
	tap->state = state;
	tap->since = now;
	if (state == NOD_TAP_LISTENING) {
		nod_tap_tell_gap(tap, now, reports);
		tap->gap_from = NOD_TIME_NONE;
	} else if (!nod_time_is_set(tap->gap_from)) {
		nod_tap_begin_gap(tap, now, reports);
	}
	snprintf(text, sizeof(text), "%s: %s%s%s", tap->interface, nod_tap_state_name(state),
		 tap->note.text[0] ? ": " : "", tap->note.text);
	reports->changed(reports->context, tap, text);
}

static void clear_note(struct nod_tap *tap)
{
	tap->note.text[0] = 0;
}

static void listen_to(struct nod_tap *tap, const struct nod_link *link, nod_time now,
		      const struct nod_tap_reports *reports)
{
	int status = 0;

	if (tap->listener.link != link->index) {
		tap->listener.trying = tap->searching;
		tap->listener.tried = (struct nod_bitrate_heard){0, 0};
		status = nod_listener_bind(&tap->listener, link->index, nod_link_is_virtual(link));
	}
	if (status) {
		nod_error_set(&tap->note, -status, "cannot listen to %s: %s", link->name,
			      strerror(-status));
		enter(tap, NOD_TAP_DOWN, now, reports);
		return;
	}
	if (strcmp(link->name, tap->interface))
		nod_error_set(&tap->note, 0, "it is now called %s", link->name);
	if (tap->searching) {
		enter(tap, NOD_TAP_SEARCHING, now, reports);
	} else if (nod_link_is_bus_off(link)) {
		tap->listener.bus_off = true;
		enter(tap, NOD_TAP_BUS_OFF, now, reports);
	} else {
		enter(tap, NOD_TAP_LISTENING, now, reports);
	}
}

/* Switches it on at the bitrate that the settings have. Returns 0 or a negative errno with
 * the note set. */
static int switch_on(struct nod_tap *tap)
{
	struct nod_link link = {.index = tap->link};

	snprintf(link.name, sizeof(link.name), "%s", tap->called);
	int status = nod_switcher_listen(tap->switcher, &link, &tap->settings, &tap->note);
	tap->taken |= !status;
	return status;
}

/* ---- a bitrate that nobody said ---- */

static bool is_about_the_rate(int status)
{
	return status && status != -EPERM && status != -ENODEV && status != -EPIPE &&
	       status != -ETIMEDOUT && status != -EBUSY && status != -EOPNOTSUPP;
}

/* Switches it on at the rate being tried, else at the next one that the controller can. */
static int try_rates(struct nod_tap *tap, nod_time now)
{
	int status = switch_on(tap);

	for (int i = 1; i < NOD_BITRATE_USUAL_COUNT && is_about_the_rate(status); i++) {
		tap->settings.bitrate = nod_bitrate_search_next(&tap->search);
		status = switch_on(tap);
	}
	tap->search.since = now;
	if (!status)
		clear_note(tap);
	return status;
}

static void begin_search(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	tap->search = (struct nod_bitrate_search){.since = now};
	tap->settings.bitrate = nod_bitrate_usual[0];
	enter(tap, try_rates(tap, now) ? NOD_TAP_DOWN : NOD_TAP_SEARCHING, now, reports);
}

static void try_next(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	struct nod_link link = {.index = tap->link};

	snprintf(link.name, sizeof(link.name), "%s", tap->called);
	nod_listener_mute(&tap->listener);
	nod_switcher_off(tap->switcher, &link, NULL);
	tap->settings.bitrate = nod_bitrate_search_next(&tap->search);
	if (try_rates(tap, now))
		enter(tap, NOD_TAP_DOWN, now, reports);
	else if (tap->search.rounds)
		nod_error_set(
			&tap->note, 0,
			"nothing was heard whole at any rate so far: is the network awake, and "
			"are CANH and CANL on the right pins?");
}

static void end_search(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	tap->searching = tap->listener.trying = false;
	tap->found = true;
	nod_error_set(&tap->note, 0, "%u bit/s, found by listening", tap->settings.bitrate);
	enter(tap, NOD_TAP_LISTENING, now, reports);
	clear_note(tap);
}

void nod_tap_search(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	if (tap->state != NOD_TAP_SEARCHING)
		return;
	bool over = nod_time_since(now, tap->search.since).ns >= NOD_BITRATE_PATIENCE.ns;
	enum nod_bitrate_step step = nod_bitrate_judge(tap->listener.tried, over);
	if (step == NOD_BITRATE_NEXT)
		try_next(tap, now, reports);
	else if (step == NOD_BITRATE_FOUND)
		end_search(tap, now, reports);
}

bool nod_tap_is_undecided(const struct nod_tap *tap)
{
	return tap->state == NOD_TAP_SEARCHING && !tap->search.rounds;
}

/* What the kernel says of an adapter on which we look for the bitrate. True: no more is to be
 * made of it. */
static bool take_search(struct nod_tap *tap, const struct nod_link *link, bool is_new, nod_time now,
			const struct nod_tap_reports *reports)
{
	if (nod_link_is_virtual(link) ||
	    (tap->state != NOD_TAP_SEARCHING && link->up && link->listen_only)) {
		tap->searching = false; /* there is none, or who set it up said it */
		tap->settings.bitrate = link->set.bitrate;
		return false;
	}
	if ((is_new || tap->state == NOD_TAP_REFUSED) && !link->up && tap->switcher) {
		begin_search(tap, now, reports);
		return true;
	}
	if (tap->state != NOD_TAP_SEARCHING || (link->up && !link->listen_only))
		return false;
	if (link->up && nod_bitrate_is(link->set.bitrate, tap->settings.bitrate))
		listen_to(tap, link, now, reports);
	return true; /* else our own off, or late news of the rate before */
}

/* ---- what the kernel says ---- */

/* One that was refused is set up when it is switched off, as the note says. */
static void handle_down(struct nod_tap *tap, bool is_new, nod_time now,
			const struct nod_tap_reports *reports)
{
	clear_note(tap);
	if ((is_new || tap->state == NOD_TAP_REFUSED) && tap->switcher)
		switch_on(tap);
	enter(tap, NOD_TAP_DOWN, now, reports); /* the kernel reports it again when it is up */
}

static void handle_gone(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	tap->link = 0;
	tap->taken = false;
	memset(&tap->controller, 0, sizeof(tap->controller));
	tap->listener.link = 0; /* the kernel has unbound the socket */
	clear_note(tap);
	enter(tap, NOD_TAP_ABSENT, now, reports);
}

void nod_tap_link_changed(struct nod_tap *tap, const struct nod_link *link, bool gone, nod_time now,
			  const struct nod_tap_reports *reports)
{
	bool is_new = !tap->link && !strcmp(link->name, tap->interface);
	enum nod_interface_use use;
	struct nod_error why;

	if (link->index != tap->link && !is_new)
		return;
	if (gone) {
		if (!is_new)
			handle_gone(tap, now, reports);
		return;
	}
	tap->link = link->index;
	tap->controller = *link;
	snprintf(tap->called, sizeof(tap->called), "%s", link->name);
	if (tap->searching && take_search(tap, link, is_new, now, reports))
		return;
	use = nod_interface_judge(link, &tap->settings, &why);
	if (use == NOD_USE_SET_UP && !is_new && tap->state == NOD_TAP_DOWN)
		return; /* the note says why */
	tap->note = why;
	if (use == NOD_USE_SET_UP) {
		handle_down(tap, is_new, now, reports);
	} else if (use == NOD_USE_REFUSED) {
		if (tap->listener.link)
			nod_listener_mute(&tap->listener);
		enter(tap, NOD_TAP_REFUSED, now, reports);
	} else {
		listen_to(tap, link, now, reports);
	}
}

void nod_tap_release(struct nod_tap *tap)
{
	struct nod_link link = {.index = tap->link};

	snprintf(link.name, sizeof(link.name), "%s", tap->called);
	if (tap->listener.link)
		nod_listener_mute(&tap->listener);
	if (tap->taken)
		nod_switcher_off(tap->switcher, &link, NULL);
	tap->taken = false;
}

void nod_tap_check_bus(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports)
{
	if (tap->state == NOD_TAP_LISTENING && tap->listener.bus_off)
		enter(tap, NOD_TAP_BUS_OFF, now, reports);
	else if (tap->state == NOD_TAP_BUS_OFF && !tap->listener.bus_off)
		enter(tap, NOD_TAP_LISTENING, now, reports);
}

void nod_tap_clock_step(struct nod_tap *tap, nod_duration step)
{
	tap->since = nod_time_after(tap->since, step);
	if (nod_time_is_set(tap->gap_from))
		tap->gap_from = nod_time_after(tap->gap_from, step);
	tap->search.since = nod_time_after(tap->search.since, step);
	tap->listener.hardware.running = false;
}
