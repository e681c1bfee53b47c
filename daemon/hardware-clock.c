/* SPDX-License-Identifier: MIT */
#include "hardware-clock.h"

nod_time nod_hardware_clock_map(struct nod_hardware_clock *clock, nod_time hardware,
				nod_time software)
{
	nod_duration seen = nod_time_since(software, hardware);
	nod_duration rise = {seen.ns - clock->offset.ns};
	nod_duration passed = nod_time_since(hardware, clock->last);

	if (!clock->running || passed.ns < 0 || rise.ns > NOD_HARDWARE_CLOCK_RESET.ns ||
	    rise.ns < 0) {
		clock->offset = seen;
	} else {
		int64_t allowed = passed.ns / NOD_NS_PER_S * NOD_HARDWARE_CLOCK_DRIFT_NS_PER_S +
				  passed.ns % NOD_NS_PER_S * NOD_HARDWARE_CLOCK_DRIFT_NS_PER_S /
					  NOD_NS_PER_S;
		clock->offset.ns += rise.ns < allowed ? rise.ns : allowed;
	}
	clock->running = true;
	clock->last = hardware;
	return nod_time_after(hardware, clock->offset);
}
