/* How far each ID had come when something was isolated or refitted. Internal
 * to the engine. */
#ifndef NOD_SNAPSHOT_H
#define NOD_SNAPSHOT_H

struct nod_engine;

/* Takes a snapshot for the mark with this index. 0, -ENOMEM, or -ENOSPC when
 * there are too many. */
int nod_snapshot_take(struct nod_engine *engine, int mark);

void nod_snapshots_clear(struct nod_engine *engine);

#endif
