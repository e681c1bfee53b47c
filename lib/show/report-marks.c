/* SPDX-License-Identifier: MIT */
/* What was read, touched, and what is otherwise than in a good recording. */
#include "markup.h"
#include "report-internal.h"
#include "signals.h"

/* Rows shown of what can be long; the rest is counted. Chosen: half a page. */
#define ROWS_MAX 30

static void more(const struct nod_page *page, size_t count)
{
	if (count > ROWS_MAX)
		nod_page_paragraph(page, "And %zu more.", count - ROWS_MAX);
}

void nod_page_readings(const struct nod_page *page)
{
	const struct nod_findings *f = page->f;
	char at[NOD_MOMENT_TEXT];

	if (!f->fuse_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "Readings across fuses");
	fputs("<ul>\n", page->out);
	for (size_t i = 0; i < f->fuse_count && i < ROWS_MAX; i++)
		nod_markup(page->out, "<li>at %s: %s</li>\n",
			   nod_page_at(page, at, f->fuses[i].time), f->fuses[i].text);
	fputs("</ul>\n", page->out);
	more(page, f->fuse_count);
	fputs("</section>\n", page->out);
}

static void touch(const struct nod_page *page, const struct nod_touch_finding *t)
{
	const struct nod_ident_finding *i = &page->f->idents[t->ident];
	char at[NOD_MOMENT_TEXT], move[NOD_SIGNAL_TEXT], after[NOD_TIME_TEXT];

	nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", t->subject);
	nod_page_cell(page, "at", nod_page_at(page, at, t->time));
	nod_page_cellf(page, "what moved", "%s, %s",
		       nod_signals_print_move(move, page->f, i, t->bit, t->from, t->to),
		       page->f->senders[i->sender].name);
	nod_page_cell(page, "after the mark", nod_page_length(after, t->after));
	nod_page_cellf(page, "changes in all", "%u", t->toggles);
	fputs("</tr>\n", page->out);
}

void nod_page_touches(const struct nod_page *page)
{
	static const char *const heads[] = {"touched", "at", "what moved", "after the mark",
					    "changes in all"};

	if (!page->f->touch_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "What moved when it was touched");
	nod_page_table(page, heads, 5);
	for (size_t i = 0; i < page->f->touch_count && i < ROWS_MAX; i++)
		touch(page, &page->f->touches[i]);
	nod_page_table_end(page);
	more(page, page->f->touch_count);
	fputs("</section>\n", page->out);
}

static void bits(const struct nod_page *page, const struct nod_ident_finding *ident, uint64_t mask)
{
	char text[8 * NOD_SIGNAL_TEXT];

	nod_page_cell(page, "bits",
		      nod_signals_print_mask(text, sizeof(text), page->f, ident, mask));
}

static void difference(const struct nod_page *page, const struct nod_difference_finding *d)
{
	const struct nod_ident_finding *i = &page->f->idents[d->ident];
	char id[NOD_ID_TEXT], good[NOD_TIME_TEXT], here[NOD_TIME_TEXT];

	nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", nod_id_print(id, i->id));
	nod_page_cell(page, "sender", page->f->senders[i->sender].name);
	if (d->appeared)
		nod_page_cell(page, "what", "not in the good recording");
	else if (d->period)
		nod_page_cellf(page, "what", "period %s there, %s here",
			       nod_page_length(good, d->period_good),
			       nod_page_length(here, d->period_here));
	else
		nod_page_cell(page, "what", d->bits ? "bits stand otherwise" : "");
	bits(page, i, d->bits);
	fputs("</tr>\n", page->out);
}

void nod_page_differences(const struct nod_page *page)
{
	static const char *const heads[] = {"ID", "sender", "what", "bits"};

	if (!page->f->difference_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "Otherwise than in the good recording");
	nod_page_table(page, heads, 4);
	for (size_t i = 0; i < page->f->difference_count && i < ROWS_MAX; i++)
		difference(page, &page->f->differences[i]);
	nod_page_table_end(page);
	more(page, page->f->difference_count);
	fputs("</section>\n", page->out);
}
