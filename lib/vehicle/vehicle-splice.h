/* SPDX-License-Identifier: MIT */
/* Lines put into the text of a vehicle file, at places that the YAML reader names. Internal
 * to vehicle-extend.c. */
#ifndef NOD_VEHICLE_SPLICE_H
#define NOD_VEHICLE_SPLICE_H

#include "yaml-doc.h"

struct nod_insertion {
	size_t at; /* byte of the text */
	enum nod_splice_how { NOD_SPLICE_IN_LINE, NOD_SPLICE_LINES, NOD_SPLICE_AT_END } how;
	char *text;
};

struct nod_splice {
	struct nod_yaml yaml;
	const char *text;
	size_t length;
	struct nod_insertion *insertions;
	size_t count;
};

/* `text` must outlive it. All return 0 or a negative errno with yaml.err set (-ENOMEM without). */
int nod_splice_begin(struct nod_splice *splice, const char *text, size_t length, const char *name,
		     struct nod_error *err);
void nod_splice_end(struct nod_splice *splice);

/* Lines (as the writer makes them: names indented by two) behind a section of the file, which
 * is begun when it is not there. Nothing when there are none. */
int nod_splice_section(struct nod_splice *splice, const char *section, const char *lines);

/* Items ("418, 419") into a list of an object of a section: one in brackets, one a line, or a
 * single one; or a new one. */
int nod_splice_list(struct nod_splice *splice, const char *section, const char *object,
		    const char *key, const char *items);

/* The whole text; NULL: out of memory. */
char *nod_splice_apply(struct nod_splice *splice);

#endif
