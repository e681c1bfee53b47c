/* SPDX-License-Identifier: MIT */
/* Shared by the files that draw a picture. */
#ifndef NOD_PICTURE_INTERNAL_H
#define NOD_PICTURE_INTERNAL_H

#include "time-axis.h"
#include "picture.h"

struct nod_picture {
	FILE *out;
	const struct nod_findings *f;
	const struct nod_timeline *timeline;
	struct nod_axis axis;
	bool narrow;  /* labels stand above the lanes, not beside them */
	double y;     /* where the next lane begins */
	bool starved; /* memory ran out: something is not in it */
};

/* One row of the picture: how high its label above (narrow only) and its band are. */
double nod_picture_label(struct nod_picture *p, const char *text, const char *css_class,
			 double height);

/* The heading of a part; what follows begins `height` below. */
void nod_picture_heading(struct nod_picture *p, const char *text, double height);

/* "+12 min 5 s": a time from the lock. */
char *nod_picture_time(const struct nod_picture *p, char buf[NOD_TIME_TEXT], nod_time time);

/* Heights are known before anything is drawn: each part says its own. */
double nod_picture_lanes_height(const struct nod_picture *p);
void nod_picture_lanes(struct nod_picture *p);
double nod_picture_listening_height(const struct nod_picture *p);
void nod_picture_listening(struct nod_picture *p);
double nod_picture_events_height(const struct nod_picture *p);
void nod_picture_events(struct nod_picture *p);
double nod_picture_raster_height(struct nod_picture *p);
int nod_picture_raster(struct nod_picture *p);
double nod_picture_current_height(const struct nod_picture *p);
void nod_picture_current(struct nod_picture *p);

#endif
