/* SPDX-License-Identifier: MIT */
/* nodoff page: what its files share. */
#ifndef NOD_PAGE_H
#define NOD_PAGE_H

#include <netinet/in.h>
#include <stdio.h>

#include "error.h"

struct nod_page_options {
	struct sockaddr_in where; /* address and port to listen on */
	const char *socket;       /* of nodoffd; NULL: the default */
	const char *session;      /* replayed instead; NULL: live */
	double speed;             /* of the replay, times real time */
};

/* page-live.c, page-replay.c: serve until SIGINT or SIGTERM. 0, or a negative errno with
 * err set. `ready` is called once with the address. */
typedef void nod_page_ready(const char *address);
int nod_page_live(const struct nod_page_options *options, nod_page_ready *ready,
		  struct nod_error *err);
int nod_page_replay(const struct nod_page_options *options, nod_page_ready *ready,
		    struct nod_error *err);

struct nod_page;

/* Calls `ready` with the page's address. */
void nod_page_tell(const struct nod_page *page, const struct nod_page_options *options,
		   nod_page_ready *ready);

/* True from the first SIGINT or SIGTERM on. */
int nod_page_is_over(void);

/* page-code.c: the address as a QR code in half-height blocks, dark on light. False when it
 * could not be made. */
int nod_page_code(FILE *out, const char *address);

#endif
