/* SPDX-License-Identifier: MIT */
/* The battery current of one session, in bounded memory, and what it shows.
 *
 * Currents are microamps, positive when the car takes current from the
 * battery. Samples come in time order. They are kept as cells: stretches of
 * one second at first, of two, four, ... when the room is full, so that hours
 * are kept by the second and a week still fits into about a megabyte. A cell
 * knows the extremes and the charge of its samples exactly; its typical value
 * is the mean of the medians of its seconds, which a blink of a lamp does not
 * move. */
#ifndef NOD_CURRENT_TRACE_H
#define NOD_CURRENT_TRACE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "timestamp.h"

/* Chosen: two and a quarter hours by the second, three days by 32 s (shorter
 * than the pulses worth knowing), and levels found within 0.2 s. */
#define NOD_CURRENT_CELLS 8192

/* Larger magnitudes are no battery current but a fault of the logger
 * (a starter takes some hundred amps). Chosen. */
#define NOD_CURRENT_LARGEST_UA INT64_C(5000000000)

/* Between samples further apart nobody measured: such a stretch adds no
 * charge. Chosen: loggers write at least once a minute. */
#define NOD_CURRENT_GAP_S 120

/* How far the zero of an inductive clamp wanders, and in what time it gets
 * there. Common practice, no source: 10-20 mA; the time is chosen. */
#define NOD_CLAMP_WANDER_UA 20000
#define NOD_CLAMP_WANDER_S 1800

/* Just zeroed, a clamp is still this far off. Chosen: two counts of 1 mA. */
#define NOD_CLAMP_ZERO_UA 2000

struct nod_current_cell {
	nod_time first, last;  /* of its samples */
	uint64_t count;        /* samples */
	uint32_t seconds;      /* one-second parts with samples in it */
	double typical;        /* mean of the medians of these parts */
	double low, high;      /* lowest and highest of these medians */
	double sample_high;    /* highest sample */
	double sum;            /* of its samples */
	double charge;         /* microamp seconds since the sample before its first */
	nod_duration measured; /* the time that charge belongs to */
};

struct nod_current_trace;

/* NULL when memory ran out. */
struct nod_current_trace *nod_current_trace_new(void);
void nod_current_trace_free(struct nod_current_trace *trace);

/* Takes one sample. Returns 0; -EINVAL when it is earlier than the one before
 * and -ERANGE when its magnitude is impossible (both are counted and left
 * out), -ENOMEM (left out). */
int nod_current_trace_take(struct nod_current_trace *trace, nod_time time, int64_t microamps);

/* The clamp was zeroed: its wander begins anew, a step here is the clamp's. */
void nod_current_trace_zeroed(struct nod_current_trace *trace, nod_time time);

/* Samples taken, left out because earlier than the one before, left out
 * because impossible; zeroing marks. */
void nod_current_trace_counts(const struct nod_current_trace *trace, uint64_t *samples,
			      uint64_t *out_of_order, uint64_t *impossible, size_t *zeroings);

/* The cells so far, the open one included, in time order. The array lives in
 * the trace until it is changed. *length (may be NULL): how long a cell is. */
const struct nod_current_cell *nod_current_trace_cells(const struct nod_current_trace *trace,
						       size_t *count, nod_duration *length);

/* Charge from `from` to `to` in microamp hours and the time it was measured
 * for; cells that are cut count by their share. */
double nod_current_trace_charge(const struct nod_current_trace *trace, nod_time from, nod_time to,
				nod_duration *measured);

/* The last zeroing at or before `time`, or NOD_TIME_NONE. */
nod_time nod_current_trace_zeroed_before(const struct nod_current_trace *trace, nod_time time);

/* How far off the zero of a sensor that wanders by wander_ua may be at `time`. */
double nod_current_trace_wander(const struct nod_current_trace *trace, nod_time time,
				int64_t wander_ua);

/* What the trace shows. */

/* A stretch in which the current stayed, but for pulses. */
struct nod_current_level {
	nod_time from, to;
	double ua;             /* median, pulses left out */
	double noise_ua;       /* standard deviation of the noise of one cell */
	double uncertainty_ua; /* of ua: two standard errors and the wander of the zero */
};

/* A change from one level to another. */
struct nod_current_step {
	nod_time time;                         /* when the new level began */
	nod_duration unsure;                   /* of the time: either way */
	double before_ua, after_ua, change_ua; /* change: right here, so that drift is not in it */
	double uncertainty_ua; /* of the change: two standard errors; no zero is in it */
	bool zeroing;          /* the clamp was zeroed here: says nothing about the car */
};

/* A short excursion from a level and back to it. */
struct nod_current_pulse {
	nod_time from, to;
	double base_ua;    /* the level it left */
	double height_ua;  /* above the base (negative: a dip), its typical value */
	double charge_uah; /* above the base */
	int group;         /* index into groups, -1 for none */
};

/* Pulses that look alike. */
struct nod_current_pulse_group {
	size_t count;
	double height_ua;      /* median */
	nod_duration duration; /* median */
	nod_time first, last;  /* when the first and the last began */
	bool periodic;
	nod_duration period, jitter; /* NOD_DURATION_NONE unless periodic */
	double average_ua;           /* what they add to the mean current since the lock */
	bool telemetry_like; /* height, length and period of a telematics unit that reports */
};

struct nod_current_findings {
	nod_time from, to; /* first and last sample */
	uint64_t samples, out_of_order, impossible;
	nod_duration cell;
	nod_time since;    /* the lock, or the start of the trace when it came later */
	double charge_uah; /* since then, as far as measured */
	nod_duration measured, not_measured; /* since then */
	double mean_ua;  /* charge over measured time; 0 when nothing was measured */
	double noise_ua; /* typical noise of one cell */
	size_t zeroings;
	nod_time last_zeroed; /* or NONE */
	int64_t wander_ua;
	int64_t limit_ua; /* <= 0: none given */

	const struct nod_current_level *levels; /* in time order */
	size_t level_count;
	const struct nod_current_step *steps;
	size_t step_count;
	const struct nod_current_pulse *pulses;
	size_t pulse_count;
	const struct nod_current_pulse_group *groups; /* largest average first */
	size_t group_count;

	bool quiescent_known; /* a level lasted long enough since the lock */
	double quiescent_ua, quiescent_uncertainty_ua; /* the lowest such level */
	nod_time quiescent_from, quiescent_to;
	bool within_noise;        /* it cannot be told from zero */
	double pulses_average_ua; /* what all pulses add to the mean since the lock */
	double blinks_average_ua; /* what is shorter than a cell adds */
};

struct nod_current_request {
	nod_time lock;     /* NONE: from the start of the trace */
	int64_t limit_ua;  /* key-off limit; 0: none */
	int64_t wander_ua; /* of the sensor; NOD_CLAMP_WANDER_UA for a clamp, 0 for a shunt */
};

/* NULL when there is no sample (errno 0) or memory ran out (errno ENOMEM).
 * All memory belongs to the arena. Changes nothing in the trace. */
struct nod_current_findings *nod_current_trace_findings(const struct nod_current_trace *trace,
							const struct nod_current_request *request,
							struct nod_arena *arena);

#endif
