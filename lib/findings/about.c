/* SPDX-License-Identifier: MIT */
#include "about.h"

#include <assert.h>

static const char *const facts[] = {
	[NOD_FACT_IN_USE] = "in-use",
	[NOD_FACT_MORE_USES] = "more-uses",
	[NOD_FACT_EVIDENCE] = "evidence",
	[NOD_FACT_ADDRESS] = "address",
	[NOD_FACT_BITS] = "bits",
	[NOD_FACT_TOUCH] = "touch",
	[NOD_FACT_RING] = "ring",
	[NOD_FACT_ISOLATION] = "isolation",
	[NOD_FACT_ALONE] = "alone",
	[NOD_FACT_WAKE] = "wake",
	[NOD_FACT_MORE_WAKES] = "more-wakes",
	[NOD_FACT_REST_CURRENT] = "rest-current",
	[NOD_FACT_NETWORK_CURRENT] = "network-current",
	[NOD_FACT_ASLEEP_CURRENT] = "asleep-current",
	[NOD_FACT_EXPLAINED] = "explained",
	[NOD_FACT_CHARGE] = "charge",
	[NOD_FACT_PULSES] = "pulses",
	[NOD_FACT_NETWORK] = "network",
	[NOD_FACT_PERSON] = "person",
	[NOD_FACT_ONLY] = "only",
	[NOD_FACT_WAKES_COST] = "wakes-cost",
};
static_assert(sizeof(facts) / sizeof(*facts) == NOD_FACTS, "each kind of fact has its name");

static const char *const doubts[] = {
	[NOD_DOUBT_HOLE] = "hole",
	[NOD_DOUBT_MORE_HOLES] = "more-holes",
	[NOD_DOUBT_MAP_NETWORKS] = "map-networks",
	[NOD_DOUBT_MAP_MARKS] = "map-marks",
	[NOD_DOUBT_LATE_START] = "late-start",
	[NOD_DOUBT_BENCH] = "bench",
	[NOD_DOUBT_NO_LOCK] = "no-lock",
	[NOD_DOUBT_DEADLINE] = "deadline",
	[NOD_DOUBT_END] = "end",
	[NOD_DOUBT_DEAF] = "deaf",
	[NOD_DOUBT_LOST] = "lost",
	[NOD_DOUBT_ERRORS] = "errors",
	[NOD_DOUBT_SHORT] = "short",
	[NOD_DOUBT_SPANS] = "spans",
	[NOD_DOUBT_IDS] = "ids",
	[NOD_DOUBT_MARKS] = "marks",
	[NOD_DOUBT_ISOLATIONS] = "isolations",
	[NOD_DOUBT_TOUCHES] = "touches",
	[NOD_DOUBT_CLOCK] = "clock",
	[NOD_DOUBT_RESTARTS] = "restarts",
	[NOD_DOUBT_LAGGING] = "lagging",
	[NOD_DOUBT_DEFECTS] = "defects",
	[NOD_DOUBT_GAPS] = "gaps",
};
static_assert(sizeof(doubts) / sizeof(*doubts) == NOD_DOUBTS, "each kind of doubt has its name");

const char *nod_fact_name(enum nod_fact kind)
{
	return facts[kind];
}

const char *nod_doubt_name(enum nod_doubt kind)
{
	return doubts[kind];
}
