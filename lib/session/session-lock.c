/* SPDX-License-Identifier: MIT */
/* Which lock time a session is judged by. */
#include <errno.h>

#include "session-private.h"

static nod_time find_start(const struct nod_session *session)
{
	for (size_t i = 0; i < session->marks.count; i++)
		if (session->marks.list[i].mark.kind == NOD_MARK_STARTED)
			return session->marks.list[i].mark.time;
	return session->first;
}

void nod_session_lock(const struct nod_session *session, struct nod_session_lock *lock)
{
	lock->start = find_start(session);
	lock->time = nod_session_marks_lock(&session->marks);
	lock->source = NOD_LOCK_FROM_JOURNAL;
	if (nod_time_is_set(lock->time))
		return;
	lock->time = session->header_lock;
	lock->source = NOD_LOCK_FROM_HEADER;
	if (nod_time_is_set(lock->time))
		return;
	lock->time = lock->start;
	lock->source = NOD_LOCK_FROM_START;
}

int nod_session_find_lock(const char *path, struct nod_session_lock *lock, struct nod_error *err)
{
	struct nod_session *session = nod_session_open(path, err);
	const struct nod_event *event;
	int result;

	if (!session)
		return -errno;
	do
		result = nod_session_next(session, &event, err);
	while (result > 0 && event->kind != NOD_EVENT_FRAME);
	nod_session_lock(session, lock);
	nod_session_close(session);
	return result < 0 ? result : 0;
}

const char *nod_session_lock_text(enum nod_lock_source source)
{
	switch (source) {
	case NOD_LOCK_FROM_JOURNAL:
		return "the journal says when";
	case NOD_LOCK_FROM_HEADER:
		return "a header of the capture says when";
	case NOD_LOCK_FROM_OPTION:
		return "the command line says when";
	case NOD_LOCK_FROM_START:
		break;
	}
	return "nothing says when: the start of the recording is taken";
}
