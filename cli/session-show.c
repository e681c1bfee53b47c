/* SPDX-License-Identifier: MIT */
/* nodoff session show: what is in a session. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "json-build.h"
#include "option.h"
#include "paragraph.h"
#include "progress.h"
#include "session-commands.h"
#include "session-show-json.h"
#include "settings.h"
#include "text-stream.h"
#include "when.h"

static const char help[] =
	"usage: nodoff session show DIR [--json]\n"
	"\n"
	"Says what is in a session or a bare capture: its files and what of them could\n"
	"not be read, from when to when it is, the interfaces with frames, losses and\n"
	"gaps, and the journal.\n"
	"\n"
	"  -j, --json   the same as one JSON object\n"
	"  -h, --help   print this help\n";

struct arguments {
	bool json;
};

struct show {
	struct nod_survey survey;
	struct nod_defect_report defects;
	struct nod_text_stream journal; /* as it is delivered, to be printed last */
	nod_time lock;
	bool json;
	json_t *marks; /* the journal, of --json */
};

/* "+35 min 00 s" after the lock, "-2.0 s" before it. */
static const char *after_lock(char buf[NOD_TIME_TEXT + 1], nod_time time, nod_time lock)
{
	nod_duration d = nod_time_since(time, lock);

	if (d.ns < 0) {
		nod_duration_print(buf, d);
	} else {
		buf[0] = '+';
		nod_duration_print(buf + 1, d);
	}
	return buf;
}

static void note_mark(struct show *show, const struct nod_mark *mark)
{
	char after[NOD_TIME_TEXT + 1], clock[NOD_WHEN_TEXT], lead[100];

	nod_json_append(&show->marks, nod_session_show_mark(mark));
	nod_when_print_day(clock, mark->time, NULL);
	snprintf(lead, sizeof(lead), "  %s%s%-14s ", clock, *clock ? "  " : "",
		 after_lock(after, mark->time, show->lock));
	nod_paragraph_printf(show->journal.out, lead, "%s%s%s", nod_mark_kind_name(mark->kind),
			     *mark->subject ? " " : "", mark->subject);
}

static int read_all(struct show *show, struct nod_session *session)
{
	const struct nod_event *event;
	struct nod_progress progress;
	struct nod_error err = {""};
	int result;

	nod_progress_begin(&progress, "reading");
	while ((result = nod_session_next(session, &event, &err)) > 0) {
		nod_progress_step(&progress, event->time, 1);
		nod_survey_take(&show->survey, event, nod_session_interfaces(session));
		if (event->kind == NOD_EVENT_DEFECT)
			nod_defect_tell(&show->defects, event);
		else if (event->kind == NOD_EVENT_MARK)
			note_mark(show, &event->mark);
	}
	nod_progress_end(&progress);
	nod_session_lock(session, &show->survey.lock);
	return result < 0 ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

static void print_about(const struct show *show, const struct nod_session *session)
{
	static const char *const keys[] = {"title", "tool", "clock", "zone", "capture", "scrubbed"};
	const struct nod_session_lock *lock = &show->survey.lock;
	const char *created = nod_session_about(session, "created");
	char when[NOD_WHEN_TEXT], lead[20];
	nod_time time;

	nod_paragraph_print(stdout, "session   ", nod_session_path(session));
	for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++) {
		const char *value = nod_session_about(session, keys[i]);
		snprintf(lead, sizeof(lead), "%-9s ", keys[i]);
		if (value)
			nod_paragraph_print(stdout, lead, value);
	}
	if (created && !nod_time_parse(&time, created, strlen(created)))
		printf("created   %s\n", nod_when_print(when, time, NULL));
	printf("vehicle   %s\n", nod_session_vehicle(session) ? "vehicle.yaml" : "no vehicle file");
	nod_paragraph_printf(stdout, "locked    ", "%s; %s", nod_when_print(when, lock->time, NULL),
			     nod_session_lock_text(lock->source));
}

static const char *plural(uint64_t n)
{
	return n == 1 ? "" : "s";
}

static void print_span(const struct nod_survey *survey)
{
	char start[NOD_WHEN_TEXT], end[NOD_WHEN_TEXT], length[NOD_TIME_TEXT];

	if (!nod_time_is_set(survey->end) || !nod_time_is_set(survey->lock.start)) {
		puts("recorded  nothing");
		return;
	}
	printf("recorded  %s to %s\n", nod_when_print(start, survey->lock.start, NULL),
	       nod_when_print(end, survey->end, NULL));
	printf("          %s",
	       nod_duration_print(length, nod_time_since(survey->end, survey->lock.start)));
	printf(", %" PRIu64 " frames, %" PRIu64 " samples of the current\n", survey->all.frames,
	       survey->samples);
	if (survey->clock_steps)
		printf("          the clock was set %" PRIu64 " time%s\n", survey->clock_steps,
		       plural(survey->clock_steps));
}

/* What the entries of a file are called. */
static const char *unit_of(const struct nod_session_file *file, uint64_t n)
{
	if (!strcmp(file->form, "journal"))
		return n == 1 ? "mark" : "marks";
	if (!strcmp(file->form, "current"))
		return n == 1 ? "sample" : "samples";
	if (!strcmp(file->form, "about this session"))
		return n == 1 ? "line" : "lines";
	return n == 1 ? "frame" : "frames";
}

static void print_file(const struct nod_session_file *file)
{
	const char *slash = strrchr(file->path, '/'), *name = slash ? slash + 1 : file->path;
	const struct nod_source_counts *n = &file->counts;

	printf("  %s: %s%s%" PRIu64 " %s\n", name, file->form, *file->form ? ", " : "", n->frames,
	       unit_of(file, n->frames));
	if (n->defects)
		printf("      %" PRIu64 " line%s could not be read\n", n->defects,
		       plural(n->defects));
	if (n->back_steps)
		printf("      time steps back %" PRIu64 " time%s\n", n->back_steps,
		       plural(n->back_steps));
	if (file->fault)
		nod_paragraph_print(stdout, "      ", file->fault);
}

static void print_interface(const char *name, const struct nod_survey_interface *n, nod_time lock)
{
	char first[NOD_TIME_TEXT + 1], last[NOD_TIME_TEXT + 1], gaps[NOD_TIME_TEXT];

	printf("  %s: %" PRIu64 " frame%s", name, n->frames, plural(n->frames));
	if (n->frames)
		printf(", from %s to %s", after_lock(first, n->first, lock),
		       after_lock(last, n->last, lock));
	putchar('\n');
	if (n->errors)
		printf("      %" PRIu64 " error report%s\n", n->errors, plural(n->errors));
	if (n->losses)
		printf("      %" PRIu64 " frame%s reported lost, in %" PRIu64 " report%s\n",
		       n->lost, plural(n->lost), n->losses, plural(n->losses));
	if (n->gaps)
		printf("      not listened to %" PRIu64 " time%s, %s in all\n", n->gaps,
		       plural(n->gaps), nod_duration_print(gaps, n->gap_length));
}

static void print_all(struct show *show, struct nod_session *session)
{
	const struct nod_interfaces *names = nod_session_interfaces(session);
	nod_time lock = show->survey.lock.time;

	print_about(show, session);
	print_span(&show->survey);
	printf("\nfiles\n");
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		print_file(nod_session_file(session, i));
	printf("\ninterfaces (times count from the lock)\n");
	for (unsigned i = 0; i < names->count; i++)
		print_interface(names->names[i], &show->survey.interfaces[i], lock);
	if (show->survey.all.gaps)
		print_interface("all together", &show->survey.all, lock);
	printf("\njournal (times count from the lock)\n%s", show->journal.text);
	if (!show->survey.marks)
		puts("  no marks");
}

static int show_session(struct show *show, const char *path)
{
	struct nod_session_lock lock;
	struct nod_error err = {""};

	if (strcmp(path, "-") != 0 && nod_session_find_lock(path, &lock, &err))
		return nod_unreadable("%s", err.text);
	struct nod_session *session = nod_session_open(path, &err);
	if (!session)
		return nod_unreadable("%s", err.text);
	show->lock = strcmp(path, "-") != 0 ? lock.time : (nod_time){0};
	nod_survey_init(&show->survey);
	int status = read_all(show, session);
	if (!status && strcmp(path, "-") != 0 && lock.source != show->survey.lock.source &&
	    show->survey.lock.source == NOD_LOCK_FROM_JOURNAL)
		status = nod_unreadable("%s: the journal could not be read at first; try again",
					path);
	if (nod_text_stream_close(&show->journal) && !status)
		status = nod_unreadable("out of memory");
	if (!status && show->json)
		status = nod_option_print_json(
			nod_session_show_json(session, &show->survey, json_incref(show->marks)));
	else if (!status)
		print_all(show, session);
	nod_session_close(session);
	nod_defect_sum_up(&show->defects);
	return status ? status : nod_option_finish();
}

int nod_session_show_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_FLAG('j', "json", struct arguments, json),
						 {0}};
	static const struct nod_options options = {
		.command = "session show", .help = help, .list = list};
	struct arguments given = {false};
	int status, first = nod_options_walk(&options, &given, argc, argv, &status);

	if (!first)
		return status;
	if (argc - first != 1)
		return nod_usage("session show", "name one session");
	struct show *show = calloc(1, sizeof(*show));
	if (show) {
		show->json = given.json;
		show->marks = json_array();
	}
	if (!show || nod_text_stream_open(&show->journal)) {
		if (show)
			json_decref(show->marks);
		free(show);
		return nod_unreadable("out of memory");
	}
	status = show_session(show, nod_find_session(argv[first]));
	if (show->journal.out)
		nod_text_stream_close(&show->journal);
	free(show->journal.text);
	json_decref(show->marks);
	free(show);
	return status;
}
