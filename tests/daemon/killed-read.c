/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "killed.h"
#include "session.h"

struct reading {
	struct moment *moment;
	const struct feed *feed;
	struct found *found;
	const struct nod_session *session;
};

void killed_fail(const struct moment *m, const char *file, int line, const char *what)
{
	print_error("%s:%d: %s\n"
		    "  moment %d of NODOFF_KILL_SEED=%u: %s, %d ns after message %d\n"
		    "  taken %d, flushed %d; it lies in %s\n",
		    file, line, what, m->number, m->seed, m->way == WAY_LIVE ? "live" : "recorder",
		    m->wait_ns, m->message, m->did[DID_TAKE], m->did[DID_FLUSH], m->parent);
	fail();
}

/* The event of this kind that was fed as number `n`, from 0. */
static const struct nod_event *fed(const struct feed *feed, enum nod_event_kind kind, int n,
				   int *index)
{
	for (int i = 0; i < feed->count; i++)
		if (feed->events[i].kind == kind && !n--) {
			*index = i;
			return &feed->events[i];
		}
	return NULL;
}

static bool same_interface(const struct nod_session *session, uint8_t read, uint8_t was_fed)
{
	struct nod_interfaces *names = nod_session_interfaces(
		(struct nod_session *)(uintptr_t)session);

	return read < names->count && !strcmp(names->names[read], child_names.names[was_fed]);
}

static bool same_event(const struct nod_session *session, const struct nod_event *read,
		       const struct nod_event *was_fed)
{
	switch (read->kind) {
	case NOD_EVENT_FRAME:
		return read->time.ns == was_fed->time.ns && read->frame.id == was_fed->frame.id &&
		       read->frame.length == was_fed->frame.length &&
		       !memcmp(read->frame.data, was_fed->frame.data, was_fed->frame.length) &&
		       same_interface(session, read->frame.interface, was_fed->frame.interface);
	case NOD_EVENT_LOSS:
		return read->loss.count == was_fed->loss.count &&
		       same_interface(session, read->loss.interface, was_fed->loss.interface);
	case NOD_EVENT_CURRENT:
		return read->time.ns == was_fed->time.ns &&
		       read->current.microamps == was_fed->current.microamps;
	default:
		return read->time.ns == was_fed->time.ns && read->mark.kind == was_fed->mark.kind &&
		       !strcmp(read->mark.subject, was_fed->mark.subject);
	}
}

/* nodoffd's own marks around those that were fed. */
static bool is_frame_of_session(struct moment *m, struct found *found, const struct nod_mark *mark)
{
	if (mark->kind != NOD_MARK_STARTED && mark->kind != NOD_MARK_STOPPED)
		return false;
	NEED(m->way == WAY_LIVE);
	if (mark->kind == NOD_MARK_STARTED) {
		NEED(!found->started && !found->events[NOD_EVENT_MARK]);
		found->started = true;
	} else {
		NEED(!found->stopped && m->did[DOES_FINISH] == 0);
		found->stopped = true;
	}
	return true;
}

/* It is the next that was fed of its kind, and nothing that was not even begun. */
static void check_read(const struct reading *r, const struct nod_event *event)
{
	struct moment *m = r->moment;
	struct found *found = r->found;
	int index = 0;
	const struct nod_event *was_fed = fed(r->feed, event->kind, found->events[event->kind]++,
					      &index);

	NEED(was_fed);
	NEED(same_event(r->session, event, was_fed));
	NEED(index <= (m->did[DID_TAKE] < 0 ? 0 : m->did[DID_TAKE]));
}

static void check_again(struct moment *m, struct found *found, const struct nod_event *event)
{
	NEED(event->kind != NOD_EVENT_MARK || !strcmp(event->mark.subject, "again"));
	found->again += event->kind == NOD_EVENT_MARK || event->kind == NOD_EVENT_FRAME;
}

static void take_read(const struct reading *r, const struct nod_event *event)
{
	struct moment *m = r->moment;
	struct found *found = r->found;

	if (nod_time_is_set(event->time) && event->time.ns >= AGAIN)
		check_again(m, found, event);
	else if (event->kind == NOD_EVENT_DEFECT)
		found->events[NOD_EVENT_DEFECT]++;
	else if (event->kind == NOD_EVENT_HEADER && !strcmp(event->header.key, "ended"))
		NEED(!nod_time_parse(&found->ended, event->header.value,
				     strlen(event->header.value)));
	else if (event->kind != NOD_EVENT_HEADER &&
		 !(event->kind == NOD_EVENT_MARK && is_frame_of_session(m, found, &event->mark)))
		check_read(r, event);
}

void killed_read(struct moment *m, const struct feed *feed, struct found *found)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(m->path, &err);
	const struct nod_event *event;
	int result;

	struct reading r = {m, feed, found, session};
	memset(found, 0, sizeof(*found));
	found->ended = NOD_TIME_NONE;
	NEED(session);
	while ((result = nod_session_next(session, &event, &err)) > 0)
		take_read(&r, event);
	NEED(result == 0);
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		found->torn += nod_session_file(session, i)->counts.torn;
	nod_session_close(session);
}
