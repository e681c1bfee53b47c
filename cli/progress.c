/* SPDX-License-Identifier: MIT */
#include "progress.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "door.h"

#define QUIET_NS NOD_NS_PER_S             /* shorter work says nothing */
#define INTERVAL_NS (250 * NOD_NS_PER_MS) /* between two lines. Chosen: readable */
#define STEPS 4096                        /* events between two looks at the clock */

static int64_t now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * NOD_NS_PER_S + now.tv_nsec;
}

void nod_progress_begin(struct nod_progress *progress, const char *what)
{
	*progress = (struct nod_progress){.what = what,
					  .terminal = isatty(STDERR_FILENO),
					  .began_ns = now_ns(),
					  .first = NOD_TIME_NONE};
}

static void say(struct nod_progress *p, nod_time time)
{
	char length[NOD_TIME_TEXT];
	int64_t now = now_ns();

	if (now - p->began_ns < QUIET_NS || now - p->said_ns < INTERVAL_NS)
		return;
	p->said_ns = now;
	p->shown = true;
	nod_door_control(stderr, "\r");
	fprintf(stderr, "%.40s: %.1f million events, %s of the recording", p->what,
		(double)p->steps / 1e6, nod_duration_print(length, nod_time_since(time, p->first)));
	nod_door_control(stderr, "\033[K");
}

void nod_progress_step(struct nod_progress *p, nod_time time, size_t events)
{
	uint64_t before = p->steps;

	p->steps += events;
	if (!p->terminal || before / STEPS == p->steps / STEPS || !nod_time_is_set(time))
		return;
	if (!nod_time_is_set(p->first))
		p->first = time;
	say(p, time);
}

void nod_progress_end(struct nod_progress *p)
{
	if (p->shown)
		nod_door_control(stderr, "\r\033[K");
	p->shown = false;
}
