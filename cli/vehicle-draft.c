/* SPDX-License-Identifier: MIT */
/* nodoff vehicle draft: a first map, of what was heard. */
#include "vehicle-draft.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "captures.h"
#include "command.h"
#include "draft.h"
#include "option.h"
#include "output.h"
#include "session.h"
#include "text-stream.h"

static const char help[] =
	"usage: nodoff vehicle draft SESSION|CAPTURE ... [--out FILE]\n"
	"\n"
	"Makes a first vehicle file from a recording: every ID that was heard, grouped\n"
	"by what seems to belong together, with its length, period, number and an\n"
	"example, for you to name. \"-\" is standard input.\n"
	"\n"
	"  -o, --out FILE  where to; a file that is there already is left as it is\n"
	"                  (default: standard output)\n"
	"  -h, --help      print this help\n";

struct arguments {
	const char *out;
};

/* Returns an exit status after saying what is wrong. */
static int read_all(struct nod_draft *draft, struct nod_session *session)
{
	struct nod_defect_report defects = {0};
	const struct nod_event *event;
	struct nod_error err = {""};
	int status;

	while ((status = nod_session_next(session, &event, &err)) > 0) {
		if (event->kind == NOD_EVENT_DEFECT)
			nod_defect_tell(&defects, event);
		else if (nod_draft_take(draft, event))
			return nod_unreadable("out of memory");
	}
	nod_defect_sum_up(&defects);
	return status < 0 ? nod_unreadable("%s", err.text) : NOD_EXIT_OK;
}

static int write_draft(struct nod_draft *draft, const struct nod_interfaces *names, const char *out)
{
	struct nod_text_stream text;

	if (nod_text_stream_open(&text))
		return nod_unreadable("out of memory");
	int status = nod_draft_write(draft, names, text.out);
	if (nod_text_stream_close(&text))
		status = -ENOMEM;
	int code = status == -ENODATA ? nod_unreadable("there is no frame in the recording")
		   : status ? nod_unreadable("the draft cannot be written: %s", strerror(-status))
			    : nod_output_write(out ? out : "-", text.text, text.size, false);
	free(text.text);
	return code;
}

static int run(const struct arguments *a, char **paths, size_t count)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open_all((const char *const *)paths, count, &err);

	if (!session)
		return nod_unreadable("%s", err.text);
	struct nod_draft *draft = nod_draft_new();
	int status = draft ? read_all(draft, session) : nod_unreadable("out of memory");
	if (!status)
		status = write_draft(draft, nod_session_interfaces(session), a->out);
	nod_draft_free(draft);
	nod_session_close(session);
	return status;
}

int nod_vehicle_draft_command(int argc, char **argv)
{
	static const struct nod_option list[] = {NOD_TEXT('o', "out", struct arguments, out), {0}};
	static const struct nod_options options = {
		.command = "vehicle draft", .help = help, .list = list};
	struct arguments a = {0};
	int status, first = nod_options_walk(&options, &a, argc, argv, &status);

	if (!first)
		return status;
	if (first == argc)
		return nod_usage("vehicle draft", "name at least one capture or a session");
	return run(&a, argv + first, (size_t)(argc - first));
}
