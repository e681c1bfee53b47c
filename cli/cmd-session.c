/* SPDX-License-Identifier: MIT */
/* nodoff session: makes, shows, marks and cuts sessions on disk. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "option.h"
#include "progress.h"
#include "session-commands.h"

int nod_cmd_session(int argc, char **argv);

static const char help[] =
	"usage: nodoff session make CAPTURE ... --into DIR [OPTION ...]\n"
	"       nodoff session show DIR\n"
	"       nodoff session mark DIR KIND [WHAT ...] [--at TIME]\n"
	"       nodoff session cut DIR --from TIME --to TIME --into NEW [OPTION ...]\n"
	"       nodoff session join A B [--into NEW] [--json]\n"
	"\n"
	"A session is a directory of plain files about one watch of one parked car:\n"
	"\n"
	"  session.txt    what it is: \"key: value\" lines\n"
	"  frames*        frames, in any form that nodoff reads, in numbered pieces\n"
	"  journal.log    what was done and when: \"(SECONDS) isolated F12\"\n"
	"  current.log    the battery current: \"(SECONDS) 0.430000 A\"\n"
	"  vehicle.yaml   your map of the car\n"
	"\n"
	"Every file may be cut off or missing; what can be read is read.\n"
	"\n"
	"  make   makes one from captures, which are copied as they are\n"
	"  show   says what is in it\n"
	"  mark   adds a mark to its journal afterwards\n"
	"  cut    makes a smaller one of a piece of it, to send to a colleague\n"
	"  join   lays two recordings of one car beside each other in time\n"
	"\n"
	"`nodoff session make --help` and so on explain each.\n";

static const struct {
	const char *name;
	int (*run)(int argc, char **argv);
} parts[] = {
	{"make", nod_session_make_command}, {"show", nod_session_show_command},
	{"mark", nod_session_mark_command}, {"cut", nod_session_cut_command},
	{"join", nod_session_join_command},
};

int nod_session_survey_path(struct nod_survey *survey, const char *path)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(path, &err);
	struct nod_defect_report defects = {0};
	struct nod_progress progress;
	const struct nod_event *event;
	int result;

	if (!session)
		return nod_unreadable("%s", err.text);
	nod_survey_init(survey);
	nod_progress_begin(&progress, "reading");
	while ((result = nod_session_next(session, &event, &err)) > 0) {
		nod_progress_step(&progress, event->time, 1);
		nod_survey_take(survey, event, nod_session_interfaces(session));
		if (event->kind == NOD_EVENT_DEFECT)
			nod_defect_tell(&defects, event);
	}
	nod_progress_end(&progress);
	nod_defect_sum_up(&defects);
	nod_session_lock(session, &survey->lock);
	nod_session_close(session);
	return result < 0 ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

int nod_cmd_session(int argc, char **argv)
{
	const char *name = argc > 1 ? argv[1] : "";

	if (!strcmp(name, "--help") || !strcmp(name, "-h")) {
		fputs(help, stdout);
		return nod_option_finish();
	}
	for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++)
		if (!strcmp(name, parts[i].name))
			return parts[i].run(argc - 1, argv + 1);
	if (!*name)
		return nod_usage("session", "expected make, show, mark, cut or join");
	return nod_usage("session", "`%s` is none of make, show, mark, cut and join", name);
}
