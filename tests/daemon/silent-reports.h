/* SPDX-License-Identifier: MIT */
/* For taps whose reports are not what a test is about. */
#ifndef SILENT_REPORTS_H
#define SILENT_REPORTS_H

#include "tap.h"

static inline void no_change(void *context, struct nod_tap *tap, const char *text)
{
	(void)context, (void)tap, (void)text;
}

static inline void never_deaf(void *context, struct nod_tap *tap, nod_time from)
{
	(void)context, (void)tap, (void)from;
}

static inline void no_gap(void *context, struct nod_tap *tap, nod_time from, nod_time to)
{
	(void)context, (void)tap, (void)from, (void)to;
}

static inline struct nod_tap_reports silent_reports(void)
{
	return (struct nod_tap_reports){no_change, never_deaf, no_gap, NULL};
}

#endif
