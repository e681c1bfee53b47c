/* SPDX-License-Identifier: MIT */
/* A YAML document as plain nodes with their places: a thin layer over libyaml
 * that takes scalars as they are written, refuses what a hand-written map has
 * no use for (anchors, references, tags, several documents, control
 * characters) and bounds size, depth and lengths. Internal. */
#ifndef NOD_YAML_DOC_H
#define NOD_YAML_DOC_H

#include <stddef.h>
#include <yaml.h>

#include "error.h"

/* All chosen: far above any hand-written map, and low enough that a hostile
 * file cannot eat memory. Bytes. */
#define NOD_YAML_BYTES_MAX (4u << 20)
#define NOD_YAML_DEPTH_MAX 16
#define NOD_YAML_KEY_MAX 80   /* keys are also names: they must fit a line of 80 columns */
#define NOD_YAML_TEXT_MAX 240 /* a sentence; must also fit a message whole */

struct nod_yaml {
	yaml_document_t document;
	const char *name;      /* for messages */
	struct nod_error *err; /* where messages go */
};

/* Parses text. 0, -EINVAL (message with line and column), -EFBIG, -ENOMEM. */
int nod_yaml_load(struct nod_yaml *yaml, const char *text, size_t length, const char *name,
		  struct nod_error *err);
void nod_yaml_clear(struct nod_yaml *yaml);

/* Sets the message for a place. Returns -EINVAL. */
__attribute__((format(printf, 3, 4))) int nod_yaml_error(struct nod_yaml *yaml,
							 const yaml_node_t *node,
							 const char *format, ...);

/* Sets the message and returns -ENOMEM. */
int nod_yaml_out_of_memory(struct nod_yaml *yaml);

/* The text of a scalar, up to NOD_YAML_TEXT_MAX bytes, none of them a control
 * character; may be "". NULL with a message naming `what` when it is none. */
const char *nod_yaml_text(struct nod_yaml *yaml, const yaml_node_t *node, const char *what);

/* Line and column of a node, counted from 1. */
unsigned nod_yaml_line(const yaml_node_t *node);
unsigned nod_yaml_column(const yaml_node_t *node);

/* Calls take(context, key, key node, value node) for each pair of a mapping.
 * An empty scalar counts as an empty mapping. Duplicate keys (without case)
 * and empty keys are an error. Stops at the first non-zero result and returns
 * it. */
typedef int nod_yaml_pair(void *context, const char *key, const yaml_node_t *key_node,
			  const yaml_node_t *value);
int nod_yaml_each_pair(struct nod_yaml *yaml, const yaml_node_t *node, const char *what,
		       nod_yaml_pair *take, void *context);

/* Calls take(context, item) for each item of a list; a single scalar counts
 * as a list of one, an empty one as an empty list. */
typedef int nod_yaml_item(void *context, const yaml_node_t *item);
int nod_yaml_each_item(struct nod_yaml *yaml, const yaml_node_t *node, nod_yaml_item *take,
		       void *context);

#endif
