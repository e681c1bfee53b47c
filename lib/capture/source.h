/* SPDX-License-Identifier: MIT */
/* Where events come from: a recorded capture in any of the forms nodoff
 * reads, or several merged by time. Pull interface; one event at a time. */
#ifndef NOD_SOURCE_H
#define NOD_SOURCE_H

#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "event.h"

/* The interface names of one session; nod_frame.interface indexes it.
 * Shared by all sources that are read together.
 *
 * At most 64 names: far more than a car has networks, so what brings more is damaged, or
 * no capture. */
#define NOD_INTERFACES_MAX 64
#define NOD_INTERFACES_TEXT "64"
struct nod_interfaces {
	unsigned count;
	char names[255][16]; /* as in the capture, IFNAMSIZ including the zero */
};

/* Index of a name of `length` characters, added when it is new. Returns
 * -ENOSPC when the table is full, -EINVAL for an empty or too long name. */
int nod_interfaces_index(struct nod_interfaces *table, const char *name, size_t length);

struct nod_source;

/* Opens a capture: candump log, candump console form with times, pcap or
 * pcapng (link type 227), BLF, the text forms of other-log.h, each plain, gzip or zstd; the
 * form is detected from the content. "-" is standard input. Returns NULL with errno and err set:
 * ENOENT etc. from opening, EINVAL when the content is none of these (err
 * says what was found instead), EBADMSG when packed data are damaged from the
 * start. `table` must outlive the source.
 *
 * A file of comments only, or of nothing, is a log in which no frame came.
 * Times of the console form that are differences from line to line (candump
 * -td) are refused; what tells them from times since the start is in
 * console.h. pcap names no interfaces (pcapng may): the name of the file up to
 * its first point stands for them. */
struct nod_source *nod_source_open(const char *path, struct nod_interfaces *table,
				   struct nod_error *err);

/* The same on text in memory, fed piecewise for tests and pipes: reads from
 * `read(context, buf, size)`, which returns bytes read, 0 at the end or a
 * negative errno. `name` is used in messages. Takes no ownership of context. */
typedef ptrdiff_t nod_read_function(void *context, void *buf, size_t size);
struct nod_source *nod_source_open_reader(nod_read_function *read, void *context, const char *name,
					  struct nod_interfaces *table, struct nod_error *err);

/* Several sources as one, merged by time (stable: at equal times the order of
 * `sources`). Takes ownership of them, also on failure. */
struct nod_source *nod_source_merge(struct nod_source **sources, size_t count);

/* The next event. Returns 1 with *event valid until the next call, 0 at the
 * end, or a negative errno with err set when the input cannot be read on
 * (-EBADMSG: the packed data are damaged; what came before has been given). */
int nod_source_next(struct nod_source *source, const struct nod_event **event,
		    struct nod_error *err);

/* The frames that come next, at most `room` of them: for who takes them by the
 * hundred. Returns their number; 0: what comes next may be anything, and
 * nod_source_next() has to be asked. Never waits for input once it has a frame,
 * so a number below `room` means nothing. */
size_t nod_source_frames(struct nod_source *source, struct nod_frame *frames, size_t room);

/* What has been read so far. */
struct nod_source_counts {
	uint64_t lines;                 /* lines or packets, whatever they held */
	uint64_t frames;                /* frames, error reports included */
	uint64_t errors;                /* error reports among them */
	uint64_t defects;               /* lines or packets that could not be read */
	uint64_t lost;                  /* frames reported lost inside the capture */
	uint64_t back_steps;            /* frames earlier than the frame before them */
	nod_duration largest_back_step; /* >= 0 */
	/* The end was cut off: a packed stream or a packet breaks off, or the last
	 * line has no newline. A line that is whole but for its newline is given
	 * as a frame, of which bytes may be missing; any other is a defect. */
	bool torn;
	bool unended; /* ... and it is only that: the last line was read as a frame */
};
void nod_source_counts(const struct nod_source *source, struct nod_source_counts *counts);

/* What the capture is, for people: "candump log, zstd". */
const char *nod_source_form(const struct nod_source *source);

void nod_source_close(struct nod_source *source);

#endif
