/* SPDX-License-Identifier: MIT */
#include "snapshot.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "engine-internal.h"

void nod_snapshot_clear(struct nod_snapshot *snapshot)
{
	for (size_t i = 0; snapshot->idents && i < snapshot->tracks; i++)
		free(snapshot->idents[i]);
	free(snapshot->idents);
	free(snapshot->counts);
	free(snapshot->serials);
	memset(snapshot, 0, sizeof(*snapshot));
}

static struct nod_snapshot_ident copy_ident(const struct nod_ident *ident)
{
	const struct nod_node *node = ident->node;

	return (struct nod_snapshot_ident){
		.frames = nod_ident_frames(ident),
		.span = ident->span,
		.held = {ident->last, node ? node->last_request : NOD_TIME_NONE,
			 node ? node->last_ready : NOD_TIME_NONE,
			 node ? node->request_from : NOD_TIME_NONE},
	};
}

static int copy_track(struct nod_snapshot *snapshot, size_t i, const struct nod_track *track)
{
	uint32_t count = track ? track->idents.count : 0;

	if (!snapshot->idents[i] || snapshot->counts[i] < count) {
		free(snapshot->idents[i]);
		snapshot->idents[i] = calloc(count ? count : 1, sizeof(**snapshot->idents));
	}
	if (!snapshot->idents[i])
		return -ENOMEM;
	snapshot->counts[i] = count;
	snapshot->serials[i] = track ? track->serial : 0;
	for (uint32_t k = 0; k < count; k++)
		snapshot->idents[i][k] = copy_ident(&track->idents.items[k]);
	return 0;
}

static int make_room(struct nod_snapshot *snapshot, size_t tracks)
{
	if (snapshot->idents && snapshot->tracks == tracks)
		return 0;
	nod_snapshot_clear(snapshot);
	snapshot->tracks = tracks;
	snapshot->idents = calloc(tracks ? tracks : 1, sizeof(*snapshot->idents));
	snapshot->counts = calloc(tracks ? tracks : 1, sizeof(*snapshot->counts));
	snapshot->serials = calloc(tracks ? tracks : 1, sizeof(*snapshot->serials));
	return snapshot->idents && snapshot->counts && snapshot->serials ? 0 : -ENOMEM;
}

int nod_snapshot_fill(struct nod_snapshot *snapshot, const struct nod_engine *engine)
{
	int status = make_room(snapshot, engine->track_room);

	for (size_t i = 0; !status && i < snapshot->tracks; i++)
		status = copy_track(snapshot, i, engine->tracks[i]);
	if (status)
		nod_snapshot_clear(snapshot);
	return status;
}

static int make_place(struct nod_engine *engine)
{
	if (engine->snapshot_count == NOD_SNAPSHOTS_MAX) {
		engine->snapshots_dropped++;
		return -ENOSPC;
	}
	if (engine->snapshot_count == engine->snapshot_room) {
		size_t room = engine->snapshot_room ? engine->snapshot_room * 2 : 8;
		void *more = realloc(engine->snapshots, room * sizeof(*engine->snapshots));
		if (!more)
			return -ENOMEM;
		engine->snapshots = more;
		engine->snapshot_room = room;
	}
	return 0;
}

int nod_snapshot_keep(struct nod_engine *engine, struct nod_snapshot *snapshot, int mark)
{
	int status = make_place(engine);

	snapshot->mark = mark;
	if (status)
		nod_snapshot_clear(snapshot);
	else
		engine->snapshots[engine->snapshot_count++] = *snapshot;
	return status;
}

int nod_snapshot_take(struct nod_engine *engine, int mark)
{
	struct nod_snapshot snapshot = {.mark = mark};
	int status = nod_snapshot_fill(&snapshot, engine);

	return status ? status : nod_snapshot_keep(engine, &snapshot, mark);
}

void nod_snapshots_clear(struct nod_engine *engine)
{
	for (size_t i = 0; i < engine->snapshot_count; i++)
		nod_snapshot_clear(&engine->snapshots[i]);
	free(engine->snapshots);
}
