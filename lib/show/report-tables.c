/* SPDX-License-Identifier: MIT */
/* The tables of the report. */
#include <inttypes.h>
#include <math.h>

#include "answer-short.h"
#include "journal.h"
#include "markup.h"
#include "report-internal.h"

/* Rows shown of what can be very long; the rest is counted. Chosen: a page or two. */
#define ROWS_MAX 100

static void more(const struct nod_page *page, size_t shown, size_t count)
{
	if (shown < count)
		nod_page_paragraph(page, "And %zu more.", count - shown);
}

static size_t shown_of(size_t count)
{
	return count < ROWS_MAX ? count : ROWS_MAX;
}

void nod_page_journal(const struct nod_page *page)
{
	static const char *const heads[] = {"", "at", "what"};
	const struct nod_findings *f = page->f;
	char at[NOD_MOMENT_TEXT];

	fputs("<section>", page->out);
	nod_page_heading(page, "What was done and read");
	if (!f->mark_count)
		nod_page_paragraph(page, "Nothing was entered in the journal.");
	else
		nod_page_table(page, heads, 3);
	for (size_t i = 0; i < shown_of(f->mark_count); i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		enum nod_mark_kind kind = (enum nod_mark_kind)m->kind;
		nod_markup(page->out, "<tr%Z>",
			   kind == NOD_MARK_READING ? " class=\"reading\"" : "");
		nod_markup(page->out, "<th scope=\"row\">");
		fprintf(page->out, "%zu</th>", i + 1);
		nod_page_cell(page, heads[1], nod_page_at(page, at, m->time));
		nod_markup(page->out, "<td data-head=\"%s\">%s%Z%s%Z</td>", heads[2],
			   nod_mark_kind_name(kind), *m->subject ? " " : "", m->subject,
			   m->inferred ? " (seen in the traffic, not entered)" : "");
		fputs("</tr>\n", page->out);
	}
	if (f->mark_count)
		nod_page_table_end(page);
	more(page, shown_of(f->mark_count), f->mark_count);
	fputs("</section>\n", page->out);
}

void nod_page_isolations(const struct nod_page *page)
{
	char at[NOD_MOMENT_TEXT];

	if (!page->f->isolation_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "What was isolated, and what it showed");
	fputs("<ul>\n", page->out);
	for (size_t i = 0; i < shown_of(page->f->isolation_count); i++) {
		const struct nod_isolation_finding *t = &page->f->isolations[i];
		fputs("<li>", page->out);
		nod_page_sentence(page, t->text);
		if (nod_time_is_set(t->refitted))
			nod_markup(page->out, " Refitted at %s.",
				   nod_moment_print(at, page->f, t->refitted, NULL));
		else
			fputs(" Not refitted.", page->out);
		fputs("</li>\n", page->out);
	}
	fputs("</ul>\n", page->out);
	more(page, shown_of(page->f->isolation_count), page->f->isolation_count);
	fputs("</section>\n", page->out);
}

/* ---- suspects ---- */

static void evidence(const struct nod_page *page, const struct nod_suspect *s)
{
	fputs("<td data-head=\"evidence\">", page->out);
	if (s->evidence_count)
		fputs("<ul class=\"evidence\">", page->out);
	for (size_t i = 0; i < s->evidence_count; i++) {
		nod_markup(page->out, "<li><b>%s</b> ",
			   s->evidence[i].weight >= 0 ? "for:" : "against:");
		nod_page_sentence(page, s->evidence[i].text);
		fputs("</li>", page->out);
	}
	fputs(s->evidence_count ? "</ul></td>" : "</td>", page->out);
}

static void suspect(const struct nod_page *page, const struct nod_suspect *s)
{
	double percent = fmin(99, round(100 * s->probability));

	nod_markup(page->out, "<tr><th scope=\"row\">%s%Z</th>", s->name,
		   s->proved ? " <span class=\"tag\">proved</span>" : "");
	nod_page_cellf(page, "probability", "%.0f %%", percent);
	nod_page_cell(page, "role", s->kind == NOD_SUSPECT_SENDER ? nod_answer_role(s->role) : "-");
	fputs("<td data-head=\"fuses\">", page->out);
	for (size_t i = 0; i < s->fuse_count; i++)
		nod_markup(page->out, "%Z%s", i ? ", " : "",
			   page->f->vehicle->fuses[s->fuses[i]].name);
	fputs(s->fuse_count ? "</td>" : "-</td>", page->out);
	evidence(page, s);
	fputs("</tr>\n", page->out);
}

/* Suspects below this are counted only, but for the first ones. Chosen: nobody
 * goes looking for what is that improbable. */
#define SUSPECT_LEAST 0.05
#define SUSPECTS_ANYWAY 3

static size_t suspects_shown(const struct nod_findings *f)
{
	size_t shown = 0;

	while (shown < f->suspect_count &&
	       (shown < SUSPECTS_ANYWAY || f->suspects[shown].probability >= SUSPECT_LEAST ||
		f->suspects[shown].proved))
		shown++;
	return shown;
}

void nod_page_suspects(const struct nod_page *page)
{
	static const char *const heads[] = {"suspect", "probability", "role", "fuses", "evidence"};
	size_t shown = suspects_shown(page->f);

	if (!page->f->suspect_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "Suspects");
	nod_page_table(page, heads, 5);
	for (size_t i = 0; i < shown; i++)
		suspect(page, &page->f->suspects[i]);
	nod_page_table_end(page);
	if (shown < page->f->suspect_count)
		nod_page_paragraph(page, "And %zu more, each below %.0f %%.",
				   page->f->suspect_count - shown, 100 * SUSPECT_LEAST);
	fputs("</section>\n", page->out);
}

/* ---- networks ---- */

static void network(const struct nod_page *page, const struct nod_network_finding *n)
{
	char at[NOD_MOMENT_TEXT], late[NOD_TIME_TEXT];

	nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", n->name);
	nod_page_cell(page, "verdict", nod_verdict_name(n->verdict));
	nod_page_cell(page, "first asleep", nod_page_at(page, at, n->first_slept_at));
	nod_page_cellf(page, "settle deadline", "%s%s", nod_page_at(page, at, n->judged_by),
		       n->deadline_default ? " (nodoff's default)" : "");
	nod_page_cell(page, "awake past it",
		      n->awake_late.ns > 0 ? nod_page_length(late, n->awake_late) : "-");
	nod_page_cellf(page, "wake-ups", "%u", n->wakes + n->wakes_explained);
	nod_page_cellf(page, "of them explained", "%u", n->wakes_explained);
	nod_page_cellf(page, "frames", "%" PRIu64 "%s", n->frames, n->lost ? ", some lost" : "");
	if (n->load < 0)
		nod_page_cell(page, "load", "-");
	else
		nod_page_cellf(page, "load", "%.0f %%", 100 * n->load);
	nod_page_cell(page, "management", n->management);
	nod_markup(page->out, "</tr>\n<tr class=\"why\"><td colspan=\"10\">");
	nod_page_sentence(page, n->reason);
	fputs("</td></tr>\n", page->out);
}

void nod_page_networks(const struct nod_page *page)
{
	static const char *const heads[] = {"network",           "verdict",       "first asleep",
					    "settle deadline",   "awake past it", "wake-ups",
					    "of them explained", "frames",        "load",
					    "management"};

	fputs("<section>", page->out);
	nod_page_heading(page, "Networks");
	nod_page_table(page, heads, 10);
	for (size_t i = 0; i < page->f->network_count; i++)
		network(page, &page->f->networks[i]);
	nod_page_table_end(page);
	fputs("</section>\n", page->out);
}

void nod_page_wakes(const struct nod_page *page)
{
	static const char *const heads[] = {"at", "network",   "first to speak",
					    "ID", "awake for", "explained by"};
	const struct nod_findings *f = page->f;
	char at[NOD_MOMENT_TEXT], length[NOD_TIME_TEXT], id[NOD_ID_TEXT];

	if (!f->wake_count)
		return;
	fputs("<section>", page->out);
	nod_page_heading(page, "Wake-ups");
	nod_page_table(page, heads, 6);
	for (size_t i = 0; i < shown_of(f->wake_count); i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		fputs("<tr>", page->out);
		nod_page_cell(page, heads[0], nod_page_at(page, at, w->time));
		nod_page_cell(page, heads[1], f->networks[w->network].name);
		nod_page_cell(page, heads[2], f->senders[w->sender].name);
		nod_page_cell(page, heads[3], nod_id_print(id, f->idents[w->ident].id));
		nod_page_cell(page, heads[4], nod_page_length(length, w->awake_for));
		nod_page_cell(page, heads[5], *w->cause ? w->cause : "nothing noted");
		fputs("</tr>\n", page->out);
	}
	nod_page_table_end(page);
	more(page, shown_of(f->wake_count), f->wake_count);
	fputs("</section>\n", page->out);
}

/* ---- messages ---- */

static const char *rhythm(char buf[NOD_TIME_TEXT], const struct nod_period *p)
{
	if (p->rhythm == NOD_RHYTHM_ON_EVENT)
		return "on event";
	return p->rhythm == NOD_RHYTHM_UNKNOWN ? "-" : nod_page_length(buf, p->period);
}

static void message(const struct nod_page *page, const struct nod_ident_finding *i)
{
	char id[NOD_ID_TEXT], text[NOD_TIME_TEXT], at[NOD_MOMENT_TEXT];

	nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", nod_id_print(id, i->id));
	nod_page_cell(page, "network", page->f->networks[i->network].name);
	nod_page_cell(page, "sender", page->f->senders[i->sender].name);
	nod_page_cellf(page, "frames", "%" PRIu64, i->frames);
	nod_page_cellf(page, "past the deadline", "%" PRIu64, i->frames_late);
	nod_page_cell(page, "period", rhythm(text, &i->before));
	nod_page_cell(page, "period late", rhythm(text, &i->after));
	nod_page_cell(page, "last", nod_page_at(page, at, i->last));
	fputs("</tr>\n", page->out);
}

void nod_page_messages(const struct nod_page *page)
{
	static const char *const heads[] = {
		"ID",     "network",     "sender", "frames", "past the deadline",
		"period", "period late", "last"};
	size_t shown = page->f->ident_count < 400 ? page->f->ident_count : 400;

	if (!page->f->ident_count)
		return;
	nod_markup(page->out, "<details><summary>All messages</summary>\n");
	nod_page_table(page, heads, 8);
	for (size_t i = 0; i < shown; i++)
		message(page, &page->f->idents[i]);
	nod_page_table_end(page);
	more(page, shown, page->f->ident_count);
	fputs("</details>\n", page->out);
}
