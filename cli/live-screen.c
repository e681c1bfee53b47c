/* SPDX-License-Identifier: MIT */
#include "live-screen.h"

#include <stdarg.h>
#include <stdint.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <time.h>

#include "client.h"
#include "plain-text.h"
#include "timestamp.h"

#define NETWORKS_SHOWN 6 /* of a screen of 24 lines; more on a larger one */

/* ---- text ---- */

/* Bytes of the first `columns` characters of a UTF-8 text. */
static size_t bytes_of_columns(const char *text, int columns)
{
	size_t i = 0;

	for (; text[i]; i++)
		if (((unsigned char)text[i] & 0xC0) != 0x80 && columns-- == 0)
			break;
	return i;
}

__attribute__((format(printf, 3, 4))) static void add(struct nod_live_screen *screen,
						      enum nod_live_emphasis emphasis,
						      const char *format, ...)
{
	char *line;
	va_list args;

	if (screen->count >= screen->height || screen->count >= NOD_LIVE_LINES_MAX)
		return;
	line = screen->lines[screen->count];
	va_start(args, format);
	vsnprintf(line, NOD_LIVE_LINE_BYTES, format, args);
	va_end(args);
	nod_text_make_plain(line, '?');
	line[bytes_of_columns(line, screen->width)] = 0;
	screen->emphasis[screen->count++] = emphasis;
}

/* Adds a text in lines broken at blanks, at most `most` of them; the first
 * begins with `lead`, the others with as many blanks. */
static void add_wrapped(struct nod_live_screen *screen, enum nod_live_emphasis emphasis,
			const char *lead, const char *text, int most)
{
	int indent = (int)strlen(lead);

	for (int i = 0; *text && i < most; i++) {
		size_t length = bytes_of_columns(text, screen->width - indent);
		bool cut = i + 1 == most && text[length];
		size_t blank = length;
		while (text[length] && blank && text[blank] != ' ')
			blank--;
		if (text[length] && blank)
			length = blank;
		if (cut && length > 4)
			length -= 4;
		add(screen, emphasis, "%*s%.*s%s", i ? indent : 0, i ? "" : lead, (int)length, text,
		    cut ? " ..." : "");
		text += length;
		text += strspn(text, " ");
	}
}

/* ---- the parts of the screen ---- */

static void add_title(struct nod_live_screen *screen, const json_t *view)
{
	const json_t *session = json_object_get(view, "session");
	char now[16], length[NOD_TIME_TEXT], right[128];
	long long now_ns = nod_client_integer(view, "now_ns");

	if (*nod_client_text(session, "problem"))
		snprintf(right, sizeof(right), "NOT RECORDING: %s",
			 nod_client_text(session, "problem"));
	else if (nod_client_true(session, "recording"))
		snprintf(right, sizeof(right), "recording %s, %lld frames",
			 nod_live_span(length,
				       nod_live_between(now_ns,
							nod_client_integer(session, "started_ns"))),
			 nod_client_integer(session, "frames"));
	else
		snprintf(right, sizeof(right), "not recording");
	add(screen, *nod_client_text(session, "problem") ? NOD_LIVE_ALARM : NOD_LIVE_STRONG,
	    "nodoff live  %s  %s", nod_live_clock(now, now_ns), right);
}

static void add_verdict(struct nod_live_screen *screen, const json_t *view)
{
	const char *verdict = nod_client_text(view, "verdict");
	const char *sentence = nod_client_text(view, "sentence");
	bool doubled = !strncasecmp(sentence, verdict, strlen(verdict));
	char lead[64];

	snprintf(lead, sizeof(lead), "%s: ", verdict);
	add_wrapped(screen, NOD_LIVE_STRONG, doubled ? "" : lead, sentence, 3);
}

/* ---- what is out of the car now ---- */

/* The network that fell asleep while something was out, NULL: none did. */
static const json_t *asleep_since(const json_t *view, const json_t *out)
{
	size_t i;
	const json_t *network;

	json_array_foreach(json_object_get(view, "networks"), i, network)
		if (!strcmp(nod_client_text(network, "name"), nod_client_text(out, "network")) &&
		    !strcmp(nod_live_state(network), "asleep") &&
		    nod_client_integer(network, "since_ns") >= nod_client_integer(out, "since_ns"))
			return network;
	return NULL;
}

/* It sleeps; what that shows and what is to be done is told with what is next. */
static void add_slept(struct nod_live_screen *screen, const json_t *out, const json_t *network)
{
	long long since = nod_client_integer(network, "since_ns"),
		  after = nod_live_between(since, nod_client_integer(out, "since_ns"));
	char when[16], length[NOD_TIME_TEXT], text[NOD_LIVE_LINE_BYTES];
	bool at_once = after < NOD_NS_PER_S;

	snprintf(text, sizeof(text), "%s sleeps since %s, %s%s %s was pulled.",
		 nod_client_text(network, "name"), nod_live_clock(when, since),
		 at_once ? "as soon" : nod_live_span(length, after), at_once ? " as" : " after",
		 nod_client_text(out, "subject"));
	add_wrapped(screen, NOD_LIVE_STRONG, "", text, 2);
}

static void add_waiting(struct nod_live_screen *screen, const json_t *view, const json_t *out)
{
	const char *subject = nod_client_text(out, "subject"),
		   *result = nod_client_text(out, "result");
	long long until = nod_client_integer(out, "until_ns");
	char since[16], wait[16], text[NOD_LIVE_LINE_BYTES];

	nod_live_clock(since, nod_client_integer(out, "since_ns"));
	if (!strcmp(result, "not off"))
		snprintf(text, sizeof(text),
			 "%s is out since %s, but what hangs on it by the map still "
			 "talks: the wrong one, a second supply, or the map is wrong.",
			 subject, since);
	else if (!strcmp(result, "unchanged"))
		snprintf(text, sizeof(text),
			 "%s is out since %s, and nothing changed: it is not what "
			 "hangs on it. Put it back, and go on with the next.",
			 subject, since);
	else if (until > nod_client_integer(view, "now_ns"))
		snprintf(text, sizeof(text), "%s is out since %s: wait until %s", subject, since,
			 nod_live_clock(wait, until));
	else
		snprintf(text, sizeof(text), "%s is out since %s", subject, since);
	add_wrapped(screen, NOD_LIVE_STRONG, "", text, 2);
}

/* Returns true when the person is to wait: older advice is not for now. */
static bool add_out(struct nod_live_screen *screen, const json_t *view)
{
	size_t i;
	const json_t *out, *network;
	bool any = false;

	json_array_foreach(json_object_get(view, "waits"), i, out) {
		network = asleep_since(view, out);
		if (network)
			add_slept(screen, out, network);
		else
			add_waiting(screen, view, out);
		any |= !network && !strcmp(nod_client_text(out, "result"), "undecided");
	}
	return any;
}

static void add_questions(struct nod_live_screen *screen, const json_t *view)
{
	const json_t *question = json_array_get(json_object_get(view, "questions"), 0);
	char lead[24], when[16];

	if (!question)
		return;
	snprintf(lead, sizeof(lead), "? %s ",
		 nod_live_clock(when, nod_client_integer(question, "time_ns")));
	add_wrapped(screen, NOD_LIVE_STRONG, lead, nod_client_text(question, "text"), 2);
	add(screen, NOD_LIVE_PLAIN, "  y: yes   o: another   x: nothing was done");
}

static void add_network(struct nod_live_screen *screen, const json_t *view, const json_t *network)
{
	char name[96], since[NOD_TIME_TEXT] = "", left[NOD_TIME_TEXT + 16], load[16] = "";
	long long since_ns = nod_client_integer(network, "since_ns");
	double part = nod_client_real(network, "load");

	snprintf(name, sizeof(name), "%s (%s)", nod_client_text(network, "name"),
		 nod_client_text(network, "interface"));
	name[bytes_of_columns(name, 20)] = 0;
	if (since_ns != INT64_MIN)
		nod_live_span(since,
			      nod_live_between(nod_client_integer(view, "now_ns"), since_ns));
	if (part >= 0)
		snprintf(load, sizeof(load), "%.1f %%", part * 100);
	add(screen, NOD_LIVE_PLAIN, "%-20s %-18s %-12s %-18s %7s", name, nod_live_state(network),
	    since, nod_live_time_left(left, view, network), load);
}

static void add_networks(struct nod_live_screen *screen, const json_t *view)
{
	const json_t *networks = json_object_get(view, "networks"), *network;
	size_t shown = (size_t)(screen->height > 22 ? screen->height - 22 + NETWORKS_SHOWN
						    : NETWORKS_SHOWN);
	size_t i;

	add(screen, NOD_LIVE_STRONG, "%-20s %-18s %-12s %-18s %7s", "network", "state", "for",
	    "deadline in", "load");
	json_array_foreach(networks, i, network)
		if (i < shown)
			add_network(screen, view, network);
	if (json_array_size(networks) > shown)
		add(screen, NOD_LIVE_PLAIN, "... and %zu more networks",
		    json_array_size(networks) - shown);
}

static bool is_among_networks(const json_t *view, const char *interface)
{
	size_t i;
	const json_t *network;

	json_array_foreach(json_object_get(view, "networks"), i, network)
		if (!strcmp(nod_client_text(network, "interface"), interface))
			return true;
	return false;
}

/* Taps that have something to say, and those nothing was ever heard on. */
static void add_taps(struct nod_live_screen *screen, const json_t *view)
{
	size_t i;
	const json_t *tap;
	char lead[64];

	json_array_foreach(json_object_get(view, "taps"), i, tap) {
		const char *name = nod_client_text(tap, "interface");
		bool listening = nod_client_true(tap, "listening");
		snprintf(lead, sizeof(lead), "%s: %s%s", name, nod_client_text(tap, "state"),
			 *nod_client_text(tap, "note") ? ": " : "");
		if (!listening)
			add_wrapped(screen, NOD_LIVE_ALARM, lead,
				    *nod_client_text(tap, "note") ? nod_client_text(tap, "note")
								  : " ",
				    2);
		else if (!is_among_networks(view, name))
			add(screen, NOD_LIVE_PLAIN, "%s: nothing heard here", name);
		if (nod_client_integer(tap, "lost") > 0)
			add(screen, NOD_LIVE_ALARM, "%s: %lld frames lost on this machine", name,
			    nod_client_integer(tap, "lost"));
	}
}

static bool nothing_heard(const json_t *view)
{
	size_t i;
	const json_t *tap;

	json_array_foreach(json_object_get(view, "taps"), i, tap)
		if (nod_client_true(tap, "listening") && nod_client_integer(tap, "frames") == 0)
			return true;
	return false;
}

static void add_current(struct nod_live_screen *screen, const json_t *view)
{
	const json_t *current = json_object_get(view, "current");
	char age[NOD_TIME_TEXT];
	long long old = nod_live_between(nod_client_integer(view, "now_ns"),
					 nod_client_integer(current, "time_ns"));

	if (json_is_object(current))
		add(screen, NOD_LIVE_PLAIN, "current: %.3f A%s%s%s",
		    (double)nod_client_integer(current, "microamps") * 1e-6,
		    old > 5 * NOD_NS_PER_S ? ", " : "",
		    old > 5 * NOD_NS_PER_S ? nod_live_span(age, old) : "",
		    old > 5 * NOD_NS_PER_S ? " old" : "");
}

/* How long until the last deadline, ns; 0 when all have passed. */
static long long settling(const json_t *view)
{
	long long most = 0, now = nod_client_integer(view, "now_ns");
	size_t i;
	const json_t *network;

	json_array_foreach(json_object_get(view, "networks"), i, network) {
		long long deadline = nod_client_integer(network, "deadline_ns");
		if (deadline != INT64_MIN && nod_live_between(deadline, now) > most &&
		    !strcmp(nod_client_text(network, "state"), "awake"))
			most = nod_live_between(deadline, now);
	}
	return most;
}

static void add_suspects(struct nod_live_screen *screen, const json_t *view)
{
	long long wait = settling(view);
	char length[NOD_TIME_TEXT];
	size_t i;
	const json_t *suspect;

	if (wait > 0) {
		add(screen, NOD_LIVE_PLAIN, "suspects: settling, wait %s",
		    nod_live_span(length, wait));
		return;
	}
	json_array_foreach(json_object_get(view, "suspects"), i, suspect)
		add(screen, NOD_LIVE_PLAIN, "%s %3.0f %%  %s, %s",
		    i ? "         " : "suspects:", nod_client_real(suspect, "probability") * 100,
		    nod_client_text(suspect, "name"), nod_client_text(suspect, "role"));
}

static void add_wake(struct nod_live_screen *screen, const json_t *view)
{
	const json_t *wake = json_object_get(view, "wake");
	const char *cause = nod_client_text(wake, "cause");
	char when[16];

	if (json_is_object(wake))
		add(screen, NOD_LIVE_PLAIN, "last wake-up: %s %s by %s%s%s%s",
		    nod_live_clock(when, nod_client_integer(wake, "time_ns")),
		    nod_client_text(wake, "network"), nod_client_text(wake, "who"),
		    *cause ? " (" : "", cause, *cause ? ")" : "");
}

static void add_journal(struct nod_live_screen *screen, const json_t *view)
{
	size_t i;
	const json_t *mark, *gap = json_object_get(view, "gap");
	char when[16];

	if (json_is_object(gap))
		add(screen, NOD_LIVE_PLAIN, "not listened: %s for %s until %s",
		    nod_client_text(gap, "interface"), nod_client_text(gap, "length"),
		    nod_live_clock(when, nod_client_integer(gap, "time_ns")));
	json_array_foreach(json_object_get(view, "marks"), i, mark)
		add(screen, NOD_LIVE_PLAIN, "%s %s %s %s", i ? "        " : "journal:",
		    nod_live_clock(when, nod_client_integer(mark, "time_ns")),
		    nod_client_text(mark, "kind"), nod_client_text(mark, "subject"));
}

void nod_live_screen_render(struct nod_live_screen *screen, const json_t *view, int width,
			    int height)
{
	screen->width = width < 40 ? 40 : width > 128 ? 128 : width;
	screen->height = (height < 10 ? 10 : height) - 2;
	screen->count = 0;
	add_title(screen, view);
	bool waiting = add_out(screen, view);
	add_verdict(screen, view);
	add_questions(screen, view);
	add(screen, NOD_LIVE_PLAIN, "%s", "");
	add_networks(screen, view);
	add_taps(screen, view);
	if (nothing_heard(view))
		add_wrapped(
			screen, NOD_LIVE_PLAIN, "  ",
			"Nothing heard is not asleep: measure the pins with a meter (nodoff pins), "
			"or tap the network elsewhere; a gateway may hide it here.",
			2);
	add_current(screen, view);
	add_suspects(screen, view);
	add_wake(screen, view);
	if (!waiting)
		add_wrapped(screen, NOD_LIVE_STRONG, "next: ", nod_client_text(view, "next"), 3);
	add_journal(screen, view);
}
