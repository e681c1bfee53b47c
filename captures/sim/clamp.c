/* SPDX-License-Identifier: MIT */
/* The current clamp: it takes in the sum of all units and shows it with noise,
 * drift (10-20 mA is what such clamps wander; common practice, no source), an
 * offset from zeroing, and steps of its display. */
#include "recorder.h"

#define DISPLAY_STEP_UA 100

/* A triangle of +-drift_ua: smooth enough, and the same on every machine. */
static int64_t drift(const struct sim_clamp *clamp, int64_t now)
{
	int64_t half = clamp->drift_period / 2;
	int64_t phase = now % clamp->drift_period;
	int64_t up = phase < half ? phase : clamp->drift_period - phase;

	return clamp->drift_ua * (up / SIM_MS) * 2 / (half / SIM_MS) - clamp->drift_ua;
}

int64_t sim_clamp_reading(struct sim *sim)
{
	const struct sim_clamp *clamp = &sim->clamp;
	int64_t ua = sim->load_ua + sim->pulse_ua + clamp->high_ua + clamp->offset_ua;

	ua += drift(clamp, sim->now) + sim_random_normal(&sim->faulty, clamp->noise_ua);
	return ua - ua % DISPLAY_STEP_UA;
}
