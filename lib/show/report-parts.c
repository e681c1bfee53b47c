/* What the sections of the report are made of. */
#include <stdarg.h>
#include <string.h>
#include <time.h>

#include "markup.h"
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

void nod_page_list(const struct nod_page *page, const char *title, const char *css_class,
		   const char **lines, size_t count)
{
	if (!count)
		return;
	nod_markup(page->out, "<section class=\"%s\"><h2>%s</h2>\n<ul>\n", css_class, title);
	for (size_t i = 0; i < count; i++)
		nod_markup(page->out, "<li>%s</li>\n", lines[i]);
	fputs("</ul></section>\n", page->out);
}

const char *nod_page_at(const struct nod_page *page, char buf[NOD_TIME_TEXT], nod_time time)
{
	if (!nod_time_is_set(time))
		return "-";
	nod_duration_print_seconds(buf, nod_time_since(time, page->f->lock), 3);
	strcat(buf, "\xC2\xA0s"); /* not parted from its number */
	return buf;
}

const char *nod_page_length(char buf[NOD_TIME_TEXT], nod_duration d)
{
	return d.ns == INT64_MIN ? "-" : nod_duration_print(buf, d);
}

/* Clocks that count from UNIX time stand above this; others count from
 * when they were started. Chosen: the year 2001. */
#define UNIX_TIME_FROM_S 1000000000
#define UNIX_TIME_TO_S INT64_C(253402300800) /* the year 10000 */

const char *nod_page_date(char buf[NOD_TIME_TEXT], nod_time time)
{
	struct tm tm;
	time_t seconds = (time_t)(time.ns / NOD_NS_PER_S);

	if (!nod_time_is_set(time))
		return "-";
	if (seconds < UNIX_TIME_FROM_S || seconds >= UNIX_TIME_TO_S || !gmtime_r(&seconds, &tm)) {
		nod_time_print(buf, time, 3);
		strcat(buf, " s");
	} else {
		strftime(buf, NOD_TIME_TEXT, "%Y-%m-%d %H:%M:%S UTC", &tm);
	}
	return buf;
}
