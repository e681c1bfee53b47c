/* SPDX-License-Identifier: MIT */
#include "clock-watch.h"

#include <stdbool.h>
#include <time.h>

static nod_time read_clock(clockid_t id)
{
	struct timespec ts;

	clock_gettime(id, &ts);
	return (nod_time){ts.tv_sec * NOD_NS_PER_S + ts.tv_nsec};
}

nod_time nod_clock_now(void)
{
	return read_clock(CLOCK_REALTIME);
}

nod_time nod_clock_monotonic(void)
{
	return read_clock(CLOCK_MONOTONIC);
}

nod_time nod_clock_boottime(void)
{
	return read_clock(CLOCK_BOOTTIME);
}

nod_time nod_clock_to_microseconds(nod_time time)
{
	int64_t rest = time.ns % NOD_NS_PER_US;

	return (nod_time){time.ns - rest - (rest < 0 ? NOD_NS_PER_US : 0)};
}

/* Closer readings are not asked for. Chosen: a fiftieth of the smallest step. */
#define APART_ENOUGH_NS NOD_NS_PER_MS

static struct nod_clock_reading read_once(void)
{
	struct nod_clock_reading r = {.monotonic = nod_clock_monotonic()};

	r.system = nod_clock_now();
	r.boottime = nod_clock_boottime();
	r.apart = nod_time_since(nod_clock_monotonic(), r.monotonic);
	return r;
}

void nod_clock_read(struct nod_clock_reading *reading)
{
	*reading = read_once();
	for (int i = 1; i < NOD_CLOCK_READINGS && reading->apart.ns > APART_ENOUGH_NS; i++) {
		struct nod_clock_reading again = read_once();
		if (again.apart.ns < reading->apart.ns)
			*reading = again;
	}
}

nod_duration nod_clock_watch_check(struct nod_clock_watch *watch, nod_time first, nod_time second,
				   nod_duration apart)
{
	nod_duration offset = nod_time_since(first, second);
	bool begins = watch->offset.ns == NOD_DURATION_NONE.ns;
	int64_t least = NOD_CLOCK_STEP_MIN.ns + watch->apart.ns + apart.ns;
	int64_t step = begins ? 0 : offset.ns - watch->offset.ns;

	if (!begins && step < least && step > -least) {
		if (apart.ns >= watch->apart.ns)
			return (nod_duration){0};
		step = 0; /* a closer look at the same */
	}
	*watch = (struct nod_clock_watch){offset, apart};
	return (nod_duration){step};
}
