/* SPDX-License-Identifier: MIT */
/* The live view as lines of text: what nodoffd says, laid out for a screen.
 * Draws nothing, so that it can be tested and printed. */
#ifndef NOD_LIVE_SCREEN_H
#define NOD_LIVE_SCREEN_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "timestamp.h"

#define NOD_LIVE_LINES_MAX 64
#define NOD_LIVE_LINE_BYTES 512 /* 128 columns of UTF-8 at four bytes each */

enum nod_live_emphasis { NOD_LIVE_PLAIN, NOD_LIVE_STRONG, NOD_LIVE_ALARM };

struct nod_live_screen {
	int width, height; /* columns and lines */
	int count;
	char lines[NOD_LIVE_LINES_MAX][NOD_LIVE_LINE_BYTES];
	enum nod_live_emphasis emphasis[NOD_LIVE_LINES_MAX];
};

/* Lays a view (daemon/PROTOCOL.md) out in at most height - 2 lines; the last
 * two belong to the keys and the prompt. Sizes below 40x10 are taken as that. */
void nod_live_screen_render(struct nod_live_screen *screen, const json_t *view, int width,
			    int height);

/* ---- live-text.c ---- */

/* a - b, as far as it fits: times come from the other end of a socket. */
long long nod_live_between(long long a, long long b);

/* A length in whole seconds: nothing on the screen should flicker. Returns buf. */
const char *nod_live_span(char buf[NOD_TIME_TEXT], long long ns);

/* "12:34:56" local time; "" for INT64_MIN. Returns buf. */
const char *nod_live_clock(char buf[16], long long ns);

/* Of a network of the view: awake, asleep, nothing heard, or that nobody listens; and
 * "12 min 30 s", "over by 3 s", "" without a deadline and while it sleeps. */
const char *nod_live_state(const json_t *network);
const char *nod_live_time_left(char buf[NOD_TIME_TEXT + 16], const json_t *view,
			       const json_t *network);

#endif
