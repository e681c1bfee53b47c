/* SPDX-License-Identifier: MIT */
/* Shared by the files of the recorder. */
#ifndef NOD_RECORDER_INTERNAL_H
#define NOD_RECORDER_INTERNAL_H

#include "appender.h"
#include "piece-writer.h"
#include "recorder.h"

/* Samples kept in memory; about ten minutes at 2 Hz while the disk is full. */
#define NOD_CURRENT_BUFFER ((size_t)48 * 1024)

/* Marks of our own that wait to be written while the disk is full. Chosen: a gap makes two
 * lines of 50 bytes, so an adapter with a loose plug for an hour; frames that are lost
 * meanwhile make a gap of all that time anyway. */
#define NOD_UNTOLD_BUFFER ((size_t)16 * 1024)

struct nod_recorder {
	const struct nod_file_ops *ops;
	const struct nod_interfaces *interfaces;
	int digits;
	struct nod_piece_writer frames;
	struct nod_appender journal, current;
	bool current_named; /* its name is on the disk */
	char *samples;
	size_t samples_length;
	bool sampled; /* there is a current: not every session has one */
	char untold[NOD_UNTOLD_BUFFER];
	size_t untold_length;
	struct nod_recorder_status status;
	nod_time newest; /* the latest time heard of */
	nod_time kept;   /* of the last event that will be in the recording */
	nod_time safe;   /* of the last one that is on the disk */
	nod_time begun;  /* the first time heard of */
	bool idle;       /* nothing came since the last flush */
	bool losing;     /* frames are being lost: they are counted, and nothing else is taken */
	nod_time gap_from, gap_to; /* to be told in the journal; NOD_TIME_NONE: nothing to tell */
	uint64_t lost[256];        /* by interface, not told yet */
	uint64_t dropped[256];     /* by interface, told so far */
};

/* Notes how an attempt to write went. Returns its result. */
int nod_recorder_note_result(struct nod_recorder *recorder, int result);
void nod_recorder_note_time(struct nod_recorder *recorder, nod_time time);

/* Lines among the frames. False or an error when there is no room for it. */
bool nod_recorder_put_loss(struct nod_recorder *recorder, unsigned interface, uint64_t count);
int nod_recorder_take_header(struct nod_recorder *recorder, const char *key, const char *value);

/* Writes what waits for the journal. 0 or a negative errno. */
int nod_recorder_write_untold(struct nod_recorder *recorder);

/* The mark is on the disk when this returns 0. `own`: else it is told as soon as it can. */
int nod_recorder_write_mark(struct nod_recorder *recorder, const struct nod_mark *mark, bool own);
struct nod_mark nod_recorder_gap_mark(char subject[64], const char *interface, nod_time from,
				      nod_time to);

/* From the last sync that succeeded until now some may be missing: a gap to be told. */
void nod_recorder_doubt_since_safe(struct nod_recorder *recorder, nod_time now);
int nod_recorder_tell_gap(struct nod_recorder *recorder);

/* Opens journal or current for appending. */
int nod_recorder_open_log(struct nod_appender *log, const char *directory, const char *name,
			  const struct nod_file_ops *ops);

#endif
