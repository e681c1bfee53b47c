/* SPDX-License-Identifier: MIT */
/* The upper part of the report: verdict, why, what next, days, timeline. */
#include <errno.h>
#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "known.h"
#include "markup.h"
#include "picture.h"
#include "quantity.h"
#include "report-internal.h"

/* A class and a sign for each verdict: the sign is there without colour. */
static const char *class_of(enum nod_verdict verdict)
{
	return verdict == NOD_VERDICT_SLEEPS                                       ? "good"
	       : verdict == NOD_VERDICT_CANNOT_TELL || verdict == NOD_VERDICT_LATE ? "open"
										   : "fault";
}

static const char *sign_of(enum nod_verdict verdict)
{
	return verdict == NOD_VERDICT_SLEEPS                                       ? "\xE2\x9C\x93"
	       : verdict == NOD_VERDICT_CANNOT_TELL || verdict == NOD_VERDICT_LATE ? "?"
										   : "!";
}

void nod_page_verdict(const struct nod_page *page)
{
	const struct nod_findings *f = page->f;

	nod_markup(page->out,
		   "<section class=\"verdict %s\"><div class=\"sign\" aria-hidden=\"true\">%s</div>"
		   "<div><p class=\"word\">%s</p>\n<p class=\"sentence\">",
		   class_of(f->verdict), sign_of(f->verdict), nod_verdict_name(f->verdict));
	nod_page_sentence(page, f->sentence);
	fputs("</p></div></section>\n", page->out);
}

void nod_page_reasons(const struct nod_page *page)
{
	const struct nod_findings *f = page->f;

	nod_page_list(page, "What carries this", "facts", f->facts, f->fact_count);
	if (*f->next) {
		fputs("<section class=\"next\">", page->out);
		nod_page_heading(page, "Next step");
		fputs("<p>", page->out);
		nod_page_sentence(page, f->next);
		fputs("</p></section>\n", page->out);
	}
	nod_page_list(page, "Take care", "care", f->cautions, f->caution_count);
	nod_page_list(page, "What limits this answer", "doubts", f->doubts, f->doubt_count);
	if (f->known)
		nod_page_list(page, "What other recordings know", "known", f->known->lines,
			      f->known->line_count);
}

/* ---- days ---- */

static void days_row(const struct nod_page *page, const char *label, const struct nod_outlook *o)
{
	char ma[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT], worst[32], rule[32], best[32];

	nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", label);
	if (o->drain_known)
		nod_page_cellf(page, "drain", "%s \xC2\xB1 %s, %s",
			       nod_quantity_print(ma, llround(o->drain_ua), NOD_UNIT_AMPERE),
			       nod_quantity_print(off, llround(o->uncertainty_ua), NOD_UNIT_AMPERE),
			       o->basis);
	else
		nod_page_cell(page, "drain", "not known");
	if (*o->missing)
		nod_page_cellf(page, "until it does not start", "not known: %s", o->missing);
	else
		nod_page_cellf(page, "until it does not start",
			       "about %s (%s in the worst case, %s in the best)",
			       nod_outlook_time(rule, o->battery.seconds.rule),
			       nod_outlook_time(worst, o->battery.seconds.worst),
			       nod_outlook_time(best, o->battery.seconds.best));
	fputs("</tr>\n", page->out);
}

static void days_table(const struct nod_page *page, const struct nod_outlook *before,
		       const struct nod_outlook *now)
{
	static const char *const heads[] = {"", "drain", "until it does not start"};

	nod_page_table(page, heads, 3);
	if (before)
		days_row(page, "before", before);
	days_row(page, before ? "after" : "as recorded", now);
	nod_page_table_end(page);
	fputs("<p class=\"small\">Reckoned from a full battery; the rule of thumb is that a start "
	      "is not to be expected below 60 % of its charge.</p>\n",
	      page->out);
}

void nod_page_days(const struct nod_page *page)
{
	struct nod_outlook o;

	nod_outlook_find(&o, page->f, page->session->timeline);
	fputs("<section>", page->out);
	nod_page_heading(page, "Days until it does not start");
	if (page->f->has_current)
		days_table(page, NULL, &o);
	else
		nod_page_paragraph(page, "Not known: %s.", o.missing);
	fputs("</section>\n", page->out);
}

/* ---- timeline ---- */

int nod_page_timeline(const struct nod_page *page)
{
	char bin[NOD_TIME_TEXT];
	int status, narrow;

	fputs("<section class=\"plot\">", page->out);
	nod_page_heading(page, "Timeline");
	status = nod_picture_write(page->out, page->f, page->session->timeline, NOD_PICTURE_WIDE);
	narrow = nod_picture_write(page->out, page->f, page->session->timeline, NOD_PICTURE_NARROW);
	nod_picture_key(page->out, page->f);
	nod_page_paragraph(
		page,
		"Time counts from %s. One column stands for %s at least; single frames and "
		"the highest and lowest current in it are shown.",
		page->f->lock_source == NOD_LOCK_FROM_START ? "the start of the recording" : "lock",
		nod_page_length(bin, nod_timeline_bin(page->session->timeline)));
	fputs("<p class=\"hint\">Point at or tap a shape for its values.</p></section>\n",
	      page->out);
	return status ? status : narrow;
}

/* ---- comparison ---- */

static void comparison_networks(const struct nod_page *page, const struct nod_comparison *c)
{
	static const char *const heads[] = {"network", "before", "after",
					    "change",  "slept",  "needed for proof"};
	char slept[NOD_TIME_TEXT], needed[NOD_TIME_TEXT];

	nod_page_table(page, heads, 6);
	for (size_t i = 0; i < c->network_count; i++) {
		const struct nod_network_change *n = &c->networks[i];
		nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", n->name);
		nod_page_cell(page, heads[1],
			      n->before ? nod_verdict_name(n->before->verdict) : "-");
		nod_page_cell(page, heads[2], n->after ? nod_verdict_name(n->after->verdict) : "-");
		nod_page_cell(page, heads[3], nod_change_name(n->change));
		nod_page_cell(page, heads[4], nod_page_length(slept, n->slept));
		nod_page_cell(page, heads[5], nod_page_length(needed, n->needed));
		fputs("</tr>\n", page->out);
	}
	nod_page_table_end(page);
}

/* Rows of the table of messages; `nodoff compare` prints them all. */
#define IDENTS_MAX 60

static void comparison_idents(const struct nod_page *page, const struct nod_comparison *c)
{
	static const char *const heads[] = {"ID",     "network",       "sender",
					    "change", "period before", "period after"};
	char id[NOD_ID_TEXT], before[NOD_TIME_TEXT], after[NOD_TIME_TEXT];

	if (!c->ident_count)
		return;
	nod_page_table(page, heads, 6);
	for (size_t k = 0; k < c->ident_count && k < IDENTS_MAX; k++) {
		const struct nod_ident_change *i = &c->idents[k];
		nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", nod_id_print(id, i->id));
		nod_page_cell(page, heads[1], i->network);
		nod_page_cell(page, heads[2], i->sender);
		nod_page_cellf(page, heads[3], "%s%s%s", nod_ident_change_name(i->kind),
			       *i->bits ? ": " : "", i->bits);
		nod_page_cell(page, heads[4], nod_page_length(before, i->period_before));
		nod_page_cell(page, heads[5], nod_page_length(after, i->period_after));
		fputs("</tr>\n", page->out);
	}
	nod_page_table_end(page);
	if (c->ident_count > IDENTS_MAX)
		nod_page_paragraph(page, "And %zu more.", c->ident_count - IDENTS_MAX);
}

void nod_page_comparison(const struct nod_page *page, const struct nod_comparison *c)
{
	fputs("<section>", page->out);
	nod_page_heading(page, "Before and after");
	nod_markup(page->out, "<p class=\"sentence\">%s</p>\n<ul>\n", c->sentence);
	for (size_t i = 0; i < c->reason_count; i++)
		nod_markup(page->out, "<li>%s</li>\n", c->reasons[i]);
	fputs("</ul>\n", page->out);
	comparison_networks(page, c);
	if (c->outlook_known && (c->before->has_current || c->after->has_current))
		days_table(page, &c->outlook_before, &c->outlook_after);
	comparison_idents(page, c);
	fputs("</section>\n", page->out);
}
