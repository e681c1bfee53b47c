/* SPDX-License-Identifier: MIT */
/* What the sections of the report are made of. */
#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "markup.h"
#include "moment-text.h"
#include "report-internal.h"

void nod_page_heading(const struct nod_page *page, const char *text)
{
	nod_markup(page->out, "<h2>%s</h2>\n", text);
}

void nod_page_table(const struct nod_page *page, const char *const *heads, size_t count)
{
	fputs("<table>\n<thead><tr>", page->out);
	for (size_t i = 0; i < count; i++)
		nod_markup(page->out, "<th scope=\"col\">%s</th>", heads[i]);
	fputs("</tr></thead>\n<tbody>\n", page->out);
}

/* On a phone each cell stands on a line of its own, behind its head. */
void nod_page_cell(const struct nod_page *page, const char *head, const char *text)
{
	nod_markup(page->out, "<td data-head=\"%s\">%s</td>", head, text);
}

void nod_page_cellf(const struct nod_page *page, const char *head, const char *format, ...)
{
	char text[512];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	nod_page_cell(page, head, text);
}

void nod_page_table_end(const struct nod_page *page)
{
	fputs("</tbody></table>\n", page->out);
}

void nod_page_paragraph(const struct nod_page *page, const char *format, ...)
{
	char text[1024];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	nod_markup(page->out, "<p>%s</p>\n", text);
}

void nod_page_sentence(const struct nod_page *page, const char *text)
{
	char *told = nod_moment_tell(page->f, text, NULL);

	if (told)
		nod_markup(page->out, "%s", told);
	else
		*page->status = -ENOMEM;
	free(told);
}

void nod_page_list(const struct nod_page *page, const char *title, const char *css_class,
		   const char *const *lines, size_t count)
{
	if (!count)
		return;
	nod_markup(page->out, "<section class=\"%s\"><h2>%s</h2>\n<ul>\n", css_class, title);
	for (size_t i = 0; i < count; i++) {
		fputs("<li>", page->out);
		nod_page_sentence(page, lines[i]);
		fputs("</li>\n", page->out);
	}
	fputs("</ul></section>\n", page->out);
}

const char *nod_page_at(const struct nod_page *page, char buf[NOD_MOMENT_TEXT], nod_time time)
{
	if (!nod_time_is_set(time))
		return "-";
	nod_moment_print_cell(buf, page->f, time, NULL);
	return strcat(buf, "\xC2\xA0s"); /* not parted from its number */
}

const char *nod_page_length(char buf[NOD_TIME_TEXT], nod_duration d)
{
	return d.ns == INT64_MIN ? "-" : nod_duration_print(buf, d);
}

const char *nod_page_date(char buf[NOD_WHEN_TEXT], nod_time time)
{
	return nod_time_is_set(time) ? nod_when_print(buf, time, NULL) : "-";
}
