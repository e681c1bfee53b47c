/* SPDX-License-Identifier: MIT */
/* nodoff session join: two recordings of one car, by machines with clocks of their own. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "json-build.h"
#include "option.h"
#include "paragraph.h"
#include "progress.h"
#include "search.h"
#include "session-commands.h"
#include "session-join.h"

static const char help[] =
	"usage: nodoff session join A B [--into NEW] [--json]\n"
	"\n"
	"Finds how two recordings of one car lie in time that two machines with clocks of\n"
	"their own made: by messages that both heard, because a gateway passes them on or\n"
	"both adapters hear the network, else by marks of the same words in both\n"
	"journals. Says the offset of the clocks, how they run apart and how sure that\n"
	"is; when nothing ties them, it says so, and the exit status is 1.\n"
	"\n"
	"      --into NEW    makes one session of both, on the clock of A. A network that\n"
	"                    both hear becomes one: what one adapter lost is taken from\n"
	"                    the other.\n"
	"      --title TEXT  of the new session (default: that of A)\n"
	"  -j, --json        the same as one JSON object\n"
	"  -h, --help        print this help\n";

#define DAY_NS (24 * 3600 * NOD_NS_PER_S)

struct options {
	const char *into, *title;
	bool json;
};

struct joining {
	const struct options *options;
	struct nod_session_join join;
	struct nod_tie_side *sides[2];
	struct nod_survey *survey;
	struct nod_tie tie;
	struct nod_session_join_result made;
};

static const char *state_word(enum nod_tie_state state)
{
	static const char *const words[] = {"frames", "wake-ups", "journal", "ambiguous", "none"};
	return words[state];
}

static bool is_tied(const struct nod_tie *tie)
{
	return tie->state < NOD_TIE_AMBIGUOUS;
}

/* ---- reading ---- */

static int look_at(struct joining *j, int side)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(j->join.paths[side], &err);
	const struct nod_event *event;
	struct nod_progress progress;
	int status = 0, full = 0;

	if (!session)
		return nod_unreadable("%s", err.text);
	nod_survey_init(j->survey);
	nod_progress_begin(&progress, "reading");
	while (!full && (status = nod_session_next(session, &event, &err)) > 0) {
		nod_progress_step(&progress, event->time, 1);
		nod_survey_take(j->survey, event, nod_session_interfaces(session));
		full = nod_tie_side_take(j->sides[side], event);
	}
	nod_progress_end(&progress);
	nod_session_lock(session, &j->survey->lock);
	j->join.start[side] = j->survey->lock.start;
	j->join.end[side] = j->survey->end;
	nod_session_close(session);
	if (full)
		return nod_unreadable("out of memory");
	if (status < 0)
		return nod_unreadable("%s", err.text);
	if (j->survey->clock_steps)
		return nod_unreadable("%s: its clock was set while it recorded; cut out a piece in "
				      "which it was not (`nodoff session cut`)",
				      j->join.paths[side]);
	return NOD_EXIT_OK;
}

/* ---- for a person ---- */

static void print_tie(const struct nod_tie *t)
{
	static const char *const by[] = {"By messages that changed to what is rare",
					 "By networks that woke at the same time",
					 "By marks of the same words in both journals"};
	char offset[NOD_TIME_TEXT], unsure[NOD_TIME_TEXT];
	nod_duration size = {t->offset.ns < 0 ? -t->offset.ns : t->offset.ns};

	nod_duration_print_seconds(offset, size, t->state == NOD_TIE_BY_FRAMES ? 3 : 0);
	nod_duration_print_seconds(unsure, t->unsure, t->state == NOD_TIE_BY_FRAMES ? 3 : 0);
	printf("The clock of B is %s s %s that of A, +- %s s.\n", offset,
	       t->offset.ns < 0 ? "behind" : "ahead of", unsure);
	if (size.ns > DAY_NS)
		nod_paragraph_print(
			stdout, "",
			"That is more than a day: are these the same hours of the car?");
	if (isfinite(t->drift_unsure_ppm))
		printf("It gains %.1f parts in a million, +- %.1f.\n", t->drift_ppm,
		       t->drift_unsure_ppm);
	else
		puts("How they run apart is not known: what ties them spans too little.");
	nod_paragraph_printf(stdout, "", "%s: %.0f of %zu that both have fit this, %.0f any other.",
			     by[t->state], t->votes, t->offered, t->rival);
}

static void print_refusal(const struct nod_tie *t)
{
	if (t->state == NOD_TIE_AMBIGUOUS)
		nod_paragraph_printf(
			stdout, "",
			"More than one shift fits: %.0f messages speak for one, %.0f for "
			"another.",
			t->votes, t->rival);
	else
		nod_paragraph_printf(
			stdout, "",
			"Nothing ties them: %zu payloads that come rarely are in both, "
			"and %.0f of them agree on a shift.",
			t->offered, t->votes);
	nod_paragraph_print(stdout, "",
			    "What would: an adapter of each machine at the same network for a few "
			    "minutes, or two marks in both journals, made at the same moments.");
}

static void print_made(const struct joining *j)
{
	const struct nod_session_join_result *m = &j->made;

	nod_paragraph_printf(stdout, "",
			     "%s: %" PRIu64 " frames, %" PRIu64 " marks, %" PRIu64
			     " samples of the current.",
			     j->options->into, m->frames, m->marks, m->samples);
	if (m->shared)
		nod_paragraph_printf(stdout, "",
				     "%u network%s both heard: %" PRIu64 " frames of both, %" PRIu64
				     " only of A and %" PRIu64 " only of B while both ran.",
				     m->shared, m->shared == 1 ? "" : "s", m->heard_by_both,
				     m->only[0], m->only[1]);
	if (m->filled)
		nod_paragraph_printf(stdout, "",
				     "%" PRIu64 " losses and gaps of one are filled by the other.",
				     m->filled);
}

/* ---- for programs ---- */

static json_t *made_json(const struct joining *j)
{
	const struct nod_session_join_result *m = &j->made;
	json_t *o = json_object();

	nod_json_put(&o, "path", nod_json_text(j->options->into));
	nod_json_put(&o, "frames", json_integer((json_int_t)m->frames));
	nod_json_put(&o, "entries", json_integer((json_int_t)m->marks));
	nod_json_put(&o, "samples", json_integer((json_int_t)m->samples));
	nod_json_put(&o, "networks_of_both", json_integer(m->shared));
	nod_json_put(&o, "frames_of_both", json_integer((json_int_t)m->heard_by_both));
	nod_json_put(&o, "frames_only_first", json_integer((json_int_t)m->only[0]));
	nod_json_put(&o, "frames_only_second", json_integer((json_int_t)m->only[1]));
	nod_json_put(&o, "filled", json_integer((json_int_t)m->filled));
	return o;
}

static json_t *tie_json(const struct joining *j)
{
	const struct nod_tie *t = &j->tie;
	bool tied = is_tied(t), drift = tied && isfinite(t->drift_unsure_ppm);
	json_t *o = json_object();

	nod_json_put(&o, "tied_by", json_string(state_word(t->state)));
	nod_json_put(&o, "offset", tied ? nod_json_time((nod_time){t->offset.ns}) : json_null());
	nod_json_put(&o, "unsure", tied ? nod_json_length(t->unsure) : json_null());
	nod_json_put(&o, "offset_at", tied ? nod_json_time(t->at) : json_null());
	nod_json_put(&o, "drift_ppm", drift ? nod_json_number(t->drift_ppm) : json_null());
	nod_json_put(&o, "drift_unsure_ppm",
		     drift ? nod_json_number(t->drift_unsure_ppm) : json_null());
	nod_json_put(&o, "offered", json_integer((json_int_t)t->offered));
	nod_json_put(&o, "votes", nod_json_number(t->votes));
	nod_json_put(&o, "rival_votes", nod_json_number(t->rival));
	nod_json_put(&o, "rival_offset",
		     t->rival_offset.ns == INT64_MIN
			     ? json_null()
			     : nod_json_time((nod_time){t->rival_offset.ns}));
	nod_json_put(&o, "made", tied && j->options->into ? made_json(j) : json_null());
	return o;
}

/* ---- all of it ---- */

static int show(const struct joining *j)
{
	int code;

	if (j->options->json) {
		code = nod_option_print_json(tie_json(j));
	} else {
		if (is_tied(&j->tie))
			print_tie(&j->tie);
		else
			print_refusal(&j->tie);
		if (is_tied(&j->tie) && j->options->into)
			print_made(j);
		code = nod_option_finish();
	}
	return code || is_tied(&j->tie) ? code : NOD_EXIT_FAILED;
}

static int run(struct joining *j)
{
	struct nod_error err = {""};
	int code = look_at(j, 0);

	if (!code)
		code = look_at(j, 1);
	if (!code && nod_tie_find(&j->tie, j->sides[0], j->sides[1]))
		code = nod_unreadable("out of memory");
	j->join.tie = &j->tie;
	j->join.sides[0] = j->sides[0];
	j->join.sides[1] = j->sides[1];
	j->join.title = j->options->title;
	if (!code && j->options->into && is_tied(&j->tie) &&
	    nod_session_join(&j->join, j->options->into, &j->made, &err))
		code = nod_unreadable("%s", err.text);
	return code ? code : show(j);
}

int nod_session_join_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT(0, "into", struct options, into),
						 NOD_TEXT(0, "title", struct options, title),
						 NOD_FLAG('j', "json", struct options, json),
						 {0}};
	static const struct nod_options options = {
		.command = "session join", .help = help, .list = list};
	struct options wanted = {0};
	int status, first = nod_options_walk(&options, &wanted, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first != 2 || !strcmp(argv[first], "-") || !strcmp(argv[first + 1], "-"))
		return nod_usage("session join", "name two sessions or captures");
	if (wanted.title && !wanted.into)
		return nod_usage("session join", "--title belongs to --into");
	struct joining j = {.options = &wanted,
			    .join = {.paths = {argv[first], argv[first + 1]}},
			    .sides = {nod_tie_side_new(), nod_tie_side_new()},
			    .survey = malloc(sizeof(*j.survey))};
	status = j.sides[0] && j.sides[1] && j.survey ? run(&j) : nod_unreadable("out of memory");
	nod_tie_side_free(j.sides[0]);
	nod_tie_side_free(j.sides[1]);
	free(j.survey);
	return status;
}
