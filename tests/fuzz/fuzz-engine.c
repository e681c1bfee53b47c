/* SPDX-License-Identifier: MIT */
/* Events of every kind, made of the bytes: eight or so an event, so that hours of a car
 * fit a small input. Engine, timeline and what is heard take them; the findings become
 * an answer, a report, a timeline, a comparison and a lesson. */
#include "answer.h"
#include "answer-json.h"
#include "compare.h"
#include "engine.h"
#include "fuzz.h"
#include "heard-times.h"
#include "learn.h"
#include "report.h"
#include "timeline-text.h"

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s,\n"
	"          management: { scheme: autosar, ids: 500-53F } }\n"
	"  chassis: { interfaces: [can1], sleeps within: 60 s,\n"
	"             management: { scheme: osek, ids: 400-41F } }\n"
	"  truck: { interfaces: [can2], management: { scheme: j1939 } }\n"
	"fuses: { F1: { family: mini, rating: 10 A }, F2: { family: ato, rating: 5 A } }\n"
	"modules:\n"
	"  door: { networks: [body], ids: [100-107], node: 1, fuses: [F1], inputs: [handle] }\n"
	"  seat: { networks: [body], ids: [108-10F], node: 2, fuses: [F2] }\n"
	"  brake: { networks: [chassis], ids: [200-20F], node: 3, fuses: [F1] }\n"
	"  gateway: { networks: [body, chassis], ids: [300], node: 4, gateway: yes }\n"
	"  engine: { networks: [truck], source address: 0 }\n";

static const char *const subjects[] = {
	"F1",          "F2",      "door", "seat",          "F1 2.3 mV", "handle",
	"can0 12.5 s", "+3600 s", "-2 s", "unknown",       "",          "all 1 s",
	"F2 0.4 mV",   "brake",   "F9",   "module gateway"};

struct run {
	struct nod_interfaces names;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_timeline *timeline;
	struct nod_heard *heard;
	nod_time now;
	unsigned event_count;
};

static void give(struct run *run, struct nod_event *event)
{
	event->time = run->now;
	if (event->kind == NOD_EVENT_FRAME)
		event->frame.time = run->now;
	if (event->kind == NOD_EVENT_MARK)
		event->mark.time = run->now;
	nod_engine_take(run->engine, event);
	nod_duration shift = nod_engine_clock_shift(run->engine);
	nod_timeline_take(run->timeline, event, shift);
	nod_heard_take(run->heard, event, shift);
	run->event_count++;
}

static uint32_t choose_id(struct fuzz_input *in)
{
	static const uint32_t bases[] = {0x100, 0x500, 0x400, 0x200, 0x7DF, 0x7E8, 0x300, 0x10C};
	unsigned byte = fuzz_byte(in);

	if (byte < 128)
		return (bases[byte >> 4] + (byte & 15)) & NOD_ID_STANDARD_MASK;
	if (byte < 192)
		return NOD_ID_EXTENDED | 0x18FF0000 | (byte & 63);
	if (byte < 200)
		return NOD_ID_ERROR | 0x80;
	return (uint32_t)fuzz_number(in, 4) &
	       (NOD_ID_EXTENDED | NOD_ID_REMOTE | NOD_ID_EXTENDED_MASK);
}

/* A frame, repeated at a period. */
static void give_frames(struct run *run, struct fuzz_input *in, unsigned kind)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME};
	struct nod_frame *frame = &event.frame;
	unsigned count = 1 + (kind & 3) * 20, step = fuzz_byte(in);

	frame->interface = fuzz_byte(in) & 3;
	frame->id = choose_id(in);
	if (!(frame->id & (NOD_ID_EXTENDED | NOD_ID_ERROR)))
		frame->id &= NOD_ID_REMOTE | NOD_ID_STANDARD_MASK;
	frame->length = (uint8_t)(fuzz_byte(in) % 9);
	for (unsigned i = 0; i < frame->length; i++)
		frame->data[i] = fuzz_byte(in);
	for (; count && run->event_count < 600; count--) {
		give(run, &event);
		run->now = nod_time_after(run->now, (nod_duration){step * 10 * NOD_NS_PER_MS});
		frame->data[0] = (uint8_t)(frame->data[0] + (kind & 1));
	}
}

static void give_other(struct run *run, struct fuzz_input *in, unsigned kind)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK};
	unsigned byte = fuzz_byte(in);

	switch (kind % 6) {
	case 0:
		event.kind = NOD_EVENT_CURRENT;
		event.current.microamps = (int64_t)byte * 20000 - 100000;
		break;
	case 1:
		event.kind = NOD_EVENT_LOSS;
		event.loss.interface = byte & 128 ? NOD_ALL_INTERFACES : byte & 3;
		event.loss.count = byte & 15;
		break;
	case 2:
		event.kind = NOD_EVENT_GAP;
		event.gap.interface = byte & 128 ? NOD_ALL_INTERFACES : byte & 3;
		event.gap.from = nod_time_after(run->now, nod_seconds(-(int64_t)(byte & 63)));
		break;
	case 3:
		event.kind = NOD_EVENT_CLOCK;
		event.clock.step = byte & 1 ? NOD_DURATION_NONE
					    : nod_seconds((int64_t)(int8_t)byte * 60);
		if (!(byte & 1))
			run->now = nod_time_after(run->now, event.clock.step);
		break;
	default:
		event.mark.kind = (enum nod_mark_kind)(byte % NOD_MARK_KINDS);
		event.mark.subject = subjects[fuzz_byte(in) % 16];
	}
	give(run, &event);
}

static void give_events(struct run *run, struct fuzz_input *in)
{
	while (in->left && run->event_count < 600) {
		unsigned kind = fuzz_byte(in);

		if (kind < 128)
			give_frames(run, in, kind);
		else if (kind < 192)
			give_other(run, in, kind);
		else if (kind < 254)
			run->now = nod_time_after(run->now,
						  nod_seconds((kind - 191) * (kind & 1 ? 1 : 60)));
		else if (kind == 254)
			nod_engine_advance(run->engine, run->now);
		else /* any time at all */
			run->now.ns = (int64_t)fuzz_number(in, 8);
	}
}

static void check(const struct nod_findings *f)
{

	FUZZ_CHECK(f->sentence[0] && f->verdict < NOD_VERDICTS);
	FUZZ_CHECK(f->culprit == NOD_NONE || (size_t)f->culprit < f->suspect_count);
	for (size_t i = 0; i < f->suspect_count; i++) {
		FUZZ_CHECK(f->suspects[i].probability >= 0 && f->suspects[i].probability <= 1);
		FUZZ_CHECK(!i || f->suspects[i].probability <= f->suspects[i - 1].probability);
	}
	for (size_t i = 1; i < f->wake_count; i++)
		FUZZ_CHECK(f->wakes[i].time.ns >= f->wakes[i - 1].time.ns);
	for (size_t n = 0; n < f->network_count; n++)
		for (size_t i = 0; i < f->networks[n].span_count; i++) {
			const struct nod_span_finding *span = &f->networks[n].spans[i];
			FUZZ_CHECK(span->from.ns <= span->to.ns);
		}
}

static char *answer_text(const struct nod_findings *f)
{
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	FUZZ_CHECK(out && !nod_answer_print(out, f, (struct nod_answer_style){.all_idents = true}));
	FUZZ_CHECK(!fclose(out));
	return text;
}

static void show(struct run *run, const struct nod_findings *f, unsigned what)
{
	struct nod_report_session told = {.title = "x",
					  .tool = "",
					  .clock = "",
					  .findings = f,
					  .timeline = run->timeline,
					  .vehicle_sha256 = ""};
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	FUZZ_CHECK(out);
	if (what & 1)
		FUZZ_CHECK(!nod_report_write(out, &told, 1, what & 2 ? &told : NULL));
	if (what & 4)
		FUZZ_CHECK(!nod_timeline_print(
			out, f, run->timeline,
			(struct nod_timeline_style){40 + (int)what % 90, what & 8}));
	if (what & 16) {
		struct nod_learn *learn = nod_learn_new();
		FUZZ_CHECK(learn && !nod_learn_add(learn, f, run->heard, &run->names));
		const struct nod_lesson *lesson = nod_learn_conclude(learn, run->vehicle);
		FUZZ_CHECK(lesson && !nod_lesson_write(lesson, out));
		nod_learn_free(learn);
	}
	FUZZ_CHECK(!fclose(out));
	FUZZ_CHECK(strlen(text) == length);
	free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct fuzz_input in = {data, size};
	struct run run = {.names = {.count = 4, .names = {"can0", "can1", "can2", "can3"}},
			  .now = {INT64_C(1700000000) * NOD_NS_PER_S}};
	struct nod_error err = {""};
	unsigned what = fuzz_byte(&in);

	if (what & 32)
		run.vehicle = nod_vehicle_parse(map, sizeof(map) - 1, "map", &err);
	FUZZ_CHECK(!(what & 32) || run.vehicle);
	run.engine = nod_engine_new(run.vehicle, &run.names);
	run.timeline = nod_timeline_new(&run.names);
	run.heard = nod_heard_new();
	FUZZ_CHECK(run.engine && run.timeline && run.heard);
	give_events(&run, &in);
	struct nod_findings *f = nod_engine_findings(run.engine);
	FUZZ_CHECK(f);
	check(f);
	show(&run, f, what);
	char *text = answer_text(f);
	nod_findings_free(f);
	if (what & 64) { /* asking changes nothing */
		f = nod_engine_findings(run.engine);
		FUZZ_CHECK(f);
		char *again = answer_text(f);
		FUZZ_CHECK(!strcmp(text, again));
		free(again);
		json_t *json = nod_answer_json(f);
		FUZZ_CHECK(json);
		json_decref(json);
		nod_findings_free(f);
	}
	free(text);
	nod_heard_free(run.heard);
	nod_timeline_free(run.timeline);
	nod_engine_free(run.engine);
	nod_vehicle_free(run.vehicle);
	return 0;
}
