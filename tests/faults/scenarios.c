#include "stage.h"

#include <errno.h>
#include <string.h>

#include "daemon.h"
#include "span-sums.h"
#include "view.h"

/* A session that is changed by the command. */
static void prepare_session(const struct stage *stage)
{
	stage_copy(stage, "lost-adapter", "session");
}

/* A session without a current, and what a logger wrote. */
static void prepare_log(const struct stage *stage)
{
	char path[128];

	stage_copy(stage, "isolation-right", "session");
	snprintf(path, sizeof(path), "%slog.csv", stage->path);
	FILE *log = fopen(path, "w");
	fprintf(log, "UNIX time,Current (A)\n");
	for (int i = 0; i < 200; i++)
		fprintf(log, "%d,0.%03d\n", 1701757400 + i, 400 + i % 7);
	fclose(log);
}

#define START_NS (INT64_C(1700000000) * NOD_NS_PER_S)

/* Half a minute of two networks: frames, a sample of the current and an entry a second. */
static int watch(struct nod_live *live)
{
	int status = 0;

	for (int i = 0; i < 300 && !status; i++) {
		nod_time time = {START_NS + i * 100 * NOD_NS_PER_MS};
		struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = time};
		event.frame = (struct nod_frame){.time = time, .id = 0x2A0U + (unsigned)i % 9,
						 .length = 8, .interface = (uint8_t)(i & 1),
						 .data = {(uint8_t)i, (uint8_t)(i / 64)}};
		status = nod_live_take(live, &event);
		if (status || i % 10)
			continue;
		event = (struct nod_event){.kind = NOD_EVENT_CURRENT, .time = time};
		event.current.microamps = 400000 + i;
		status = nod_live_take(live, &event);
		event = (struct nod_event){.kind = NOD_EVENT_MARK, .time = time};
		event.mark = (struct nod_mark){time, i ? NOD_MARK_NOTE : NOD_MARK_LOCKED, ""};
		if (!status)
			status = nod_live_take(live, &event);
		if (!status)
			status = nod_live_tick(live, time);
	}
	return status;
}

static int show(struct nod_daemon *daemon, FILE *out)
{
	struct nod_error err = {""};
	json_t *view = nod_view_make(daemon), *answer = nod_view_answer(daemon, false, &err);
	bool whole = view && answer && !json_object_del(view, "now_ns") &&
		     !json_dumpf(view, out, JSON_SORT_KEYS) && !json_dumpf(answer, out, 0);

	json_decref(view);
	json_decref(answer);
	return whole ? 0 : -ENOMEM;
}

/* What nodoffd does with a session, but for the sockets. */
static int record(const struct stage *stage, FILE *out)
{
	struct nod_interfaces names = {2, {"vcan0", "vcan1"}};
	static struct nod_daemon daemon;
	struct nod_error err = {""};
	nod_time start = {START_NS}, end = {START_NS + 30 * NOD_NS_PER_S};
	char path[128];

	memset(&daemon, 0, sizeof(daemon));
	snprintf(path, sizeof(path), "%slive", stage->path);
	int status = nod_live_open(&daemon.live, NOD_CAPTURES "/truck/vehicle.yaml", &names, start,
				   &err);
	if (status) {
		fprintf(stderr, "%s\n", err.text);
		return 4;
	}
	status = nod_live_record(&daemon.live, path, "a title", "kernel", start, &err);
	if (!status) {
		status = watch(&daemon.live);
		int finished = nod_live_finish(&daemon.live, end, &err);
		status = status ? status : finished;
		if (!status)
			status = daemon.live.starved ? -ENOMEM : show(&daemon, out);
	}
	nod_live_close(&daemon.live, end);
	if (status)
		fprintf(stderr, "%s\n", *err.text ? err.text : strerror(-status));
	return status ? 4 : 0;
}

/* More wake-ups than are kept one by one. */
static int often(const struct stage *stage, FILE *out)
{
	struct nod_interfaces names = {2, {"vcan0", "vcan1"}};
	struct nod_engine *engine = nod_engine_new(NULL, &names);
	int status = engine ? 0 : -ENOMEM;

	(void)stage;
	if (engine)
		nod_engine_keep_spans(engine, 4, 4);
	for (int i = 0; i < 800 && !status; i++) {
		struct nod_event event = {.kind = NOD_EVENT_FRAME};
		event.time.ns = event.frame.time.ns = START_NS + i * 30 * NOD_NS_PER_S;
		event.frame.id = 0x2A0U + (unsigned)i % 3;
		event.frame.interface = (uint8_t)(i & 1);
		status = nod_engine_take(engine, &event);
	}
	struct nod_findings *found = status ? NULL : nod_engine_findings(engine);
	if (found)
		fprintf(out, "%s %zu %zu\n", found->sentence, found->wake_count, found->wakes_summed);
	else
		fprintf(stderr, "out of memory\n");
	nod_findings_free(found);
	nod_engine_free(engine);
	return found ? 0 : 4;
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
	{.name = "current import", .command = "current import %log.csv --into %session",
	 .made = "session", .prepare = prepare_log},
	{.name = "live", .play = record, .made = "live", .tolerant = true},
	{.name = "often woken", .play = often},
	{.name = NULL},
};
