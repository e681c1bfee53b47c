/* SPDX-License-Identifier: MIT */
/* Text written into numbered, compressed files of which every part that was
 * written stays readable: frames-000001.log.zst, ... Used by recorder.c.
 *
 * A sync that fails has lost what it was to keep: the kernel may drop the pages, and
 * the next sync says that all is well, although they are not on the disk. So what was
 * written since the last good sync is held in memory, and after a failure it is cut off
 * and written again before anything else. When it cannot be cut off, the next piece goes
 * on, and what may be missing is said (`uncertain`). */
#ifndef NOD_PIECE_WRITER_H
#define NOD_PIECE_WRITER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "file-ops.h"
#include "timestamp.h"

/* Packed text held until it is synced; then no more is taken than is kept. Chosen: a
 * second of eight full 500 kbit/s networks is below half of it. */
#define NOD_PIECE_UNSYNCED ((size_t)1024 * 1024)

struct nod_piece_writer {
	const struct nod_file_ops *ops;
	char *directory, *head; /* head: first lines of every piece */
	uint64_t piece_bytes;   /* a new piece after so many */
	nod_duration piece_time;
	struct ZSTD_CCtx_s *zstd;
	char *text, *packed; /* not yet written; room to compress it */
	size_t length, room;
	int fd;           /* -1: the next piece is not open yet */
	unsigned piece;   /* number of the open or next piece */
	nod_time begun;   /* NOD_TIME_NONE: nothing was flushed into it yet */
	uint64_t good;    /* bytes of whole zstd frames in the piece */
	uint64_t bytes;   /* the same in all pieces */
	bool torn;        /* bytes behind `good` are still to be cut off */
	bool name_synced; /* the directory with the piece's name is on the disk */
	bool data_synced;
	char *unsynced; /* what was written since the last good sync, packed */
	size_t unsynced_length;
	uint64_t synced;    /* bytes of the piece that are on the disk; unsynced follows */
	int failure;        /* of the last sync: what follows `synced` is in doubt; 0: not */
	bool name_in_doubt; /* the sync of the directory failed */
	bool uncertain;     /* some of what was written may be missing; reset by the caller */
};

/* `first` is the number of the first piece. Returns 0 or a negative errno; to
 * be freed with nod_piece_writer_free() in any case. */
int nod_piece_writer_init(struct nod_piece_writer *writer, const char *directory, const char *head,
			  unsigned first, const struct nod_file_ops *ops);
void nod_piece_writer_free(struct nod_piece_writer *writer);

/* Opens the piece now, to see whether it can be. Returns 0 or a negative errno. */
int nod_piece_writer_open(struct nod_piece_writer *writer);

/* Room for `size` bytes of text at the end, or NULL; then how many came. */
char *nod_piece_writer_room(struct nod_piece_writer *writer, size_t size);
void nod_piece_writer_add(struct nod_piece_writer *writer, size_t length);

/* Writes the text as one zstd frame. Returns 0, or a negative errno: then the
 * text is kept, and the file ends with its last whole frame. After a failed sync
 * 0 says that what was in doubt is on the disk. */
int nod_piece_writer_write(struct nod_piece_writer *writer);

/* The same, has the disk keep it, and begins a new piece when it is time for
 * one. */
int nod_piece_writer_flush(struct nod_piece_writer *writer, nod_time now);

#endif
