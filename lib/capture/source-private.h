/* SPDX-License-Identifier: MIT */
/* What the makers of sources share; included by them and by no one else. */
#ifndef NOD_SOURCE_PRIVATE_H
#define NOD_SOURCE_PRIVATE_H

#include "inflate.h"
#include "source.h"

struct nod_source;

struct nod_source_ops {
	int (*next)(struct nod_source *source, const struct nod_event **event,
		    struct nod_error *err);
	/* nod_source_frames(); NULL: one by one through next(). */
	size_t (*frames)(struct nod_source *source, struct nod_frame *frames, size_t room);
	/* The counts so far; NULL: those in the source itself. */
	void (*counts)(const struct nod_source *source, struct nod_source_counts *counts);
	void (*close)(struct nod_source *source); /* frees the source itself, too */
};

/* The bytes a source reads, from a file or from the caller. */
struct nod_input {
	char *name; /* as given by the user */
	int fd;     /* -1: read by the caller's function */
	nod_read_function *read;
	void *context;
	struct nod_inflate *inflate;
};
void nod_input_close(struct nod_input *input);

/* The first member of every kind of source. */
struct nod_source {
	const struct nod_source_ops *ops;
	struct nod_source_counts counts;
	struct nod_event event; /* the one delivered last */
	nod_time last;          /* time of the last frame */
	struct nod_interfaces *table;
	struct nod_input input;
	char form[80];
};

static inline void nod_source_count_back_step(struct nod_source *source, nod_duration back)
{
	source->counts.back_steps++;
	if (back.ns > source->counts.largest_back_step.ns)
		source->counts.largest_back_step = back;
}

/* Counts frames that are delivered, and notes steps back. */
static inline void nod_source_count_frames(struct nod_source *source,
					   const struct nod_frame *frames, size_t count)
{
	nod_time last = source->last;
	uint64_t errors = 0;

	for (const struct nod_frame *frame = frames; frame < frames + count; frame++) {
		errors += frame->id / NOD_ID_ERROR & 1;
		if (__builtin_expect(frame->time.ns < last.ns, 0))
			nod_source_count_back_step(source, nod_time_since(last, frame->time));
		last = frame->time;
	}
	source->last = last;
	source->counts.frames += count;
	source->counts.errors += errors;
}

/* Delivers source->event, a frame. */
static inline int nod_source_deliver_frame(struct nod_source *source,
					   const struct nod_event **event)
{
	source->event.kind = NOD_EVENT_FRAME;
	source->event.time = source->event.frame.time;
	nod_source_count_frames(source, &source->event.frame, 1);
	*event = &source->event;
	return 1;
}

/* Delivers an event that is no frame, with the time of the frame before. */
int nod_source_deliver_defect(struct nod_source *source, const struct nod_event **event,
			      uint64_t line, unsigned column, const char *reason);
int nod_source_deliver_loss(struct nod_source *source, const struct nod_event **event,
			    uint8_t interface, uint64_t count);

/* The makers. Each takes the input over (also on failure) and returns NULL
 * with errno and err set when the content is not for it. */
struct nod_source *nod_source_text(struct nod_input input, struct nod_interfaces *table,
				   struct nod_error *err);
struct nod_source *nod_source_pcap(struct nod_input input, struct nod_interfaces *table,
				   struct nod_error *err);
struct nod_source *nod_source_blf(struct nod_input input, struct nod_interfaces *table,
				  struct nod_error *err);
struct nod_source *nod_source_pcapng(struct nod_input input, struct nod_interfaces *table,
				     struct nod_error *err);

/* Unpacks by a thread what is packed; false when there is nothing to unpack. */
bool nod_source_unpack_ahead(struct nod_source *source);

/* Sets what every kind has in common, and frees it with the source. */
void nod_source_init(struct nod_source *source, const struct nod_source_ops *ops,
		     struct nod_input input, struct nod_interfaces *table);
void nod_source_free(struct nod_source *source);

/* For makers that find no memory: lets go of the input, sets errno and err,
 * returns NULL. */
struct nod_source *nod_source_no_memory(struct nod_input *input, struct nod_error *err);

/* Says that reading failed with `code`, a negative errno, which is returned. */
int nod_source_read_failed(const struct nod_source *source, int code, struct nod_error *err);

/* Index of an interface by a name from a file, cut and freed of characters
 * that names cannot have. Negative errno as nod_interfaces_index(). */
int nod_source_name_interface(struct nod_source *source, const char *name, size_t length);

/* The same for an interface that the capture gives no name: the name of the
 * file up to its first point, with ".1" and so on from the second one on. */
int nod_source_name_by_file(struct nod_source *source, unsigned number);

#endif
