/* SPDX-License-Identifier: MIT */
#include "report.h"

#include <errno.h>
#include <stdlib.h>

#include "markup.h"
#include "moment-text.h"
#include "picture.h"
#include "report-internal.h"

static void page_begin(FILE *out, const char *title)
{
	nod_markup(out,
		   "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
		   "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
		   "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
		   "style-src 'unsafe-inline'; script-src 'unsafe-inline'\">\n"
		   "<title>%s</title>\n<style>\n%Z</style>\n</head>\n<body>\n",
		   title, nod_report_style);
	nod_picture_patterns(out);
}

static void page_end(FILE *out)
{
	nod_markup(
		out,
		"<footer><p>Made by nodoff " NOD_VERSION ". A probability is no proof: what is not "
		"called proved is a suspicion. The vehicle maker's procedure comes before anything "
		"said here.</p></footer>\n<div id=\"tip\" role=\"status\" hidden></div>\n"
		"<script>\n%Z</script>\n</body>\n</html>\n",
		nod_report_script);
}

static void session_head(const struct nod_page *page, bool is_case)
{
	char lock[NOD_WHEN_TEXT], length[NOD_TIME_TEXT];
	const char *vehicle = page->f->vehicle->title;

	nod_markup(page->out,
		   is_case ? "<header><h1 class=\"again\">%s</h1>" : "<header><h1>%s</h1>",
		   page->session->title);
	/* where nothing says that it was locked, it is not called parked */
	bool said = page->f->lock_source != NOD_LOCK_FROM_START;
	nod_markup(page->out, "<p>%s%Z%s watched for %s, %s %s</p></header>\n",
		   vehicle ? vehicle : "", vehicle ? " &#183; " : "",
		   page->f->in_use ? "car in use"
		   : said          ? "parked car"
				   : "car",
		   nod_page_length(length, nod_time_since(page->f->end, page->f->start)),
		   said ? "locked" : "from", nod_page_date(lock, page->f->lock));
}

/* The first page: the sentence, the picture, and the owner's half page. */
static int first_page(const struct nod_page *page, const struct nod_comparison *c)
{
	nod_page_verdict(page);
	int status = nod_page_timeline(page);
	nod_page_owner(page, c);
	return status;
}

/* What the technician wants to know behind it. */
static void pages_behind(const struct nod_page *page, const struct nod_comparison *c)
{
	fputs("<div class=\"behind\">\n", page->out);
	nod_page_reasons(page);
	if (c)
		nod_page_comparison(page, c);
	else
		nod_page_days(page);
	nod_page_journal(page);
	nod_page_readings(page);
	nod_page_isolations(page);
	nod_page_touches(page);
	nod_page_suspects(page);
	nod_page_differences(page);
	nod_page_networks(page);
	nod_page_wakes(page);
	nod_page_messages(page);
	nod_page_measured(page);
	fputs("</div>\n", page->out);
}

static int session(FILE *out, const struct nod_report_session *s, bool is_case,
		   const struct nod_report_session *before)
{
	int status = 0;
	struct nod_page page = {out, s, s->findings, &status};
	struct nod_arena arena = {0};
	struct nod_comparison *c = NULL;

	if (before)
		c = nod_compare(&arena,
				(struct nod_compare_side){before->findings, before->timeline},
				(struct nod_compare_side){page.f, s->timeline});
	if (before && !c) {
		nod_arena_free(&arena);
		return -ENOMEM;
	}
	fputs("<article>\n", out);
	session_head(&page, is_case);
	int failed = first_page(&page, c);
	pages_behind(&page, c);
	fputs("</article>\n", out);
	nod_arena_free(&arena);
	return failed ? failed : status;
}

/* What a case of several sessions shows at a glance. */
static int overview(FILE *out, const struct nod_report_session *sessions, size_t count)
{
	static const char *const heads[] = {"session", "locked", "verdict", "in short"};
	int status = 0;
	struct nod_page page = {out, sessions, sessions->findings, &status};
	char lock[NOD_WHEN_TEXT];

	fputs("<article class=\"overview\"><header><h1>Case</h1></header>\n", out);
	nod_page_table(&page, heads, 4);
	for (size_t i = 0; i < count; i++) {
		const struct nod_findings *f = sessions[i].findings;
		nod_markup(out, "<tr><th scope=\"row\">%s</th>", sessions[i].title);
		nod_page_cell(&page, heads[1], nod_page_date(lock, f->lock));
		nod_page_cell(&page, heads[2], nod_verdict_name(f->verdict));
		char *told = nod_moment_tell_clock(f, f->sentence, NULL);
		nod_page_cell(&page, heads[3], told ? told : "");
		status = told ? status : -ENOMEM;
		free(told);
		fputs("</tr>\n", out);
	}
	nod_page_table_end(&page);
	fputs("</article>\n", out);
	return status;
}

/* The session before the repair, in short: its own verdict and picture. */
static int earlier(FILE *out, const struct nod_report_session *before)
{
	int status = 0;
	struct nod_page page = {out, before, before->findings, &status};

	fputs("<article>\n", out);
	nod_markup(out, "<header><h1 class=\"again\">Before: %s</h1></header>\n", before->title);
	nod_page_verdict(&page);
	int failed = nod_page_timeline(&page);
	nod_page_reasons(&page);
	nod_page_journal(&page);
	nod_page_measured(&page);
	fputs("</article>\n", out);
	return failed ? failed : status;
}

int nod_report_write(FILE *out, const struct nod_report_session *sessions, size_t count,
		     const struct nod_report_session *before)
{
	int status = 0;

	page_begin(out, sessions[0].title);
	if (count > 1)
		status = overview(out, sessions, count);
	for (size_t i = 0; i < count && !status; i++)
		status = session(out, &sessions[i], i > 0 || count > 1, i ? NULL : before);
	if (before && !status)
		status = earlier(out, before);
	page_end(out);
	return status ? status : ferror(out) ? -EIO : 0;
}
