/* SPDX-License-Identifier: MIT */
#include "stage.h"

#include <errno.h>
#include <getopt.h>
#include <stdlib.h>
#include <string.h>

#include "engine.h"

/* Of a scenario that takes long. */
#ifdef FAULTS_SANITIZED
#define MOST 60
#else
#define MOST 300
#endif

int nod_cmd_mark(int argc, char **argv);

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

/* One that nodoff does not meet, and one without any. */
static void prepare_misjudged(const struct stage *stage)
{
	char path[128];

	stage_copy(stage, "truck", "session");
	snprintf(path, sizeof(path), "%ssession/expect.txt", stage->path);
	FILE *file = fopen(path, "w");
	fputs("# of an invented car\nverdict: cannot tell\n", file);
	fclose(file);
}

static void prepare_unexpected(const struct stage *stage)
{
	char path[128];

	stage_copy(stage, "truck", "session");
	snprintf(path, sizeof(path), "%ssession/expect.txt", stage->path);
	remove(path);
}

/* An answer is whole or none, wherever the connection ends. */
static int answers_cut_short(const struct stage *stage, FILE *out)
{
	char socket[128], number[32];
	int bytes = 1, status = 0, refused = 0;

	snprintf(socket, sizeof(socket), "%snodoff.sock", stage->fixtures);
	for (; bytes < 1000; bytes++) {
		snprintf(number, sizeof(number), "cut %d", bytes);
		char *words[] = {"mark", "--socket", socket, "note", number, NULL};
		optind = 0;
		status = nod_cmd_mark(5, words);
		if (!status)
			break;
		refused += status == 4;
	}
	fprintf(out, "%d bytes\n", bytes);
	/* {"id":1,"ok":true,"protocol":1,"time_ns":1700000101000000000} and the newline */
	return !status && bytes == 62 && refused == bytes - 1 ? 0 : SCENARIO_WRONG;
}

#define START_NS (INT64_C(1700000000) * NOD_NS_PER_S)

/* Many wake-ups. */
static int often(const struct stage *stage, FILE *out)
{
	struct nod_interfaces names = {2, {"vcan0", "vcan1"}};
	struct nod_engine *engine = nod_engine_new(NULL, &names);
	int status = engine ? 0 : -ENOMEM;

	(void)stage;
	for (int i = 0; i < 800 && !status; i++) {
		struct nod_event event = {.kind = NOD_EVENT_FRAME};
		event.time.ns = event.frame.time.ns = START_NS + i * 30 * NOD_NS_PER_S;
		event.frame.id = 0x2A0U + (unsigned)i % 3;
		event.frame.interface = (uint8_t)(i & 1);
		status = nod_engine_take(engine, &event);
	}
	struct nod_findings *found = status ? NULL : nod_engine_findings(engine);
	if (found)
		fprintf(out, "%s %zu\n", found->sentence, found->wake_count);
	else
		fprintf(stderr, "out of memory\n");
	nod_findings_free(found);
	nod_engine_free(engine);
	return found ? 0 : 4;
}

/* clang-format off */
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
	{.name = "signal", .command = "history --signal Supply --vehicle @example-vehicle.yaml @truck"},
	{.name = "other log", .command = "frames ^frames.asc"},
	{.name = "import", .command = "vehicle import --network body ^car.dbc"},
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
	{.name = "control", .play = scenario_control, .tolerant = true, .most = MOST},
	{.name = "bare capture", .command = "analyse @truck/frames.log"},
	{.name = "packed by gzip", .command = "frames --count ^frames.log.gz"},
	{.name = "packed by zstd", .command = "frames ^frames.log.zst"},
	{.name = "pcap", .command = "frames ^frames.pcap"},
	{.name = "pcapng", .command = "frames ^frames.pcapng"},
	{.name = "two at once", .command = "analyse ^frames.log.zst ^frames.pcap"},
	{.name = "large", .command = "analyse --json ^large.log", .threads = true, .most = MOST},
	{.name = "large frames", .command = "frames --count ^large.log", .threads = true},
	{.name = "torn", .command = "analyse ^torn"},
	{.name = "torn, shown", .command = "session show ^torn"},
	{.name = "torn, cut", .command = "session cut ^torn --from start --to end --into %new", .made = "new"},
	{.name = "payload scrubbed",
	 .command = "session cut @truck --from start --to start+20s --scrub payload --into %new",
	 .made = "new"},
	{.name = "learn as JSON", .command = "vehicle learn --json @isolation-right"},
	{.name = "fuses",
	 .command = "fuses --vehicle ^car.yaml --clamp 0.43A --readings ^readings.txt F3=0.1mV"},
	{.name = "fuses as JSON", .command = "fuses --json --vehicle ^car.yaml F1=2.3mV F2=0.4mV"},
	{.name = "pins",
	 .command = "pins --high 0V --low 12.4V --ohms 60 --vehicle ^car.yaml --network drive"},
	{.name = "pins as JSON", .command = "pins --json --high 2.62V --low 2.38V --layer high-speed"},
	{.name = "battery", .command = "battery --vehicle ^car.yaml --rest 12.45V --current 80mA"},
	{.name = "battery as JSON", .command = "battery --json --vehicle ^car.yaml --current 80mA"},
	{.name = "gate", .command = "gate --jobs 1 ^folder", .status = 1, .explains = true,
	 .beyond = 2500, .most = MOST},
	{.name = "gate with jobs", .command = "gate --jobs 3 --tap ^folder", .status = 1,
	 .explains = true, .most = MOST},
	{.name = "gate for JUnit", .command = "gate --jobs 2 --junit %gate.xml ^folder", .status = 1,
	 .explains = true, .made = "gate.xml", .tolerant = true, .most = MOST},
	{.name = "gate, a new expectation", .command = "gate --update %session --yes",
	 .prepare = prepare_unexpected, .made = "session", .most = MOST},
	{.name = "gate, a changed expectation", .command = "gate --update %session --yes",
	 .prepare = prepare_misjudged, .made = "session", .most = MOST},
	{.name = "mark", .command = "mark --socket ^nodoff.sock isolated F12", .patient = true},
	{.name = "record start", .command = "record --socket ^nodoff.sock start title", .patient = true},
	{.name = "record stop", .command = "record --socket ^nodoff.sock stop", .patient = true},
	{.name = "record list", .command = "record --socket ^nodoff.sock list", .patient = true},
	{.name = "record status", .command = "record --socket ^nodoff.sock status", .patient = true},
	{.name = "record answer", .command = "record --socket ^nodoff.sock --json answer", .patient = true},
	{.name = "wait", .command = "wait --socket ^nodoff.sock --for sleep", .patient = true},
	{.name = "live view", .command = "live --plain --socket ^nodoff.sock", .status = 4, .patient = true},
	{.name = "answers cut short", .play = answers_cut_short, .once = true},
	{.name = "live", .play = scenario_record, .made = "live", .tolerant = true},
	{.name = "often woken", .play = often},
	{.name = NULL},
};
/* clang-format on */
