/* The live view as lines of text: what nodoffd says, laid out for a screen.
 * Draws nothing, so that it can be tested and printed. */
#ifndef NOD_LIVE_SCREEN_H
#define NOD_LIVE_SCREEN_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

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

/* What changed from one view (NULL: nothing known) to the next, one line each,
 * for pipes: networks, taps, verdict, session, wake-ups, journal. Same limits. */
void nod_live_screen_changes(struct nod_live_screen *screen, const json_t *old, const json_t *view);

#endif
