/* SPDX-License-Identifier: MIT */
/* Shared by the files that write the report. */
#ifndef NOD_REPORT_INTERNAL_H
#define NOD_REPORT_INTERNAL_H

#include "compare.h"
#include "moment-text.h"
#include "report.h"
#include "when.h"

struct nod_page {
	FILE *out;
	const struct nod_report_session *session;
	const struct nod_findings *f;
	int *status; /* set to -ENOMEM when a part could not be made */
};

/* report-style.c: looks and behaviour. */
extern const char nod_report_style[];
extern const char nod_report_script[];

/* report-parts.c: what the sections are made of. */
void nod_page_heading(const struct nod_page *page, const char *text);
void nod_page_table(const struct nod_page *page, const char *const *heads, size_t count);
void nod_page_cell(const struct nod_page *page, const char *head, const char *text);
__attribute__((format(printf, 3, 4))) void nod_page_cellf(const struct nod_page *page,
							  const char *head, const char *format,
							  ...);
void nod_page_table_end(const struct nod_page *page);
__attribute__((format(printf, 2, 3))) void nod_page_paragraph(const struct nod_page *page,
							      const char *format, ...);
void nod_page_list(const struct nod_page *page, const char *title, const char *css_class,
		   const char *const *lines, size_t count);
/* A sentence of the findings, with its times as a person reads them (moment-text.h). */
void nod_page_sentence(const struct nod_page *page, const char *text);
/* "14:03:12 +353.768 s": the clock, and since the lock; "-" for none. */
const char *nod_page_at(const struct nod_page *page, char buf[NOD_MOMENT_TEXT], nod_time time);
/* "1 h 05 min"; "-" for none. */
const char *nod_page_length(char buf[NOD_TIME_TEXT], nod_duration d);
/* "2023-11-14 22:13:20+01:00" in the machine's zone on a clock that counts UNIX time, else
 * "12.500 s". */
const char *nod_page_date(char buf[NOD_WHEN_TEXT], nod_time time);

/* The sections. */
void nod_page_verdict(const struct nod_page *page); /* report-answer.c */
void nod_page_reasons(const struct nod_page *page);
/* report-owner.c; comparison NULL: there is no session before. */
void nod_page_owner(const struct nod_page *page, const struct nod_comparison *comparison);
void nod_page_days(const struct nod_page *page);
int nod_page_timeline(const struct nod_page *page);
void nod_page_comparison(const struct nod_page *page, const struct nod_comparison *c);
void nod_page_journal(const struct nod_page *page); /* report-tables.c */
void nod_page_readings(const struct nod_page *page);
void nod_page_touches(const struct nod_page *page);
void nod_page_differences(const struct nod_page *page);
void nod_page_isolations(const struct nod_page *page);
void nod_page_suspects(const struct nod_page *page);
void nod_page_networks(const struct nod_page *page);
void nod_page_wakes(const struct nod_page *page);
void nod_page_messages(const struct nod_page *page);
void nod_page_measured(const struct nod_page *page); /* report-measured.c */

#endif
