/* SPDX-License-Identifier: MIT */
/* What wake-ups cost: in time, in charge a day, and beside the battery. That decides whether they
 * matter. The measured current is taken where there is one, else what an awake car takes. */
#include <math.h>
#include <string.h>

#include "analysis.h"
#include "current-join.h"
#include "current-trace.h"
#include "statement.h"
#include "wakes-cost.h"

/* Wake-ups matter when they take more than this share of the battery's capacity a day: a quarter
 * of what the usual limit of 50 mA takes from 60 Ah (common practice, no source): of such a
 * battery 300 mAh a day. Below that they are listed only. */
#define BATTERY_SHARE_MIN 0.005
#define BATTERY_MAH 60000.0 /* where the vehicle file does not say */

/* What runs on after each wake-up does not show on the network: relays, fans, a display.
 * Chosen. */
#define WAKE_AFTER_NS (10 * NOD_NS_PER_S)

/* An awake car takes about that: common practice, no source. Milliamperes. */
#define AWAKE_MA 2000.0

/* From shorter watches no day is worked out. Chosen. */
#define COST_WATCHED_NS (600 * NOD_NS_PER_S)

/* So much of the wake-ups has to have been measured for the measured current to be taken. */
#define MEASURED_MIN 0.5

/* It follows a network when it rises with it by so many times what is uncertain. Chosen. */
#define FOLLOWS_ERRORS 5

#define MAH_A_DAY 24.0 /* per mA */

/* Charge above the current at rest, as far as it was measured. */
struct extra {
	double uah;
	int64_t wanted, measured; /* ns */
};

/* The current is known at rest, and rises with a network: else it may have been logged by a clock
 * that is off by more than a wake-up lasts, or somewhere else. */
static bool follows_networks(const struct nod_analysis *a)
{
	const struct nod_current_join *j = a->f->join;

	for (size_t i = 0; j && j->asleep_known && i < j->network_count; i++)
		if (j->networks[i].known && a->f->networks[i].wakes &&
		    j->networks[i].ua >= FOLLOWS_ERRORS * j->networks[i].uncertainty_ua &&
		    j->networks[i].ua >= FOLLOWS_ERRORS * j->asleep_uncertainty_ua)
			return true;
	return false;
}

static void measure(const struct nod_analysis *a, struct extra *e, nod_time from, nod_time to)
{
	nod_time until = {nod_ns_add(to.ns, WAKE_AFTER_NS)};
	nod_duration measured = {0};

	if (!follows_networks(a))
		return;
	double rest = a->f->join->asleep_ua;
	double uah = nod_current_trace_charge(a->engine->current, from, until, &measured);
	e->uah += uah - rest * (double)measured.ns / 3600e9;
	e->wanted = nod_ns_add(e->wanted, nod_time_since(until, from).ns);
	e->measured = nod_ns_add(e->measured, measured.ns);
}

/* woken: ns awake in `wakes` wake-ups of `watched` ns. */
static struct nod_wake_cost cost_of(const struct extra *e, int64_t woken, unsigned wakes,
				    int64_t watched)
{
	double length = (double)woken + (double)wakes * (double)WAKE_AFTER_NS;
	bool known = e->wanted > 0 && (double)e->measured >= MEASURED_MIN * (double)e->wanted;
	struct nod_wake_cost cost = {known, 0};

	if (watched <= 0)
		return cost;
	double ma = known ? fmax(0, e->uah / 1000 * 3600e9 / (double)e->measured) : AWAKE_MA;
	cost.mah_a_day = ma * MAH_A_DAY * fmin(length / (double)watched, 1);
	return cost;
}

static double capacity_mah(const struct nod_analysis *a)
{
	int64_t given = a->f->vehicle->battery.capacity_mah;

	return given > 0 ? (double)given : BATTERY_MAH;
}

static bool matters(const struct nod_analysis *a, const struct nod_wake_cost *cost)
{
	return cost->mah_a_day >= BATTERY_SHARE_MIN * capacity_mah(a);
}

static struct nod_wake_cost cost_on(const struct nod_analysis *a,
				    const struct nod_network_finding *n,
				    const struct nod_wake_tally *tally)
{
	struct extra e = {0, 0, 0};

	for (size_t i = 0; i < n->span_count; i++)
		if (nod_analysis_is_unexplained_wake(a, n->network, &n->spans[i]))
			measure(a, &e, n->spans[i].from, n->spans[i].to);
	return cost_of(&e, tally->woken, n->wakes, tally->woken + tally->asleep);
}

bool nod_analysis_wakes_matter(const struct nod_analysis *a, const struct nod_network_finding *n,
			       const struct nod_wake_tally *tally)
{
	struct nod_wake_cost cost = cost_on(a, n, tally);

	return tally->woken + tally->asleep > 0 && n->wakes && matters(a, &cost);
}

static const char *charge_text(struct nod_analysis *a, double mah)
{
	return mah < 1000 ? nod_arena_printf(a->arena, "%.*f mAh", mah < 10 ? 1 : 0, mah)
			  : nod_arena_printf(a->arena, "%.*f Ah", mah < 10000 ? 1 : 0, mah / 1000);
}

/* "about 240 mAh a day as measured, 0.3 % of the battery's 70 Ah" */
static const char *cost_text(struct nod_analysis *a, const struct nod_wake_cost *cost)
{
	double capacity = (double)a->f->vehicle->battery.capacity_mah;
	double share = capacity > 0 ? 100 * cost->mah_a_day / capacity : 0;
	const char *battery = capacity <= 0
				      ? ""
				      : nod_arena_printf(a->arena, ", %.*f %% of the battery's %s",
							 share < 0.1  ? 2
							 : share < 10 ? 1
								      : 0,
							 share, charge_text(a, capacity));

	return nod_arena_printf(a->arena, "about %s a day%s%s", charge_text(a, cost->mah_a_day),
				cost->measured ? " as measured" : " at 2 A awake (assumed)",
				battery);
}

const char *nod_analysis_wakes_cost(struct nod_analysis *a, const struct nod_network_finding *n,
				    const struct nod_wake_tally *tally)
{
	int64_t watched = tally->woken + tally->asleep;
	double share = (double)tally->woken / (double)watched;
	const char *length = nod_analysis_length(a, (nod_duration){tally->woken});

	if (watched < COST_WATCHED_NS)
		return nod_arena_printf(a->arena, ", for %s in all", length);
	struct nod_wake_cost cost = cost_on(a, n, tally);
	return nod_arena_printf(a->arena, ", for %s in all: %.*f %% of the time watched, %s",
				length,
				share < 0.001 ? 3
				: share < 0.1 ? 1
					      : 0,
				100 * share, cost_text(a, &cost));
}

/* ---- all of them ---- */

/* By itself, whether the vehicle file expects it or not. */
static bool is_by_itself(const struct nod_wake_finding *w)
{
	return !*w->cause || !strcmp(w->cause, NOD_CAUSE_EXPECTED);
}

/* The first sleep of any network: from then on it was watched for wake-ups. */
static nod_time first_sleep(const struct nod_findings *f)
{
	nod_time first = NOD_TIME_NONE;

	for (size_t i = 0; i < f->network_count; i++) {
		nod_time slept = f->networks[i].first_slept_at;
		if (nod_time_is_set(slept) && (!nod_time_is_set(first) || slept.ns < first.ns))
			first = slept;
	}
	return first;
}

const char *nod_wakes_total_words(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	nod_time slept = first_sleep(f);
	int64_t watched = nod_time_is_set(slept) ? nod_time_since(f->end, slept).ns : 0;
	struct extra e = {0, 0, 0};
	int64_t woken = 0;
	unsigned wakes = 0;

	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		if (!is_by_itself(w))
			continue;
		wakes++;
		woken = nod_ns_add(woken, w->awake_for.ns);
		measure(a, &e, w->time, nod_time_after(w->time, w->awake_for));
	}
	if (wakes < 2 || watched < COST_WATCHED_NS || f->verdict == NOD_VERDICT_KEPT_AWAKE)
		return NULL;
	struct nod_wake_cost cost = cost_of(&e, woken, wakes, watched);
	return nod_arena_printf(
		a->arena, "All %u wake-ups together take %s: %s.", wakes, cost_text(a, &cost),
		matters(a, &cost) ? "that flattens it in time" : "too little to flatten a battery");
}
