/* SPDX-License-Identifier: MIT */
/* How it was measured: what makes the report checkable. */
#include <inttypes.h>

#include "current-trace.h"
#include "markup.h"
#include "report-internal.h"

static void item(const struct nod_page *page, const char *name, const char *text)
{
	nod_markup(page->out, "<dt>%s</dt><dd>%s</dd>\n", name, text);
}

static void files(const struct nod_page *page)
{
	static const char *const heads[] = {"file", "form", "entries", "not readable", "SHA-256"};
	const struct nod_report_session *s = page->session;

	if (!s->file_count)
		return;
	nod_page_table(page, heads, 5);
	for (size_t i = 0; i < s->file_count; i++) {
		const struct nod_report_file *f = &s->files[i];
		nod_markup(page->out, "<tr><th scope=\"row\">%s</th>", f->name);
		nod_page_cell(page, heads[1], f->form);
		nod_page_cellf(page, heads[2], "%" PRIu64, f->entries);
		nod_page_cellf(page, heads[3], "%" PRIu64 "%s%s", f->defects, f->fault ? "; " : "",
			       f->fault ? f->fault : "");
		nod_markup(page->out, "<td data-head=\"SHA-256\" class=\"hash\">%s</td></tr>\n",
			   *f->sha256 ? f->sha256 : "not known");
	}
	nod_page_table_end(page);
}

static void times(const struct nod_page *page)
{
	const struct nod_findings *f = page->f;
	char text[300], a[NOD_MOMENT_TEXT], b[NOD_WHEN_TEXT], c[NOD_TIME_TEXT];

	snprintf(text, sizeof(text), "%s to %s (%s)", nod_page_date(a, f->start),
		 nod_page_date(b, f->end), nod_page_length(c, nod_time_since(f->end, f->start)));
	item(page, "Recorded", nod_time_is_set(f->start) ? text : "nothing");
	snprintf(text, sizeof(text), "%s, from %s", nod_page_date(a, f->lock),
		 nod_lock_source_name(f->lock_source));
	item(page, "Lock", text);
	snprintf(text, sizeof(text), "from %s (%s)", nod_page_at(page, a, f->clock_from),
		 f->clock_cause);
	item(page, "Settle clock", text);
	item(page, "Clock",
	     *page->session->clock ? page->session->clock
				   : "that of the capture; which one is not noted");
}

static void losses(const struct nod_page *page)
{
	const struct nod_findings *f = page->f;
	char text[200];

	snprintf(text, sizeof(text), "%" PRIu64 " frames, %" PRIu64 " error reports", f->frames,
		 f->errors);
	item(page, "Heard", text);
	snprintf(text, sizeof(text),
		 "%" PRIu64 " frames lost, %" PRIu64 " gaps, %" PRIu64 " clock steps", f->lost,
		 f->gaps, f->clock_steps);
	item(page, "Missed", text);
	if (f->current) {
		snprintf(text, sizeof(text), "%" PRIu64 " samples, clamp zeroed %zu times",
			 f->current->samples, f->current->zeroings);
		item(page, "Current", text);
	}
}

void nod_page_measured(const struct nod_page *page)
{
	fputs("<section>", page->out);
	nod_page_heading(page, "How it was measured");
	fputs("<dl>\n", page->out);
	item(page, "Judged by", "nodoff " NOD_VERSION ", listening only");
	if (*page->session->tool)
		item(page, "Recorded by", page->session->tool);
	times(page);
	losses(page);
	item(page, "Vehicle file",
	     !page->f->vehicle_given   ? "none was given: IDs are not joined to modules"
	     : page->f->vehicle->title ? page->f->vehicle->title
				       : "without a title");
	if (*page->session->vehicle_sha256)
		item(page, "its SHA-256", page->session->vehicle_sha256);
	fputs("</dl>\n", page->out);
	files(page);
	fputs("</section>\n", page->out);
}
