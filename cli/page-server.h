/* SPDX-License-Identifier: MIT */
/* The web page for the phone beside the car: HTTP by libmicrohttpd, in the caller's own
 * loop. It knows no CAN and no socket of nodoffd: views come in, taps go out.
 *
 *     /KEY/                page.html; page.css, taps.js and page.js beside it
 *     /KEY/events          server-sent events: "view" (a view of daemon/PROTOCOL.md, with
 *                          `speed` and `practice` when it is replayed), "gone" ({error})
 *     /KEY/map             {fuses: [{name, box, cautions}], modules: [...], inputs: [...]}
 *     POST /KEY/clock      {now_ms}: the clock that marks are dated by
 *     POST /KEY/tap        {id, kind, subject, time_ms or time_ns}: one mark; a second one
 *                          with the same id is answered as the first and not made again
 *
 * Whoever does not know the key gets 403 and nothing else. No cookies, nothing from
 * elsewhere: the content security policy says so to the browser. */
#ifndef NOD_PAGE_SERVER_H
#define NOD_PAGE_SERVER_H

#include <jansson.h>
#include <netinet/in.h>

#include "error.h"
#include "timestamp.h"

/* What the person tapped. */
struct nod_page_tap {
	const char *kind, *subject; /* of a mark; kind "undo" takes the last one back */
	nod_time time;              /* on the clock of `now` below */
};

/* Where taps go and the map comes from. */
struct nod_page_feed {
	void *context;
	/* Puts the tap into the journal. 0, -ENOTCONN when it cannot be reached now (the phone
	 * keeps the tap), or another negative errno with err set (it never can be). */
	int (*tap)(void *context, const struct nod_page_tap *tap, struct nod_error *err);
	nod_time (*now)(void *context);
	json_t *(*map)(void *context); /* a new reference; NULL: out of memory */
};

struct nod_page;

/* Listens on `where`. `feed` must outlive it. NULL with errno and err set. */
struct nod_page *nod_page_open(const struct sockaddr_in *where, const struct nod_page_feed *feed,
			       struct nod_error *err);
void nod_page_close(struct nod_page *page);

const char *nod_page_key(const struct nod_page *page);
int nod_page_port(const struct nod_page *page); /* as bound, when 0 was asked for */

/* Shows an event to every phone: "view" or "gone". `object` is taken over; NULL: memory
 * ran out, the phones keep what they have. */
void nod_page_show(struct nod_page *page, const char *event, json_t *object);

/* For poll(): readable when there is something to do; and after so many milliseconds at the
 * latest (-1: no need). */
int nod_page_descriptor(const struct nod_page *page);
int nod_page_timeout(struct nod_page *page);
void nod_page_run(struct nod_page *page);

#endif
