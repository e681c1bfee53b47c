/* SPDX-License-Identifier: MIT */
/* Writes a session while it happens: frames, current and journal, so that a
 * killed process or a pulled plug costs at most what came since the last
 * nod_recorder_flush(). No clock, no sockets; the caller flushes once a second.
 *
 * Frames go as candump log text into frames-000001.log.zst, -000002, ... Each
 * flush ends a complete zstd frame, so every piece opens with zstdcat up to
 * its last flush, whatever happened after. In silence a flush writes
 * "# ended: TIME" (listened up to here, and heard nothing): silence is data.
 * A step of the clock is also noted in place ("# clock-step: -2 s"), so that a
 * reader can put frames and journal side by side again.
 *
 * When the disk is full (or any write fails) what was written stays whole: the
 * torn end is cut off again, what is in memory is kept and tried again at
 * every flush, and what does not fit any more is counted. When there is room
 * again the recording goes on by itself, with the gaps and clock steps that could
 * not be told meanwhile, a DROPCOUNT line per interface and a mark
 * "gap all LENGTH" for the time that is missing.
 *
 * A failed sync is such a failure: what it was to keep is written and synced again
 * (piece-writer.h), since a later sync that succeeds says nothing of it. Only when it
 * cannot be cut off first, so that it would be there twice, the recording goes on without
 * it, and a "gap all LENGTH" says that what was recorded then may be missing. */
#ifndef NOD_RECORDER_H
#define NOD_RECORDER_H

#include <stdint.h>

#include "error.h"
#include "event.h"
#include "file-ops.h"
#include "source.h"

/* A new piece is begun after so much on disk, or so long. Chosen: a piece
 * should be easy to copy, and a day should not make hundreds of them. */
#define NOD_RECORDER_PIECE_BYTES (UINT64_C(64) * 1024 * 1024)
#define NOD_RECORDER_PIECE_TIME nod_seconds(INT64_C(6) * 3600)

/* Text held in memory until it is compressed: also what survives a full disk.
 * Chosen: a tenth of a second of two full 500 kbit/s networks makes about
 * 45 KB; larger blocks compress no better. */
#define NOD_RECORDER_BUFFER ((size_t)256 * 1024)

struct nod_recorder_settings {
	const char *directory; /* of an existing session, see session-create.h */
	const struct nod_interfaces
		*interfaces; /* of the events; may grow; outlives the recorder */
	const char *clock;   /* which clock stamped the frames, for people: "kernel"; or NULL */
	int digits; /* of the frames' times: 6 (as candump writes) or 9; 0: 6 where that is exact */
	uint64_t piece_bytes;           /* 0: NOD_RECORDER_PIECE_BYTES */
	nod_duration piece_time;        /* 0: NOD_RECORDER_PIECE_TIME */
	const struct nod_file_ops *ops; /* NULL: the real ones */
};

struct nod_recorder_status {
	int error; /* 0: recording; else the negative errno that keeps it from it */
	nod_time
		failing_since; /* newest time known when it began, NOD_TIME_NONE when it does not */
	uint64_t frames;       /* taken over, error reports included */
	uint64_t lost;         /* of these, not kept: no room while writing failed */
	uint64_t samples_lost; /* samples of the current, for the same reason */
	uint64_t bytes;        /* of frames on disk, compressed, in all pieces */
	unsigned piece;        /* number of the piece being written, from 1 */
};

struct nod_recorder;

/* Opens the journal and the first piece (the number after the last one that is
 * there). NULL with errno and err set. */
struct nod_recorder *nod_recorder_new(const struct nod_recorder_settings *settings,
				      struct nod_error *err);

/* Takes one event. Events come in the order in which they shall be read again.
 *     FRAME, LOSS     kept in memory until the next flush; -ENOSPC etc. when the frame is lost
 *     MARK, GAP,      written to the journal; 0 says that it is on the disk
 *     CLOCK           (the frames before it are written first, not synced)
 *     CURRENT         as a frame, into current.log
 *     HEADER          a "# key: value" line among the frames
 *     DEFECT          ignored
 * Returns 0 or a negative errno. */
int nod_recorder_take(struct nod_recorder *recorder, const struct nod_event *event);

/* Writes everything out and syncs it to the disk. `now` is on the clock of the
 * frames: silence up to then was listened to. Call once a second, and before
 * anything that may end the process. Returns 0 or the negative errno (then
 * everything is kept, and tried again at the next call). */
int nod_recorder_flush(struct nod_recorder *recorder, nod_time now);

void nod_recorder_status(const struct nod_recorder *recorder, struct nod_recorder_status *status);

/* Flushes, closes and frees. Returns what the flush did (tried twice); when it failed, the
 * journal says from when on the end may be missing, if it can. Freed in any case. */
int nod_recorder_close(struct nod_recorder *recorder, nod_time now);

#endif
