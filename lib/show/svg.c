/* SPDX-License-Identifier: MIT */
#include "svg.h"

#include <math.h>
#include <stdlib.h>

#include "markup.h"

/* Far outside every picture: keeps numbers short whatever comes in. */
#define LARGEST 1e6

/* "12.3", "12": by hand, because printf would use the locale's decimal mark. */
static void number(FILE *out, double value)
{
	if (!isfinite(value))
		value = 0;
	long tenths = lround(fmax(-LARGEST, fmin(LARGEST, value)) * 10);
	if (tenths < 0)
		fputc('-', out);
	tenths = labs(tenths);
	fprintf(out, "%ld", tenths / 10);
	if (tenths % 10)
		fprintf(out, ".%ld", tenths % 10);
}

static void attribute(FILE *out, const char *name, double value)
{
	fprintf(out, " %s=\"", name);
	number(out, value);
	fputc('"', out);
}

static void tip_and_end(FILE *out, const char *element, const char *tip)
{
	if (tip)
		nod_markup(out, "><title>%s</title></%Z>\n", tip, element);
	else
		fputs("/>\n", out);
}

void nod_svg_begin(FILE *out, double width, double height, const char *css_class, const char *label)
{
	fputs("<svg viewBox=\"0 0 ", out);
	number(out, width);
	fputc(' ', out);
	number(out, height);
	nod_markup(out, "\" class=\"%s\" role=\"img\" aria-label=\"%s\">\n", css_class, label);
}

void nod_svg_end(FILE *out)
{
	fputs("</svg>\n", out);
}

void nod_svg_rect(FILE *out, double x, double y, double width, double height, const char *css_class,
		  const char *tip)
{
	nod_markup(out, "<rect class=\"%s\"", css_class);
	attribute(out, "x", x);
	attribute(out, "y", y);
	attribute(out, "width", fmax(width, NOD_SVG_LEAST));
	attribute(out, "height", fmax(height, NOD_SVG_LEAST));
	tip_and_end(out, "rect", tip);
}

void nod_svg_line(FILE *out, double x1, double y1, double x2, double y2, const char *css_class)
{
	nod_markup(out, "<line class=\"%s\"", css_class);
	attribute(out, "x1", x1);
	attribute(out, "y1", y1);
	attribute(out, "x2", x2);
	attribute(out, "y2", y2);
	fputs("/>\n", out);
}

void nod_svg_text(FILE *out, double x, double y, const char *anchor, const char *css_class,
		  const char *text)
{
	nod_markup(out, "<text class=\"%s\" text-anchor=\"%s\"", css_class, anchor);
	attribute(out, "x", x);
	attribute(out, "y", y);
	nod_markup(out, ">%s</text>\n", text);
}

void nod_svg_path_begin(FILE *out, const char *css_class)
{
	nod_markup(out, "<path class=\"%s\" d=\"", css_class);
}

void nod_svg_point(FILE *out, char command, double x, double y)
{
	fputc(command, out);
	if (command != 'V')
		number(out, x);
	if (command != 'V' && command != 'H')
		fputc(' ', out);
	if (command != 'H')
		number(out, y);
}

void nod_svg_path_end(FILE *out, const char *tip)
{
	fputc('"', out);
	tip_and_end(out, "path", tip);
}
