/* SPDX-License-Identifier: MIT */
/* What happens in a session, in time order: the one thing that sources
 * deliver and the engine takes. */
#ifndef NOD_EVENT_H
#define NOD_EVENT_H

#include <stdint.h>

#include "frame.h"
#include "journal.h"
#include "timestamp.h"

/* Interface index of events that concern every interface. */
#define NOD_ALL_INTERFACES 255

enum nod_event_kind {
	NOD_EVENT_FRAME, /* a frame was on a network */
	NOD_EVENT_LOSS,  /* frames were lost before this point (DROPCOUNT, SO_RXQ_OVFL) */
	NOD_EVENT_GAP,   /* nobody listened from `from` to `time` (adapter gone, interface down) */
	NOD_EVENT_CLOCK, /* the recording clock was stepped: times before and after do not compare */
	NOD_EVENT_CURRENT, /* a sample of the battery current */
	NOD_EVENT_MARK,    /* of the journal */
	NOD_EVENT_HEADER,  /* a "# key: value" line of a capture */
	NOD_EVENT_DEFECT   /* a line or record that could not be read */
};

struct nod_event {
	enum nod_event_kind kind;
	/* When it happened. Defects, headers and losses carry the time of the
	 * frame before them, or NOD_TIME_NONE at the start of a capture. */
	nod_time time;
	union {
		struct nod_frame frame; /* frame.time == time */
		struct {
			uint8_t interface; /* or NOD_ALL_INTERFACES */
			uint64_t count;    /* frames lost; 0: unknown number */
		} loss;
		struct {
			uint8_t interface;
			nod_time from; /* last time known to have been listening */
		} gap;
		struct {
			nod_duration step; /* new clock minus old; NOD_DURATION_NONE: unknown */
		} clock;
		struct {
			int64_t microamps; /* positive: the car takes current from the battery */
		} current;
		struct nod_mark mark; /* mark.time == time; strings live until the next event */
		struct {
			const char *key, *value; /* trimmed; live until the next event */
		} header;
		struct {
			const char *file;   /* as given by the user; "-" for standard input */
			uint64_t line;      /* counts from 1 (pcap: packet number) */
			unsigned column;    /* counts from 1; 0: not known */
			const char *reason; /* what was expected; lives until the next event */
		} defect;
	};
};

#endif
