/* SPDX-License-Identifier: MIT */
#include "draft-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "diagnostic.h"

#define FIRST_WINDOW_NS NOD_NS_PER_S

struct nod_draft *nod_draft_new(void)
{
	struct nod_draft *draft = calloc(1, sizeof(*draft));

	if (draft) {
		draft->origin = NOD_TIME_NONE;
		draft->window_ns = FIRST_WINDOW_NS;
	}
	return draft;
}

void nod_draft_free(struct nod_draft *draft)
{
	if (!draft)
		return;
	for (int i = 0; i < 256; i++)
		nod_nm_detect_free(draft->detect[i]);
	free(draft->ids);
	nod_id_table_free(&draft->numbers);
	free(draft);
}

/* Room for one more ID. */
static int grow(struct nod_draft *draft)
{
	uint32_t room = draft->room ? draft->room * 2 : 128;

	if (draft->count < draft->room)
		return 0;
	struct nod_draft_id *ids = realloc(draft->ids, room * sizeof(*ids));
	if (!ids)
		return -ENOMEM;
	draft->ids = ids;
	draft->room = room;
	return 0;
}

/* The record of an ID, made when it is new. 0 with *found NULL: no more are
 * taken. */
static int find(struct nod_draft *draft, uint8_t interface, uint32_t id,
		struct nod_draft_id **found)
{
	uint32_t number = nod_id_table_find(&draft->numbers, interface, id);

	*found = NULL;
	if (!number) {
		if (draft->count == NOD_DRAFT_IDS_MAX)
			return 0;
		if (grow(draft) ||
		    nod_id_table_add(&draft->numbers, interface, id, draft->count + 1))
			return -ENOMEM;
		draft->ids[draft->count] = (struct nod_draft_id){.id = id,
								 .interface = interface,
								 .shortest = UINT8_MAX,
								 .last = NOD_TIME_NONE};
		number = ++draft->count;
	}
	*found = &draft->ids[number - 1];
	return 0;
}

/* Every two windows become one. */
static void widen_windows(struct nod_draft *draft)
{
	draft->window_ns *= 2;
	for (uint32_t i = 0; i < draft->count; i++) {
		uint64_t wide = 0;
		for (int w = 0; w < NOD_DRAFT_WINDOWS; w++)
			wide |= (draft->ids[i].active >> w & 1) << w / 2;
		draft->ids[i].active = wide;
	}
}

static int window_of(struct nod_draft *draft, nod_time time)
{
	if (!nod_time_is_set(draft->origin))
		draft->origin = time;
	int64_t since = nod_time_since(time, draft->origin).ns;
	while (since / draft->window_ns >= NOD_DRAFT_WINDOWS)
		widen_windows(draft);
	return since < 0 ? 0 : (int)(since / draft->window_ns);
}

/* Services of a tester and answers to them differ in bit 6; 7F is a refusal.
 * From memory of ISO 14229-1. */
#define FIRST_SERVICE 0x10
#define LAST_SERVICE 0x3E
#define ANSWER_BIT 0x40
#define REFUSED 0x7F

/* Makers use more IDs for testers than the common ones, nearly all of them
 * from here up. From memory. */
#define FIRST_TESTER_ID 0x700

/* As in no other part of nodoff, a draft may guess: a person reads it. */
static void count_diagnostic(struct nod_draft_id *id, const struct nod_frame *frame)
{
	enum nod_diagnostic_kind kind = nod_diagnostic_classify(frame);
	struct nod_isotp tp = nod_isotp_decode(frame);

	if (kind != NOD_DIAGNOSTIC_NONE) {
		id->requests += nod_diagnostic_is_request(kind);
		id->answers += !nod_diagnostic_is_request(kind);
		return;
	}
	if (id->id & NOD_ID_EXTENDED || id->id < FIRST_TESTER_ID || tp.kind == NOD_ISOTP_INVALID)
		return;
	if (tp.kind != NOD_ISOTP_SINGLE && tp.kind != NOD_ISOTP_FIRST) {
		id->requests++; /* flow control comes from either, parts of long messages too */
		id->answers++;
		return;
	}
	uint8_t service = frame->data[tp.start];
	id->requests += service >= FIRST_SERVICE && service <= LAST_SERVICE;
	id->answers += (service >= (FIRST_SERVICE | ANSWER_BIT) &&
			service <= (LAST_SERVICE | ANSWER_BIT)) ||
		       service == REFUSED;
}

static void take(struct nod_draft_id *id, const struct nod_frame *frame, int window)
{
	int64_t interval = nod_time_is_set(id->last) ? nod_time_since(frame->time, id->last).ns
						     : -1;

	if (!id->frames++) {
		id->example_length = frame->length > 8 ? 8 : frame->length;
		if (!(frame->id & NOD_ID_REMOTE))
			memcpy(id->example, frame->data, id->example_length);
	}
	id->remote += !!(frame->id & NOD_ID_REMOTE);
	count_diagnostic(id, frame);
	id->shortest = frame->length < id->shortest ? frame->length : id->shortest;
	id->longest = frame->length > id->longest ? frame->length : id->longest;
	id->active |= UINT64_C(1) << window;
	if (interval >= 0)
		nod_sampler_take(&id->sampler, interval);
	id->last = frame->time;
}

int nod_draft_take(struct nod_draft *draft, const struct nod_event *event)
{
	const struct nod_frame *frame = &event->frame;
	struct nod_draft_id *id;

	if (event->kind != NOD_EVENT_FRAME || nod_frame_is_error(frame))
		return 0;
	struct nod_nm_detect **detect = &draft->detect[frame->interface];
	if (!*detect)
		*detect = nod_nm_detect_new();
	if (!*detect || find(draft, frame->interface, nod_frame_id(frame), &id))
		return -ENOMEM;
	nod_nm_detect_feed(*detect, frame);
	if (id)
		take(id, frame, window_of(draft, frame->time));
	else
		draft->unlisted++;
	return 0;
}
