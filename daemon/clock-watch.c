#include "clock-watch.h"

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

nod_duration nod_clock_watch_check(struct nod_clock_watch *watch, nod_time first, nod_time second)
{
	nod_duration offset = nod_time_since(first, second);
	nod_duration step;

	if (watch->offset.ns == NOD_DURATION_NONE.ns) {
		watch->offset = offset;
		return (nod_duration){0};
	}
	step.ns = offset.ns - watch->offset.ns;
	if (step.ns < NOD_CLOCK_STEP_MIN.ns && step.ns > -NOD_CLOCK_STEP_MIN.ns)
		return (nod_duration){0};
	watch->offset = offset;
	return step;
}
