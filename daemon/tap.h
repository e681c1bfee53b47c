/* SPDX-License-Identifier: MIT */
/* One place where nodoffd listens: a network, the interface it is heard
 * through, and whether it is heard right now.
 *
 * A tap outlives its adapter: unplugged and plugged in again, switched off
 * and on, renamed (the kernel's index stays), it goes on by itself. Every
 * stretch in which nothing could be heard is told when it begins and when it has ended, and
 * becomes marks, so that it is never taken for sleep. */
#ifndef NOD_TAP_H
#define NOD_TAP_H

#include "interface.h"
#include "listener.h"
#include "switcher.h"

enum nod_tap_state {
	NOD_TAP_ABSENT,    /* there is no such interface */
	NOD_TAP_DOWN,      /* somebody switched it off, or it cannot be set up */
	NOD_TAP_REFUSED,   /* up in a mode that must not be used */
	NOD_TAP_BUS_OFF,   /* the controller switched itself off */
	NOD_TAP_SEARCHING, /* its bitrate is being looked for: see bitrate-search.h */
	NOD_TAP_LISTENING
};

/* "not plugged in", "switched off", ...: for people. */
const char *nod_tap_state_name(enum nod_tap_state state);

struct nod_tap {
	char interface[IFNAMSIZ]; /* as told; the name used in the recording */
	char called[IFNAMSIZ];    /* what it is called now */
	struct nod_interface_settings settings;
	struct nod_switcher *switcher; /* sets it up; NULL: nobody does */
	bool searching; /* nobody said its bitrate: settings has the one being tried */
	bool found;     /* its bitrate, by listening */
	struct nod_bitrate_search search;
	bool taken; /* we switched it on */
	enum nod_tap_state state;
	nod_time since;             /* of that state, system clock */
	int link;                   /* kernel's index, 0: absent */
	struct nod_link controller; /* as the kernel last described it */
	struct nod_listener listener;
	struct nod_error note; /* what is wrong or special, for people; "" when nothing */
	nod_time gap_from;     /* nobody listens since; NOD_TIME_NONE: somebody does */
};

/* What a tap reports: its state changed (say `text`), nobody listens from `from` on, or
 * nobody listened from `from` to `to`. */
struct nod_tap_reports {
	void (*changed)(void *context, struct nod_tap *tap, const char *text);
	void (*deaf)(void *context, struct nod_tap *tap, nod_time from);
	void (*gap)(void *context, struct nod_tap *tap, nod_time from, nod_time to);
	void *context;
};

/* Takes what the kernel says about an interface: sets it up when it is ours
 * and down for the first time, listens when it may. Interfaces that are not
 * this tap's are ignored. */
void nod_tap_link_changed(struct nod_tap *tap, const struct nod_link *link, bool gone, nod_time now,
			  const struct nod_tap_reports *reports);

/* Goes on with looking for its bitrate, if that is being done: call every tenth of a second. */
void nod_tap_search(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports);

/* True while its bitrate is not known and was not looked for among all there are. */
bool nod_tap_is_undecided(const struct nod_tap *tap);

/* Leaves the adapter as it was found: what we switched on is switched off. */
void nod_tap_release(struct nod_tap *tap);

/* The tap was told by its socket or by error reports that something changed. */
void nod_tap_check_bus(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports);

/* A recording begins: while nobody listens, that counts from now on, and is told. */
void nod_tap_begin_gap(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports);

/* A recording ends: tells how long nobody has listened up to now, if nobody does. */
void nod_tap_tell_gap(struct nod_tap *tap, nod_time now, const struct nod_tap_reports *reports);

/* Says that the system clock was set by `step`: times kept move along. */
void nod_tap_clock_step(struct nod_tap *tap, nod_duration step);

#endif
