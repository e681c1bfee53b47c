/* SPDX-License-Identifier: MIT */
/* What wake-ups cost: in time, in charge a day, and beside the battery. That decides whether they
 * matter. The measured current is taken where there is one, else what an awake car takes. */
#include <math.h>
#include <string.h>

#include "analysis.h"
#include "current-join.h"
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

/* It follows a network when it rises with it by so many times what is uncertain. Chosen. */
#define FOLLOWS_ERRORS 5

#define MAH_A_DAY 24.0 /* per mA */

/* How much more the car draws while this network is awake, as measured; 0: not known, or not
 * surely more: then the current may have been logged by a clock that is far off. */
static double follows_ma(const struct nod_analysis *a, size_t network)
{
	const struct nod_current_join *j = a->f->join;

	if (!j || !j->asleep_known || network >= j->network_count || !j->networks[network].known)
		return 0;
	double ua = j->networks[network].ua;
	bool surely = ua >= FOLLOWS_ERRORS * j->networks[network].uncertainty_ua &&
		      ua >= FOLLOWS_ERRORS * j->asleep_uncertainty_ua;
	return surely ? ua / 1000 : 0;
}

/* woken: ns awake in `wakes` wake-ups of `watched` ns. ma: what they draw, 0: not measured. */
static struct nod_wake_cost cost_of(double ma, int64_t woken, unsigned wakes, int64_t watched)
{
	double length = (double)woken + (double)wakes * (double)WAKE_AFTER_NS;
	struct nod_wake_cost cost = {ma > 0, 0};

	if (watched > 0)
		cost.mah_a_day = (ma > 0 ? ma : AWAKE_MA) * MAH_A_DAY *
				 fmin(length / (double)watched, 1);
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
	return cost_of(follows_ma(a, (size_t)(n - a->f->networks)), tally->woken, n->wakes,
		       tally->woken + tally->asleep);
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
	int64_t woken = 0;
	unsigned wakes = 0;
	double ma = 0;

	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		if (!is_by_itself(w))
			continue;
		wakes++;
		woken = nod_ns_add(woken, w->awake_for.ns);
	}
	if (wakes < 2 || watched < COST_WATCHED_NS || f->verdict == NOD_VERDICT_KEPT_AWAKE)
		return NULL;
	for (size_t i = 0; i < f->network_count; i++)
		ma += f->networks[i].wakes ? follows_ma(a, i) : 0;
	struct nod_wake_cost cost = cost_of(ma, woken, wakes, watched);
	return nod_arena_printf(
		a->arena, "All %u wake-ups together take %s: %s.", wakes, cost_text(a, &cost),
		matters(a, &cost) ? "that flattens it in time" : "too little to flatten a battery");
}
