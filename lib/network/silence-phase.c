/* SPDX-License-Identifier: MIT */
/* The rhythm that a message keeps over a silence. */
#include <math.h>

#include "ident.h"
#include "silence.h"

/* A module that runs on keeps its rhythm by its own oscillator, so only the jitter of single
 * frames shows, more when the period is known from less than the silence lasts. Chosen. */
#define JITTER_MIN_NS (0.5 * NOD_NS_PER_MS)
#define JITTERS 3
#define FRAMES_MIN 5
#define PERIOD_AGREES 0.02
#define TOLERANCE_MAX 0.2 /* of the period: above, it fits too often by chance */
#define KEPT_SHARE 0.8
#define KEPT_MAX 3.5
#define LOST (-0.5) /* one missing frame is enough to know the period wrongly */

float nod_silence_phase(const struct nod_ident *ident, nod_time end, nod_time time)
{
	struct nod_period p = nod_ident_period(ident);
	uint64_t frames = nod_ident_frames(ident) - ident->span_base;
	double length = (double)nod_time_since(ident->last, ident->span_first).ns;
	double away = (double)nod_time_since(time, ident->last).ns;

	/* Without any jitter it is no bus that was heard, but a drawing of one. */
	if (frames < FRAMES_MIN || p.rhythm != NOD_RHYTHM_CYCLIC || length <= 0 || !p.jitter.ns ||
	    !nod_silence_is_running(&p, nod_time_since(end, ident->last).ns))
		return 0;
	double period = length / (double)(frames - 1);
	double jitter = fmax(JITTERS * (double)p.jitter.ns, (double)JITTER_MIN_NS);
	double tolerance = jitter * (1 + away / length);
	if (fabs(period / (double)p.period.ns - 1) > PERIOD_AGREES ||
	    tolerance > TOLERANCE_MAX * period)
		return 0;
	if (fabs(remainder(away, period)) > tolerance)
		return (float)LOST;
	return (float)fmin(log(KEPT_SHARE * period / (2 * tolerance)), KEPT_MAX);
}
