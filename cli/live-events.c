/* SPDX-License-Identifier: MIT */
#include "live-events.h"

#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include "client.h"
#include "live-screen.h"
#include "option.h"
#include "timestamp.h"

struct stream {
	FILE *out;
	const json_t *old, *view;
	bool as_json;
	int count;
};

__attribute__((format(printf, 5, 6))) static void tell(struct stream *s, long long time,
						       const char *what, const char *about,
						       const char *format, ...)
{
	char text[NOD_LIVE_LINE_BYTES], when[16];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	s->count++;
	if (!s->as_json) {
		fprintf(s->out, "%s %s%s%s\n", nod_live_clock(when, time), about,
			*about ? ": " : "", text);
		return;
	}
	json_t *line = json_pack("{s:i, s:o, s:s, s:s, s:s}", "nodoff", NOD_JSON_VERSION, "time_ns",
				 time == INT64_MIN ? json_null() : json_integer(time), "what", what,
				 "about", about, "text", text);
	if (line && !json_dumpf(line, s->out, JSON_COMPACT))
		fputc('\n', s->out);
	json_decref(line);
}

/* The item of the older view whose `key` is the same. */
static const json_t *before(const struct stream *s, const char *list, const char *key,
			    const json_t *item)
{
	size_t i;
	const json_t *other;

	json_array_foreach(json_object_get(s->old, list), i, other)
		if (json_equal(json_object_get(other, key), json_object_get(item, key)))
			return other;
	return NULL;
}

static long long now(const struct stream *s)
{
	return nod_client_integer(s->view, "now_ns");
}

static void tell_taps(struct stream *s)
{
	size_t i;
	const json_t *tap;

	json_array_foreach(json_object_get(s->view, "taps"), i, tap) {
		const json_t *was = before(s, "taps", "interface", tap);
		const char *note = nod_client_text(tap, "note");
		if (was && !strcmp(nod_client_text(was, "state"), nod_client_text(tap, "state")))
			continue;
		tell(s, now(s), "tap", nod_client_text(tap, "interface"), "%s%s%s",
		     nod_client_text(tap, "state"), *note ? ": " : "", note);
	}
}

/* True when the same mark is in the other list. */
static bool is_in(const json_t *list, const json_t *mark)
{
	size_t i;
	const json_t *other;

	json_array_foreach(list, i, other)
		if (json_equal(other, mark))
			return true;
	return false;
}

static void tell_marks(struct stream *s)
{
	const json_t *old = json_object_get(s->old, "marks"),
		     *marks = json_object_get(s->view, "marks");
	long long first = nod_client_integer(json_array_get(marks, 0), "time_ns");
	size_t i;
	const json_t *mark;

	json_array_foreach(marks, i, mark)
		if (!is_in(old, mark))
			tell(s, nod_client_integer(mark, "time_ns"), "entry", "journal", "%s%s%s",
			     nod_client_text(mark, "kind"),
			     *nod_client_text(mark, "subject") ? " " : "",
			     nod_client_text(mark, "subject"));
	json_array_foreach(old, i, mark) /* older ones have only left the list */
		if (json_array_size(marks) && nod_client_integer(mark, "time_ns") >= first &&
		    !is_in(marks, mark))
			tell(s, nod_client_integer(mark, "time_ns"), "undone", "journal",
			     "taken back: %s %s", nod_client_text(mark, "kind"),
			     nod_client_text(mark, "subject"));
}

static void tell_questions(struct stream *s)
{
	size_t i;
	const json_t *question;

	json_array_foreach(json_object_get(s->view, "questions"), i, question)
		if (!before(s, "questions", "time_ns", question))
			tell(s, nod_client_integer(question, "time_ns"), "question", "not noted",
			     "%s", nod_client_text(question, "text"));
}

static void tell_wake(struct stream *s)
{
	const json_t *wake = json_object_get(s->view, "wake");
	const json_t *was = json_object_get(s->old, "wake");

	if (json_is_object(wake) &&
	    nod_client_integer(wake, "time_ns") != nod_client_integer(was, "time_ns"))
		tell(s, nod_client_integer(wake, "time_ns"), "woken",
		     nod_client_text(wake, "network"), "woken by %s", nod_client_text(wake, "who"));
}

static bool is_past(const json_t *view, const json_t *network)
{
	long long deadline = nod_client_integer(network, "deadline_ns");

	return deadline != INT64_MIN && nod_client_integer(view, "now_ns") >= deadline;
}

static void tell_networks(struct stream *s)
{
	size_t i;
	const json_t *network;
	char left[NOD_TIME_TEXT + 16];

	json_array_foreach(json_object_get(s->view, "networks"), i, network) {
		const json_t *was = before(s, "networks", "name", network);
		const char *name = nod_client_text(network, "name");
		const char *state = nod_live_state(network);
		bool asleep = !strcmp(state, "asleep");
		long long since = nod_client_integer(network, "since_ns");
		nod_live_time_left(left, s->view, network);
		if (!was || strcmp(nod_live_state(was), state))
			tell(s, since == INT64_MIN ? now(s) : since, "state", name, "%s%s%s", state,
			     *left && !asleep ? ", deadline in " : "", asleep ? "" : left);
		if (was && !strcmp(state, "awake") && is_past(s->view, network) &&
		    !is_past(s->old, was))
			tell(s, nod_client_integer(network, "deadline_ns"), "deadline", name,
			     "awake past its settle deadline");
	}
}

static void tell_text(struct stream *s, const json_t *old, const json_t *view, const char *key,
		      const char *what, const char *about)
{
	const char *is = nod_client_text(view, key);

	if (*is && strcmp(nod_client_text(old, key), is))
		tell(s, now(s), what, about, "%s", is);
}

int nod_live_events_print(FILE *out, const json_t *old, const json_t *view, bool as_json)
{
	struct stream s = {out, old, view, as_json, 0};

	tell_taps(&s);
	tell_marks(&s);
	tell_questions(&s);
	tell_wake(&s);
	tell_networks(&s);
	tell_text(&s, json_object_get(old, "session"), json_object_get(view, "session"), "problem",
		  "problem", "the recording cannot be written");
	if (strcmp(nod_client_text(old, "verdict"), nod_client_text(view, "verdict")) ||
	    strcmp(nod_client_text(old, "sentence"), nod_client_text(view, "sentence")))
		tell_text(&s, NULL, view, "sentence", "verdict", nod_client_text(view, "verdict"));
	tell_text(&s, old, view, "next", "next", "next");
	return s.count;
}
