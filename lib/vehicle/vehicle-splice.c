/* SPDX-License-Identifier: MIT */
#include "vehicle-splice.h"

#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "vehicle-reader.h"

int nod_splice_begin(struct nod_splice *s, const char *text, size_t length, const char *name,
		     struct nod_error *err)
{
	*s = (struct nod_splice){.text = text, .length = length};
	return nod_yaml_load(&s->yaml, text, length, name, err);
}

void nod_splice_end(struct nod_splice *s)
{
	for (size_t i = 0; i < s->count; i++)
		free(s->insertions[i].text);
	free(s->insertions);
	nod_yaml_clear(&s->yaml);
}

/* Takes the text over. */
static int insert(struct nod_splice *s, size_t at, enum nod_splice_how how, char *text)
{
	struct nod_insertion *slot = text ? nod_append(&s->insertions, &s->count, sizeof(*slot))
					  : NULL;

	if (!slot) {
		free(text);
		return -ENOMEM;
	}
	*slot = (struct nod_insertion){at, how, text};
	return 0;
}

__attribute__((format(printf, 4, 5))) static int insertf(struct nod_splice *s, size_t at,
							 enum nod_splice_how how,
							 const char *format, ...)
{
	char *text = NULL;
	va_list args;

	va_start(args, format);
	if (vasprintf(&text, format, args) < 0)
		text = NULL;
	va_end(args);
	return insert(s, at, how, text);
}

/* ---- places ---- */

/* The byte where a line (from 0) begins; the end of the text when there is none. */
static size_t line_start(const struct nod_splice *s, size_t line)
{
	const char *p = s->text, *end = s->text + s->length;

	while (line-- && p < end) {
		const char *newline = memchr(p, '\n', (size_t)(end - p));
		p = newline ? newline + 1 : end;
	}
	return (size_t)(p - s->text);
}

/* The byte of a mark, whose column counts characters. */
static size_t byte_of(const struct nod_splice *s, yaml_mark_t mark)
{
	size_t at = line_start(s, mark.line);

	for (size_t column = 0; at < s->length && column < mark.column; column++)
		do
			at++;
		while (at < s->length && ((unsigned char)s->text[at] & 0xC0) == 0x80);
	return at;
}

static const yaml_node_t *node(struct nod_splice *s, int index)
{
	return yaml_document_get_node(&s->yaml.document, index);
}

static bool is_flow(const yaml_node_t *n)
{
	return (n->type == YAML_MAPPING_NODE && n->data.mapping.style == YAML_FLOW_MAPPING_STYLE) ||
	       (n->type == YAML_SEQUENCE_NODE &&
		n->data.sequence.style == YAML_FLOW_SEQUENCE_STYLE);
}

/* Where a node really ends: a block's own mark is where the next thing begins. */
static yaml_mark_t end_of(struct nod_splice *s, const yaml_node_t *n)
{
	while (!is_flow(n) && n->type != YAML_SCALAR_NODE) {
		const yaml_node_t *last = NULL;
		if (n->type == YAML_MAPPING_NODE &&
		    n->data.mapping.pairs.top > n->data.mapping.pairs.start)
			last = node(s, n->data.mapping.pairs.top[-1].value);
		if (n->type == YAML_SEQUENCE_NODE &&
		    n->data.sequence.items.top > n->data.sequence.items.start)
			last = node(s, n->data.sequence.items.top[-1]);
		if (!last)
			break;
		n = last;
	}
	return n->end_mark;
}

/* The byte behind the last line of a node. */
static size_t behind(struct nod_splice *s, const yaml_node_t *n)
{
	yaml_mark_t end = end_of(s, n);

	return line_start(s, end.column ? end.line + 1 : end.line);
}

static const yaml_node_t *value_of(struct nod_splice *s, const yaml_node_t *mapping,
				   const char *name, const yaml_node_t **key)
{
	if (!mapping || mapping->type != YAML_MAPPING_NODE)
		return NULL;
	for (const yaml_node_pair_t *p = mapping->data.mapping.pairs.start;
	     p < mapping->data.mapping.pairs.top; p++) {
		*key = node(s, p->key);
		if ((*key)->type == YAML_SCALAR_NODE &&
		    !strcasecmp((const char *)(*key)->data.scalar.value, name))
			return node(s, p->value);
	}
	return NULL;
}

static bool is_nothing(const yaml_node_t *n)
{
	return n->type == YAML_SCALAR_NODE && !n->data.scalar.length;
}

/* ---- lines ---- */

/* Lines indented by two, indented by `indent` instead. */
static int insert_lines(struct nod_splice *s, size_t at, const char *head, const char *lines,
			size_t indent)
{
	size_t count = 0, used = 0;

	for (const char *c = lines; *c; c++)
		count += *c == '\n';
	char *text = malloc(strlen(head) + strlen(lines) + count * indent + 2);
	if (!text)
		return -ENOMEM;
	used += (size_t)sprintf(text + used, "%s", head);
	while (*lines) {
		size_t length = strcspn(lines, "\n") + 1;
		memset(text + used, ' ', indent);
		used += indent;
		memcpy(text + used, lines + 2, length - 2);
		used += length - 2;
		lines += length;
	}
	text[used] = 0;
	return insert(s, at, *head ? NOD_SPLICE_AT_END : NOD_SPLICE_LINES, text);
}

int nod_splice_section(struct nod_splice *s, const char *section, const char *lines)
{
	const yaml_node_t *root = yaml_document_get_root_node(&s->yaml.document), *key = NULL;
	const yaml_node_t *value = value_of(s, root, section, &key);
	char head[32];

	if (!*lines)
		return 0;
	if (is_flow(root) || (value && is_flow(value) && value->type == YAML_MAPPING_NODE))
		return nod_yaml_error(
			&s->yaml, value ? value : root,
			"`%s` stands in braces, expected a line for each, to which others "
			"can be added",
			value ? section : "the file");
	snprintf(head, sizeof(head), "%s:\n", section);
	if (!value)
		return insert_lines(s, s->length, head, lines, 2);
	if (is_nothing(value))
		return insert_lines(s, line_start(s, key->start_mark.line + 1), "", lines, 2);
	return insert_lines(s, behind(s, value), "", lines,
			    node(s, value->data.mapping.pairs.start->key)->start_mark.column);
}

/* ---- lists ---- */

static int insert_block_items(struct nod_splice *s, const yaml_node_t *list, const char *items)
{
	size_t at = behind(s, list), indent = list->start_mark.column;
	int status = 0;

	while (!status && *items) {
		size_t length = strcspn(items, ",");
		status = insertf(s, at, NOD_SPLICE_LINES, "%*s- %.*s\n", (int)indent, "",
				 (int)length, items);
		items += length;
		items += strspn(items, ", ");
	}
	return status;
}

static int add_to_list(struct nod_splice *s, const yaml_node_t *list, const char *items)
{
	size_t end = byte_of(s, list->end_mark);

	if (list->type == YAML_SCALAR_NODE) {
		int status = insertf(s, byte_of(s, list->start_mark), NOD_SPLICE_IN_LINE, "[");
		return status ? status
			      : insertf(s, end, NOD_SPLICE_IN_LINE, "%s%s]",
					is_nothing(list) ? "" : ", ", items);
	}
	if (!is_flow(list))
		return insert_block_items(s, list, items);
	bool empty = list->data.sequence.items.top == list->data.sequence.items.start;
	return insertf(s, end - 1, NOD_SPLICE_IN_LINE, "%s%s", empty ? "" : ", ", items);
}

static int add_list(struct nod_splice *s, const yaml_node_t *name, const yaml_node_t *object,
		    const char *key, const char *items)
{
	size_t indent = name->start_mark.column + 2, at;

	if (is_flow(object))
		return insertf(
			s, byte_of(s, object->end_mark) - 1, NOD_SPLICE_IN_LINE, "%s%s: [%s]",
			object->data.mapping.pairs.top == object->data.mapping.pairs.start ? ""
											   : ", ",
			key, items);
	if (is_nothing(object)) {
		at = line_start(s, name->start_mark.line + 1);
	} else {
		at = behind(s, object);
		indent = node(s, object->data.mapping.pairs.start->key)->start_mark.column;
	}
	return insertf(s, at, NOD_SPLICE_LINES, "%*s%s: [%s]\n", (int)indent, "", key, items);
}

int nod_splice_list(struct nod_splice *s, const char *section, const char *object, const char *key,
		    const char *items)
{
	const yaml_node_t *root = yaml_document_get_root_node(&s->yaml.document), *name = NULL, *at;
	const yaml_node_t *value = value_of(s, value_of(s, root, section, &name), object, &name);
	const yaml_node_t *list = value ? value_of(s, value, key, &at) : NULL;

	if (!value)
		return -EINVAL;
	return list ? add_to_list(s, list, items) : add_list(s, name, value, key, items);
}

/* ---- the result ---- */

/* Puts the insertions of a place into the text in their order; a line begins a line. */
static size_t put(const struct nod_splice *s, char *text, size_t used, size_t at)
{
	for (unsigned end = 0; end < 2; end++)
		for (size_t i = 0; i < s->count; i++) {
			const struct nod_insertion *in = &s->insertions[i];
			if (in->at != at || (in->how == NOD_SPLICE_AT_END) != (end == 1))
				continue;
			if (in->how != NOD_SPLICE_IN_LINE && used && text[used - 1] != '\n')
				text[used++] = '\n';
			used += (size_t)sprintf(text + used, "%s", in->text);
		}
	return used;
}

/* The first place of insertions from `least` on; SIZE_MAX: none. */
static size_t next_place(const struct nod_splice *s, size_t least)
{
	size_t at = SIZE_MAX;

	for (size_t i = 0; i < s->count; i++)
		if (s->insertions[i].at >= least && s->insertions[i].at < at)
			at = s->insertions[i].at;
	return at;
}

char *nod_splice_apply(struct nod_splice *s)
{
	size_t room = s->length + 1, used = 0, from = 0;
	char *text;

	for (size_t i = 0; i < s->count; i++)
		room += strlen(s->insertions[i].text) + 1;
	text = malloc(room);
	if (!text)
		return NULL;
	for (size_t at = next_place(s, 0); at != SIZE_MAX; at = next_place(s, at + 1)) {
		memcpy(text + used, s->text + from, at - from);
		used = put(s, text, used + at - from, at);
		from = at;
	}
	memcpy(text + used, s->text + from, s->length - from);
	text[used + s->length - from] = 0;
	return text;
}
