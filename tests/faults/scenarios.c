#include "stage.h"

/* A session that is changed by the command. */
static void prepare_session(const struct stage *stage)
{
	stage_copy(stage, "lost-adapter", "session");
}

const struct scenario scenarios[] = {
	{.name = "analyse", .command = "analyse --ids @truck"},
	{.name = "analyse as JSON", .command = "analyse --json --ids @lost-adapter"},
	{.name = "isolations", .command = "analyse @isolation-right"},
	{.name = "a good one beside it", .command = "analyse --good @truck @truck-waker"},
	{.name = "compare", .command = "compare @truck-waker @truck"},
	{.name = "compare as JSON", .command = "compare --json @truck-waker @truck"},
	{.name = "report", .command = "report --out - @telematics-pulses"},
	{.name = "report into a file", .command = "report --out %page.html @truck",
	 .made = "page.html"},
	{.name = "timeline", .command = "timeline --unicode @telematics-pulses"},
	{.name = "wakeups", .command = "wakeups --json @truck-waker"},
	{.name = "history", .command = "history @truck"},
	{.name = "learn", .command = "vehicle learn @isolation-right"},
	{.name = "learn and merge", .command = "vehicle learn --merge @isolation-right"},
	{.name = "vehicle check", .command = "vehicle check @example-vehicle.yaml"},
	{.name = "draft", .command = "vehicle draft @truck/frames.log"},
	{.name = "frames", .command = "frames --count @truck/frames.log @lost-adapter/frames.log"},
	{.name = "session show", .command = "session show @lost-adapter"},
	{.name = "session make",
	 .command = "session make @truck/frames.log --vehicle @truck/vehicle.yaml --locked start+1s "
		    "--into %new",
	 .made = "new"},
	{.name = "session cut",
	 .command = "session cut @lost-adapter --from start --to end --into %new", .made = "new"},
	{.name = "session cut and scrubbed",
	 .command = "session cut @truck --from start+30s --to end --scrub vin --into %new",
	 .made = "new"},
	{.name = "session mark", .command = "session mark %session isolated F12 --at +2min",
	 .made = "session", .prepare = prepare_session},
	{.name = "current show", .command = "current show @telematics-pulses"},
	{.name = NULL},
};
