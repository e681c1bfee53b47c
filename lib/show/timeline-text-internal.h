/* SPDX-License-Identifier: MIT */
/* Shared by the files that draw a timeline in text. */
#ifndef NOD_TIMELINE_TEXT_INTERNAL_H
#define NOD_TIMELINE_TEXT_INTERNAL_H

#include "time-axis.h"
#include "timeline-text.h"

/* The state of a network in a column; the later one wins. */
enum nod_sign {
	NOD_SIGN_NONE,
	NOD_SIGN_ASLEEP,
	NOD_SIGN_UNKNOWN,
	NOD_SIGN_AWAKE,
	NOD_SIGN_LATE,
	NOD_SIGNS
};

/* What a column can hold, in both alphabets. */
struct nod_signs {
	const char *lane[NOD_SIGNS];
	const char *level[9]; /* 0: nothing, then lowest to highest */
	const char *wake, *explained, *deadline, *lock, *tick;
};

struct nod_drawing {
	FILE *out;
	const struct nod_findings *f;
	const struct nod_timeline *timeline;
	struct nod_axis axis; /* width: columns */
	const struct nod_signs *signs;
	bool ascii;
	int columns;       /* of the axis */
	const char **line; /* what stands in each column */
	bool starved;      /* memory ran out: something is not in it */
};

/* The column of a time. */
int nod_drawing_column(const struct nod_drawing *d, nod_time time);

/* Empties the line; writes it behind its name. */
void nod_drawing_clear(struct nod_drawing *d);
void nod_drawing_line(struct nod_drawing *d, const char *name);

/* timeline-text-lanes.c */
int nod_drawing_networks(struct nod_drawing *d);
void nod_drawing_deadlines(struct nod_drawing *d);
void nod_drawing_missed(struct nod_drawing *d);
void nod_drawing_wakes(struct nod_drawing *d);
void nod_drawing_marks(struct nod_drawing *d);
void nod_drawing_list_marks(struct nod_drawing *d);

/* timeline-text-rows.c */
void nod_drawing_senders(struct nod_drawing *d);
void nod_drawing_current(struct nod_drawing *d);

#endif
