/* SPDX-License-Identifier: MIT */
/* What the daemon itself puts between the frames: marks of the journal and samples of the
 * current. */
#include "daemon-internal.h"

#include <errno.h>
#include <string.h>

#include "clock-watch.h"

nod_time nod_daemon_now(void)
{
	return nod_clock_to_microseconds(nod_clock_now());
}

void nod_daemon_answer_mark(struct nod_daemon *daemon, nod_time time, int status)
{
	struct nod_error err;
	struct nod_pending_mark *first = &daemon->pending[0];

	if (!daemon->pending_count || first->time.ns != time.ns)
		return;
	json_t *answer = status ? NULL : json_pack("{s:I}", "time_ns", (json_int_t)time.ns);
	if (status)
		nod_error_set(&err, -status, "the mark is not on the disk: %s", strerror(-status));
	else
		nod_error_set(&err, ENOMEM,
			      "the mark is on the disk, but memory ran out for the "
			      "answer");
	nod_control_answer(daemon->control, &first->ticket, answer, &err);
	memmove(first, first + 1, --daemon->pending_count * sizeof(*first));
}

nod_time nod_daemon_mark_time(struct nod_daemon *daemon)
{
	nod_time now = nod_daemon_now();

	if (now.ns <= daemon->last_mark.ns && daemon->last_mark.ns - now.ns < NOD_NS_PER_MS)
		now.ns = daemon->last_mark.ns + NOD_NS_PER_US;
	daemon->last_mark = now;
	return now;
}

static struct nod_event make_mark(enum nod_mark_kind kind, const char *subject, nod_time time)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time};

	event.mark = (struct nod_mark){.time = time, .kind = kind, .subject = subject};
	return event;
}

int nod_daemon_push_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
			 nod_time time)
{
	struct nod_event event = make_mark(kind, subject, time);

	return nod_merger_push(daemon->merger, NOD_LANE_JOURNAL, &event);
}

void nod_daemon_push_mark_first(struct nod_daemon *daemon, enum nod_mark_kind kind,
				const char *subject, nod_time time)
{
	struct nod_event event = make_mark(kind, subject, time);

	nod_merger_push_first(daemon->merger, NOD_LANE_JOURNAL, &event);
}

int nod_daemon_mark(struct nod_daemon *daemon, enum nod_mark_kind kind, const char *subject,
		    struct nod_control_ticket *ticket, struct nod_error *err)
{
	nod_time time = nod_daemon_mark_time(daemon);
	int status = daemon->pending_count < NOD_PENDING_MARKS_MAX
			     ? nod_daemon_push_mark(daemon, kind, subject, time)
			     : -ENOBUFS;

	if (status)
		return nod_error_set(err, -status, "the mark is not on the disk: %s",
				     status == -ENOBUFS ? "too many at once" : strerror(-status));
	daemon->pending[daemon->pending_count++] = (struct nod_pending_mark){time, *ticket};
	nod_pump_run(daemon->pump);
	return 0;
}

int nod_daemon_push_current(struct nod_daemon *daemon, int64_t microamps)
{
	struct nod_event event = {.kind = NOD_EVENT_CURRENT, .time = nod_daemon_now()};

	event.current.microamps = microamps;
	int status = nod_merger_push(daemon->merger, NOD_LANE_CURRENT, &event);
	nod_pump_run(daemon->pump);
	return status;
}

void nod_daemon_take_current(void *context, int64_t microamps)
{
	nod_daemon_push_current(context, microamps);
}
