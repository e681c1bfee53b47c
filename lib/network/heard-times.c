/* SPDX-License-Identifier: MIT */
#include "heard-times.h"

#include <errno.h>
#include <stdlib.h>

#include "id-table.h"

/* The running interval follows by this part of the difference; at once by
 * half when an interval is under half of it. Chosen. */
#define FOLLOW 16

struct nod_heard {
	struct nod_heard_id *ids;
	uint32_t count, room;
	struct nod_id_table numbers; /* of IDs: index + 1 */
	uint32_t most;               /* stretches of one ID */
	size_t stretches;            /* that all IDs have room for */
};

struct nod_heard *nod_heard_new(void)
{
	struct nod_heard *heard = calloc(1, sizeof(*heard));

	if (heard)
		heard->most = NOD_HEARD_STRETCHES;
	return heard;
}

void nod_heard_free(struct nod_heard *heard)
{
	if (!heard)
		return;
	for (uint32_t i = 0; i < heard->count; i++)
		free(heard->ids[i].stretches);
	free(heard->ids);
	nod_id_table_free(&heard->numbers);
	free(heard);
}

/* ---- finding an ID ---- */

static int grow(struct nod_heard *heard)
{
	uint32_t room = heard->room ? heard->room * 2 : 128;
	struct nod_heard_id *ids = realloc(heard->ids, room * sizeof(*ids));

	if (!ids)
		return -ENOMEM;
	heard->ids = ids;
	heard->room = room;
	return 0;
}

/* 0 with *found NULL: no more IDs are taken. */
static int find(struct nod_heard *heard, uint8_t interface, uint32_t id,
		struct nod_heard_id **found)
{
	uint32_t number = nod_id_table_find(&heard->numbers, interface, id);

	*found = NULL;
	if (!number) {
		if (heard->count == NOD_HEARD_IDS)
			return 0;
		if ((heard->count == heard->room && grow(heard)) ||
		    nod_id_table_add(&heard->numbers, interface, id, heard->count + 1))
			return -ENOMEM;
		heard->ids[heard->count] = (struct nod_heard_id){.id = id, .interface = interface};
		number = ++heard->count;
	}
	*found = &heard->ids[number - 1];
	return 0;
}

/* ---- stretches ---- */

/* Closes the silences shorter than id->silence. */
static void close_silences(struct nod_heard_id *id)
{
	uint32_t kept = 0;

	for (uint32_t i = 1; i < id->count; i++) {
		struct nod_stretch *last = &id->stretches[kept];
		if (nod_time_since(id->stretches[i].from, last->to).ns < id->silence.ns) {
			last->to = id->stretches[i].to;
			last->frames += id->stretches[i].frames;
		} else {
			id->stretches[++kept] = id->stretches[i];
		}
	}
	id->count = kept + 1;
}

/* Makes room by keeping only ever longer silences. */
static void thin_out(struct nod_heard_id *id, uint32_t most)
{
	while (id->count > most / 2) {
		id->silence.ns = id->silence.ns ? id->silence.ns * 2 : 2 * NOD_HEARD_FLOOR_NS;
		close_silences(id);
	}
}

static int set_room(struct nod_heard *heard, struct nod_heard_id *id, uint32_t room)
{
	struct nod_stretch *stretches = realloc(id->stretches, room * sizeof(*stretches));

	if (!stretches)
		return -ENOMEM;
	id->stretches = stretches;
	heard->stretches += room;
	heard->stretches -= id->room;
	id->room = room;
	return 0;
}

/* Lets those that have the most give room back, until half of all is free again. */
static int share_room(struct nod_heard *heard)
{
	while (heard->stretches > NOD_HEARD_STRETCHES_ALL / 2 &&
	       heard->most > NOD_HEARD_STRETCHES_LEAST) {
		heard->most /= 2;
		for (uint32_t i = 0; i < heard->count; i++) {
			struct nod_heard_id *id = &heard->ids[i];
			if (id->room <= heard->most)
				continue;
			if (id->count >= heard->most)
				thin_out(id, heard->most);
			if (set_room(heard, id, heard->most))
				return -ENOMEM;
		}
	}
	return 0;
}

static int begin_stretch(struct nod_heard *heard, struct nod_heard_id *id, nod_time time)
{
	if (id->count == id->room && heard->stretches + id->room + 4 > NOD_HEARD_STRETCHES_ALL &&
	    share_room(heard))
		return -ENOMEM;
	if (id->count >= heard->most)
		thin_out(id, heard->most);
	if (id->count == id->room && set_room(heard, id, id->room ? id->room * 2 : 4))
		return -ENOMEM;
	id->stretches[id->count++] = (struct nod_stretch){time, time, 1};
	return 0;
}

static int64_t parting_silence(const struct nod_heard_id *id)
{
	int64_t limit = NOD_HEARD_FACTOR * id->usual.ns;

	if (!id->usual.ns)
		limit = NOD_HEARD_PERIOD_MAX_NS;
	limit = limit < NOD_HEARD_FLOOR_NS ? NOD_HEARD_FLOOR_NS : limit;
	return limit < id->silence.ns ? id->silence.ns : limit;
}

static void follow(struct nod_heard_id *id, int64_t interval)
{
	int64_t usual = id->usual.ns;

	id->intervals++;
	id->long_intervals += usual && interval > usual + usual / 2;
	if (!usual)
		usual = interval;
	else if (interval < usual / 2)
		usual = (usual + interval) / 2;
	else
		usual += (interval - usual) / FOLLOW;
	id->usual.ns = usual > NOD_HEARD_PERIOD_MAX_NS ? NOD_HEARD_PERIOD_MAX_NS : usual;
}

int nod_heard_take(struct nod_heard *heard, const struct nod_event *event, nod_duration shift)
{
	const struct nod_frame *frame = &event->frame;
	struct nod_heard_id *id;

	if (event->kind != NOD_EVENT_FRAME || nod_frame_is_error(frame))
		return 0;
	if (find(heard, frame->interface, nod_frame_id(frame), &id))
		return -ENOMEM;
	if (!id)
		return 0;
	nod_time time = nod_time_after(frame->time, shift);
	struct nod_stretch *last = id->count ? &id->stretches[id->count - 1] : NULL;
	int64_t interval = last ? nod_time_since(time, last->to).ns : 0;
	if (!last || interval > parting_silence(id))
		return begin_stretch(heard, id, time);
	last->frames++;
	if (interval > 0) /* a merged recorder may go back a little */
		last->to = time;
	follow(id, interval > 0 ? interval : 0);
	return 0;
}

/* ---- what was heard ---- */

size_t nod_heard_count(const struct nod_heard *heard)
{
	return heard->count;
}

const struct nod_heard_id *nod_heard_id(const struct nod_heard *heard, size_t index)
{
	return &heard->ids[index];
}

nod_duration nod_heard_interval(const struct nod_heard_id *id)
{
	int64_t time = 0;
	uint64_t intervals = 0;

	for (uint32_t i = 0; i < id->count; i++) {
		time += nod_time_since(id->stretches[i].to, id->stretches[i].from).ns;
		intervals += id->stretches[i].frames - 1;
	}
	return intervals ? (nod_duration){time / (int64_t)intervals} : NOD_DURATION_NONE;
}
