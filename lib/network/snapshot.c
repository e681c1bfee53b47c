#include "snapshot.h"

#include <errno.h>
#include <stdlib.h>

#include "engine-internal.h"

static void clear_one(struct nod_snapshot *snapshot)
{
	for (size_t i = 0; snapshot->idents && i < snapshot->tracks; i++)
		free(snapshot->idents[i]);
	free(snapshot->idents);
	free(snapshot->counts);
	free(snapshot->serials);
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

	snapshot->counts[i] = count;
	snapshot->serials[i] = track ? track->serial : 0;
	snapshot->idents[i] = calloc(count ? count : 1, sizeof(**snapshot->idents));
	if (!snapshot->idents[i])
		return -ENOMEM;
	for (uint32_t k = 0; k < count; k++)
		snapshot->idents[i][k] = copy_ident(&track->idents.items[k]);
	return 0;
}

static int fill(struct nod_snapshot *snapshot, const struct nod_engine *engine)
{
	size_t tracks = engine->track_room;

	snapshot->tracks = tracks;
	snapshot->idents = calloc(tracks ? tracks : 1, sizeof(*snapshot->idents));
	snapshot->counts = calloc(tracks ? tracks : 1, sizeof(*snapshot->counts));
	snapshot->serials = calloc(tracks ? tracks : 1, sizeof(*snapshot->serials));
	if (!snapshot->idents || !snapshot->counts || !snapshot->serials)
		return -ENOMEM;
	for (size_t i = 0; i < tracks; i++)
		if (copy_track(snapshot, i, engine->tracks[i]))
			return -ENOMEM;
	return 0;
}

int nod_snapshot_take(struct nod_engine *engine, int mark)
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
	struct nod_snapshot snapshot = {.mark = mark};
	if (fill(&snapshot, engine)) {
		clear_one(&snapshot);
		return -ENOMEM;
	}
	engine->snapshots[engine->snapshot_count++] = snapshot;
	return 0;
}

void nod_snapshots_clear(struct nod_engine *engine)
{
	for (size_t i = 0; i < engine->snapshot_count; i++)
		clear_one(&engine->snapshots[i]);
	free(engine->snapshots);
}
