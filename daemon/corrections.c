/* SPDX-License-Identifier: MIT */
/* Marks of the past, and such as are changed or taken back: see daemon.h. */
#include <errno.h>
#include <string.h>

#include "clock-watch.h"
#include "daemon-internal.h"

/* Writes them and begins to analyse anew; what was pushed before goes before. */
static int correct(struct nod_daemon *daemon, const struct nod_mark *marks, size_t count,
		   struct nod_error *err)
{
	nod_time handed = nod_pump_run(daemon->pump);
	int status = nod_live_correct(&daemon->live, marks, count, handed, err);

	if (!status)
		ev_timer_again(daemon->loop, &daemon->follow);
	return status;
}

/* The time of a mark as a person gave it. */
static int check_time(struct nod_daemon *daemon, nod_time *time, struct nod_error *err)
{
	nod_time now = nod_clock_to_microseconds(nod_clock_now());
	nod_duration ahead = nod_time_since(*time, now);

	if (!daemon->live.recorder)
		return nod_error_set(err, ENOENT, "no session is being recorded; start one first");
	if (ahead.ns > NOD_MARK_AHEAD.ns)
		return nod_error_set(err, EINVAL, "the time of the mark is still to come");
	if (time->ns < daemon->live.started.ns)
		return nod_error_set(err, EINVAL,
				     "the time of the mark is before the recording began");
	*time = ahead.ns >= 0 ? nod_daemon_mark_time(daemon) : nod_clock_to_microseconds(*time);
	return 0;
}

void nod_daemon_keep_mark(struct nod_daemon *daemon, const struct nod_mark *mark)
{
	if (nod_recent_marks_add(&daemon->recent, mark))
		nod_daemon_say("memory ran out: the mark \"%s\" is recorded, but can no longer "
			       "be taken back",
			       mark->subject);
}

int nod_daemon_mark_at(struct nod_daemon *daemon, struct nod_mark *mark, struct nod_error *err)
{
	int status = check_time(daemon, &mark->time, err);

	if (!status)
		status = correct(daemon, mark, 1, err);
	if (!status)
		nod_daemon_keep_mark(daemon, mark);
	return status;
}

/* A text that lives as long as `texts`. */
static const char *keep_text(json_t *texts, const char *text)
{
	json_t *copy = json_string(text);

	return json_array_append_new(texts, copy) ? NULL : json_string_value(copy);
}

/* Completes what stands instead of a mark. */
static int complete(struct nod_daemon *daemon, const struct nod_mark *mark,
		    struct nod_mark *instead, struct nod_error *err)
{
	if (instead->kind == NOD_MARK_KINDS)
		instead->kind = mark->kind;
	if (!instead->subject)
		instead->subject = mark->subject;
	if (!nod_time_is_set(instead->time))
		instead->time = mark->time;
	int status = nod_mark_check(instead, err);
	return status || instead->time.ns == mark->time.ns
		       ? status
		       : check_time(daemon, &instead->time, err);
}

int nod_daemon_undo(struct nod_daemon *daemon, const struct nod_mark *mark,
		    struct nod_mark *instead, struct nod_mark *undone, json_t *texts,
		    struct nod_error *err)
{
	struct nod_mark marks[2];
	char line[NOD_MARK_LINE_MAX];

	nod_pump_run(daemon->pump);
	const struct nod_mark *found = nod_recent_marks_find(&daemon->recent, mark);
	if (!daemon->live.recorder || !found)
		return nod_error_set(err, ENOENT,
				     mark ? "there is no such mark to take back"
					  : "there is no mark to take back");
	*undone = *found;
	undone->subject = keep_text(texts, found->subject);
	if (!undone->subject || nod_mark_print(line, sizeof(line), undone) < 0)
		return nod_error_set(err, ENOMEM, "out of memory");
	line[strcspn(line, "\n")] = '\0';
	int status = instead ? complete(daemon, undone, instead, err) : 0;
	if (status)
		return status;
	marks[0] = (struct nod_mark){nod_daemon_mark_time(daemon), NOD_MARK_UNDONE, line};
	if (instead)
		marks[1] = *instead;
	status = correct(daemon, marks, instead ? 2 : 1, err);
	if (status)
		return status;
	found = nod_recent_marks_find(&daemon->recent, undone);
	if (found)
		nod_recent_marks_remove(&daemon->recent, found);
	if (instead)
		nod_daemon_keep_mark(daemon, instead);
	return 0;
}
