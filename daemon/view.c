/* SPDX-License-Identifier: MIT */
#include "text-stream.h"
#include "view.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "answer.h"
#include "answer-json.h"
#include "clock-watch.h"
#include "json-build.h"
#include "moment-text.h"

/* Chosen: what fits beside the rest on a screen of 24 lines. */
#define SUSPECTS_SHOWN 3
#define MARKS_SHOWN 5
#define QUESTIONS_SHOWN 4
#define PROPOSALS_SHOWN 3

/* null for a time or duration that is not set. */
static json_t *nanoseconds(int64_t ns)
{
	return ns == INT64_MIN ? json_null() : json_integer(ns);
}

/* A time of the findings, which go on where the clock was set, by the clock of now. */
static json_t *on_clock(const struct nod_findings *f, nod_time time)
{
	nod_duration back = {-f->clock_shift.ns};

	return nanoseconds(nod_time_is_set(time) ? nod_time_after(time, back).ns : INT64_MIN);
}

/* A sentence, with its times by the clock on the wall; NULL: out of memory. */
static json_t *told(const struct nod_findings *f, const char *sentence)
{
	char *text = nod_moment_tell_clock(f, sentence, NULL);
	json_t *json = text ? nod_json_text(text) : NULL;

	free(text);
	return json;
}

static json_t *session_view(struct nod_daemon *daemon)
{
	struct nod_recorder_status status = {.failing_since = NOD_TIME_NONE};
	const struct nod_live *live = &daemon->live;

	if (live->recorder)
		nod_recorder_status(live->recorder, &status);
	return json_pack("{s:b, s:s, s:o, s:I, s:I, s:I, s:s}", "recording", live->recorder != NULL,
			 "path", live->directory, "started_ns", nanoseconds(live->started.ns),
			 "frames", (json_int_t)status.frames, "lost", (json_int_t)status.lost,
			 "bytes", (json_int_t)status.bytes, "problem",
			 status.error ? strerror(-status.error) : "");
}

/* The tap a network is heard through, or NULL. */
static const struct nod_tap *tap_of(const struct nod_tap *taps, size_t count,
				    const struct nod_findings *f, int network)
{
	for (size_t i = 0; i < count; i++)
		if (nod_vehicle_network_of_interface(f->vehicle, taps[i].interface) == network)
			return &taps[i];
	return NULL;
}

static json_t *network_view(const struct nod_findings *f, const struct nod_tap *tap,
			    const struct nod_network_finding *n)
{
	bool listening = tap && tap->state == NOD_TAP_LISTENING;

	return json_pack("{s:s, s:s, s:b, s:s, s:o, s:o, s:f, s:s, s:s, s:I, s:I}", "name", n->name,
			 "interface", tap ? tap->interface : "", "listening", listening, "state",
			 nod_network_state_name(n->state), "since_ns", on_clock(f, n->since),
			 "deadline_ns", on_clock(f, n->deadline), "load", n->load_now, "verdict",
			 nod_verdict_name(n->verdict), "reason", n->reason, "frames",
			 (json_int_t)n->frames, "lost", (json_int_t)n->lost);
}

static json_t *networks_view(const struct nod_tap *taps, size_t count, const struct nod_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->network_count; i++)
		nod_json_append(&list,
				network_view(f, tap_of(taps, count, f, f->networks[i].network),
					     &f->networks[i]));
	return list;
}

static json_t *suspects_view(const struct nod_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->suspect_count && i < SUSPECTS_SHOWN; i++)
		nod_json_append(&list, json_pack("{s:s, s:s, s:f}", "name", f->suspects[i].name,
						 "role", nod_role_name(f->suspects[i].role),
						 "probability", f->suspects[i].probability));
	return list;
}

static json_t *wake_view(const struct nod_findings *f)
{
	const struct nod_wake_finding *wake;
	const char *network = "";

	if (!f->wake_count)
		return json_null();
	wake = &f->wakes[f->wake_count - 1];
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].network == wake->network)
			network = f->networks[i].name;
	return json_pack("{s:o, s:s, s:s, s:s, s:i}", "time_ns", on_clock(f, wake->time), "network",
			 network, "who", wake->sender >= 0 ? f->senders[wake->sender].name : "",
			 "cause", wake->cause, "count", (int)(f->wake_count));
}

/* True for what a person entered. */
static bool is_persons(const struct nod_mark_finding *mark)
{
	return !mark->inferred && nod_mark_is_persons((enum nod_mark_kind)mark->kind);
}

/* The last marks that a person made; what nodoffd wrote itself does not push them out. */
static json_t *marks_view(const struct nod_findings *f)
{
	json_t *list = json_array();
	size_t first = f->mark_count, shown = 0;

	while (first > 0 && shown < MARKS_SHOWN)
		shown += is_persons(&f->marks[--first]);
	for (size_t i = first; i < f->mark_count; i++) {
		const struct nod_mark_finding *mark = &f->marks[i];
		if (!is_persons(mark))
			continue;
		nod_json_append(&list, json_pack("{s:o, s:s, s:s, s:o, s:s}", "time_ns",
						 on_clock(f, mark->entered), "kind",
						 nod_mark_kind_name((enum nod_mark_kind)mark->kind),
						 "subject", mark->subject, "dated_ns",
						 on_clock(f, mark->time), "meant",
						 mark->meant ? mark->meant : ""));
	}
	return list;
}

/* The last time that nobody listened, null: never. */
static json_t *gap_view(const struct nod_findings *f)
{
	for (size_t i = f->mark_count; i-- > 0;) {
		const struct nod_mark_finding *mark = &f->marks[i];
		int name = (int)strcspn(mark->subject, " ");
		if (mark->kind == NOD_MARK_GAP)
			return json_pack("{s:o, s:s%, s:s}", "time_ns", on_clock(f, mark->time),
					 "interface", mark->subject, name, "length",
					 mark->subject + name + strspn(mark->subject + name, " "));
	}
	return json_null();
}

static const char *network_name(const struct nod_findings *f, int network)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].network == network)
			return f->networks[i].name;
	return "";
}

/* What is out of the car now, and how long to wait for what it shows. */
static json_t *waits_view(const struct nod_findings *f)
{
	static const char *const results[] = {"undecided", "slept", "proved", "unchanged",
					      "not off"};
	json_t *list = json_array();

	for (size_t i = 0; i < f->isolation_count; i++) {
		const struct nod_isolation_finding *t = &f->isolations[i];
		if (nod_time_is_set(t->refitted))
			continue;
		nod_json_append(&list, json_pack("{s:s, s:o, s:o, s:s, s:s, s:o}", "subject",
						 t->subject, "since_ns", on_clock(f, t->isolated),
						 "until_ns", on_clock(f, nod_isolation_wait(f, t)),
						 "network", network_name(f, t->network), "result",
						 results[t->result], "text", told(f, t->text)));
	}
	return list;
}

/* The buttons below a question. */
static json_t *answers_view(const struct nod_question_finding *q)
{
	char yes[80];

	if (q->kind == NOD_MARK_DOOR)
		return json_pack("[{s:s, s:s, s:s}, {s:s, s:s, s:s}]", "label", "yes, somebody was",
				 "kind", nod_mark_kind_name(NOD_MARK_DOOR), "subject", q->subject,
				 "label", "nobody was", "kind",
				 nod_mark_kind_name(NOD_MARK_NOTHING), "subject", "");
	snprintf(yes, sizeof(yes), "yes, %.70s", q->subject);
	return json_pack("[{s:s, s:s, s:s}, {s:s, s:b}, {s:s, s:s, s:s}]", "label", yes, "kind",
			 nod_mark_kind_name((enum nod_mark_kind)q->kind), "subject", q->subject,
			 "label", "another", "another", 1, "label", "nothing was done", "kind",
			 nod_mark_kind_name(NOD_MARK_NOTHING), "subject", "");
}

/* What happened in the car and nobody noted. */
static json_t *questions_view(const struct nod_findings *f)
{
	json_t *list = json_array();
	size_t first = f->question_count > QUESTIONS_SHOWN ? f->question_count - QUESTIONS_SHOWN
							   : 0;

	for (size_t i = f->question_count; i-- > first;) {
		const struct nod_question_finding *q = &f->questions[i];
		nod_json_append(&list, json_pack("{s:o, s:s, s:s, s:o, s:o}", "time_ns",
						 on_clock(f, q->time), "kind",
						 nod_mark_kind_name((enum nod_mark_kind)q->kind),
						 "subject", q->subject, "text", told(f, q->text),
						 "answers", answers_view(q)));
	}
	return list;
}

static json_t *current_view(const struct nod_live *live)
{
	if (!nod_time_is_set(live->current_at))
		return json_null();
	return json_pack("{s:o, s:I}", "time_ns", nanoseconds(live->current_at.ns), "microamps",
			 (json_int_t)live->current_ua);
}

static json_t *cautions_view(const struct nod_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->caution_count; i++)
		nod_json_append(&list, nod_json_text(f->cautions[i]));
	return list;
}

static json_t *proposals_view(const struct nod_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->proposal_count && i < PROPOSALS_SHOWN; i++) {
		const struct nod_test_proposal *p = &f->proposals[i];
		const struct nod_fuse *fuse = p->fuse == NOD_NONE ? NULL
								  : &f->vehicle->fuses[p->fuse];
		nod_json_append(
			&list,
			json_pack("{s:o, s:o, s:o, s:o}", "what", nod_json_text(p->what), "fuse",
				  fuse ? nod_json_text(fuse->name) : json_null(), "box",
				  fuse && fuse->box ? nod_json_text(fuse->box) : json_null(),
				  "caution", nod_json_text(p->caution)));
	}
	return list;
}

/* What was isolated and is not back. */
static json_t *out_view(const struct nod_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; i < f->mark_count; i++) {
		bool back = f->marks[i].kind != NOD_MARK_ISOLATED;
		for (size_t k = i + 1; k < f->mark_count && !back; k++)
			back = (f->marks[k].kind == NOD_MARK_ISOLATED ||
				f->marks[k].kind == NOD_MARK_REFITTED) &&
			       !strcasecmp(f->marks[k].subject, f->marks[i].subject);
		if (!back)
			nod_json_append(&list, nod_json_text(f->marks[i].subject));
	}
	return list;
}

void nod_view_add_findings(json_t **view, const struct nod_findings *f, const struct nod_tap *taps,
			   size_t tap_count)
{
	nod_json_put(view, "verdict", nod_json_text(nod_verdict_name(f->verdict)));
	nod_json_put(view, "sentence", told(f, f->sentence));
	nod_json_put(view, "next", told(f, f->next));
	nod_json_put(view, "lock_ns", on_clock(f, f->lock));
	nod_json_put(view, "lock_source", nod_json_text(nod_lock_source_name(f->lock_source)));
	nod_json_put(view, "networks", networks_view(taps, tap_count, f));
	nod_json_put(view, "suspects", suspects_view(f));
	nod_json_put(view, "wake", wake_view(f));
	nod_json_put(view, "marks", marks_view(f));
	nod_json_put(view, "cautions", cautions_view(f));
	nod_json_put(view, "proposals", proposals_view(f));
	nod_json_put(view, "out", out_view(f));
	nod_json_put(view, "gap", gap_view(f));
	nod_json_put(view, "waits", waits_view(f));
	nod_json_put(view, "questions", questions_view(f));
}

json_t *nod_view_make(struct nod_daemon *daemon)
{
	struct nod_findings *f = nod_engine_findings(daemon->live.engine);
	json_t *view = f ? json_object() : NULL;

	if (view) {
		nod_json_put(&view, "now_ns", nanoseconds(nod_clock_now().ns));
		nod_json_put(&view, "session", session_view(daemon));
		nod_json_put(&view, "taps", nod_view_taps(daemon->taps, daemon->tap_count));
		nod_json_put(&view, "current", current_view(&daemon->live));
		nod_view_add_findings(&view, f, daemon->taps, daemon->tap_count);
		if (daemon->as_needed && !daemon->tap_count)
			nod_json_put(&view, "next",
				     nod_json_text("nothing is listened to yet: `nodoff record "
						   "start` takes the adapters and begins."));
	}
	if (f)
		nod_findings_free(f);
	return view;
}

static json_t *print_answer(const struct nod_findings *f)
{
	struct nod_text_stream stream;
	json_t *object = NULL;

	if (nod_text_stream_open(&stream))
		return NULL;
	int status = nod_answer_print(stream.out, f, (struct nod_answer_style){.full = true});
	if (!nod_text_stream_close(&stream) && !status)
		object = json_pack("{s:s}", "text", stream.text);
	free(stream.text);
	return object;
}

json_t *nod_view_answer(struct nod_daemon *daemon, bool as_json, struct nod_error *err)
{
	struct nod_findings *f;
	json_t *object;

	f = nod_engine_findings(daemon->live.engine);
	object = !f        ? NULL
		 : as_json ? json_pack("{s:o}", "json", nod_answer_json(f))
			   : print_answer(f);
	if (f) {
		nod_json_put(&object, "verdict", nod_json_text(nod_verdict_name(f->verdict)));
		nod_json_put(&object, "sentence", told(f, f->sentence));
		nod_findings_free(f);
	}
	if (!object)
		nod_error_set(err, ENOMEM, "out of memory");
	return object;
}
