/* SPDX-License-Identifier: MIT */
/* A small writer of SVG inside HTML. Lengths are in the units of the picture's
 * view box; numbers are written with one decimal, never in a locale's form. */
#ifndef NOD_SVG_H
#define NOD_SVG_H

#include <stdio.h>

/* Begins a picture of this size that scales with the page; `label` says what it
 * is to those who cannot see it. End it with nod_svg_end(). */
void nod_svg_begin(FILE *out, double width, double height, const char *css_class,
		   const char *label);
void nod_svg_end(FILE *out);

/* A rectangle. css_class: how it looks. tip: text shown on hover and tap; NULL: none.
 * Narrower or lower than the least visible, it is drawn at NOD_SVG_LEAST. */
#define NOD_SVG_LEAST 1.0
void nod_svg_rect(FILE *out, double x, double y, double width, double height, const char *css_class,
		  const char *tip);

void nod_svg_line(FILE *out, double x1, double y1, double x2, double y2, const char *css_class);

/* anchor: "start", "middle" or "end". */
void nod_svg_text(FILE *out, double x, double y, const char *anchor, const char *css_class,
		  const char *text);

/* A path from what the caller writes between the two with nod_svg_point():
 * 'M' and 'L' take x and y, 'H' x alone, 'V' y alone. */
void nod_svg_path_begin(FILE *out, const char *css_class);
void nod_svg_point(FILE *out, char command, double x, double y);
void nod_svg_path_end(FILE *out, const char *tip);

#endif
