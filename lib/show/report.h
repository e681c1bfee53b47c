/* SPDX-License-Identifier: MIT */
/* The report: what one or several sessions of a car showed, as one HTML page
 * that needs nothing else: for the customer's phone, the colleague's screen
 * and the printer. The same input gives the same bytes. */
#ifndef NOD_REPORT_H
#define NOD_REPORT_H

#include <stdio.h>

#include "compare.h"
#include "findings.h"
#include "timeline.h"

/* One file that was read. */
struct nod_report_file {
	const char *name;   /* without its directory */
	const char *form;   /* "candump log, zstd" */
	const char *sha256; /* 64 hex digits; "": not known */
	const char *fault;  /* why it was not read to its end; NULL: nothing */
	uint64_t entries, defects, lost, back_steps;
};

struct nod_report_session {
	const char *title; /* never NULL */
	const char *tool;  /* what recorded it; "": not known */
	const char *clock; /* which clock its times are on; "": not known */
	const struct nod_findings *findings;
	const struct nod_timeline *timeline;
	const struct nod_report_file *files;
	size_t file_count;
	const char *vehicle_sha256; /* of the vehicle file; "": not known or none */
};

/* Writes the page. Several sessions are a case: an overview, then one after
 * the other. before: the session before the repair, compared with the first one;
 * NULL: none. Returns 0, -ENOMEM, or -EIO when out failed. */
int nod_report_write(FILE *out, const struct nod_report_session *sessions, size_t count,
		     const struct nod_report_session *before);

#endif
