/* SPDX-License-Identifier: MIT */
#include "rebuild.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "session.h"

struct nod_rebuild {
	struct nod_session *session; /* NULL: read to its end */
	struct nod_engine *engine;
	const struct nod_interfaces *interfaces;
	uint64_t frames, samples; /* still to be read */
	struct nod_event *kept;
	size_t count, room, next;
};

struct nod_rebuild *nod_rebuild_begin(const char *directory, struct nod_engine *engine,
				      const struct nod_interfaces *interfaces, uint64_t frames,
				      uint64_t samples, struct nod_error *err)
{
	struct nod_session *session = nod_session_open(directory, err);
	struct nod_rebuild *rebuild = session ? calloc(1, sizeof(*rebuild)) : NULL;

	if (session && !rebuild) {
		nod_session_close(session);
		nod_error_set(err, ENOMEM, "out of memory");
		errno = ENOMEM;
	}
	if (!rebuild)
		return NULL;
	rebuild->session = session;
	rebuild->engine = engine;
	rebuild->interfaces = interfaces;
	rebuild->frames = frames;
	rebuild->samples = samples;
	return rebuild;
}

static int grow(struct nod_rebuild *rebuild)
{
	size_t room = rebuild->room ? rebuild->room * 2 : 1024;

	if (rebuild->count == NOD_REBUILD_KEPT_MAX)
		return -ENOBUFS;
	struct nod_event *kept = reallocarray(rebuild->kept, room, sizeof(*kept));
	if (!kept)
		return -ENOMEM;
	rebuild->kept = kept;
	rebuild->room = room;
	return 0;
}

int nod_rebuild_keep(struct nod_rebuild *rebuild, const struct nod_event *event)
{
	struct nod_event copy = *event;
	int status = rebuild->count == rebuild->room || rebuild->count == NOD_REBUILD_KEPT_MAX
			     ? grow(rebuild)
			     : 0;

	if (status)
		return status;
	if (event->kind == NOD_EVENT_HEADER || event->kind == NOD_EVENT_DEFECT)
		return 0; /* there are none while it happens */
	if (event->kind == NOD_EVENT_MARK && !(copy.mark.subject = strdup(event->mark.subject)))
		return -ENOMEM;
	rebuild->kept[rebuild->count++] = copy;
	return 0;
}

/* The index that the engine knows an interface of the recording by. */
static uint8_t interface_of(const struct nod_rebuild *rebuild, uint8_t interface)
{
	const struct nod_interfaces *theirs = nod_session_interfaces(rebuild->session);

	if (interface >= theirs->count)
		return interface;
	for (unsigned i = 0; i < rebuild->interfaces->count; i++)
		if (!strcmp(rebuild->interfaces->names[i], theirs->names[interface]))
			return (uint8_t)i;
	return interface; /* the taps do not change while it is recorded */
}

static int take_frame(struct nod_rebuild *rebuild, const struct nod_frame *frame)
{
	struct nod_frame copy = *frame;

	if (!rebuild->frames)
		return 0; /* it is among what was kept */
	rebuild->frames--;
	copy.interface = interface_of(rebuild, frame->interface);
	return nod_engine_take_frames(rebuild->engine, &copy, 1);
}

static int take(struct nod_rebuild *rebuild, const struct nod_event *event)
{
	struct nod_event copy = *event;
	int status;

	switch (event->kind) {
	case NOD_EVENT_FRAME:
		return take_frame(rebuild, &event->frame);
	case NOD_EVENT_CURRENT:
		if (!rebuild->samples)
			return 0;
		rebuild->samples--;
		break;
	case NOD_EVENT_LOSS:
		copy.loss.interface = interface_of(rebuild, event->loss.interface);
		break;
	case NOD_EVENT_HEADER:
		if (!rebuild->frames) /* "ended" of a time that may have come meanwhile */
			return 0;
		break;
	default:
		break;
	}
	status = nod_engine_take(rebuild->engine, &copy);
	return status == -ENOMEM ? status : 0;
}

/* One after another: 1 while there is more. */
static int read_on(struct nod_rebuild *rebuild, size_t events, struct nod_error *err)
{
	const struct nod_event *event;

	for (; events; events--) {
		int status = nod_session_next(rebuild->session, &event, err);
		if (!status) {
			nod_session_close(rebuild->session);
			rebuild->session = NULL;
			return 1;
		}
		if (status < 0)
			return status;
		if (take(rebuild, event) == -ENOMEM)
			return nod_error_set(err, ENOMEM, "out of memory");
	}
	return 1;
}

int nod_rebuild_step(struct nod_rebuild *rebuild, size_t events, struct nod_error *err)
{
	if (rebuild->session)
		return read_on(rebuild, events, err);
	for (; events && rebuild->next < rebuild->count; events--)
		if (nod_engine_take(rebuild->engine, &rebuild->kept[rebuild->next++]) == -ENOMEM)
			return nod_error_set(err, ENOMEM, "out of memory");
	return rebuild->next < rebuild->count;
}

struct nod_engine *nod_rebuild_engine(struct nod_rebuild *rebuild)
{
	struct nod_engine *engine = rebuild->engine;

	rebuild->engine = NULL;
	return engine;
}

void nod_rebuild_free(struct nod_rebuild *rebuild)
{
	if (!rebuild)
		return;
	nod_session_close(rebuild->session);
	nod_engine_free(rebuild->engine);
	for (size_t i = 0; i < rebuild->count; i++)
		if (rebuild->kept[i].kind == NOD_EVENT_MARK)
			free((char *)rebuild->kept[i].mark.subject);
	free(rebuild->kept);
	free(rebuild);
}
