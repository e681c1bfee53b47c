/* SPDX-License-Identifier: MIT */
#include "yaml-doc.h"

#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "name-table.h"

unsigned nod_yaml_line(const yaml_node_t *node)
{
	return (unsigned)node->start_mark.line + 1;
}

unsigned nod_yaml_column(const yaml_node_t *node)
{
	return (unsigned)node->start_mark.column + 1;
}

int nod_yaml_error(struct nod_yaml *yaml, const yaml_node_t *node, const char *format, ...)
{
	char text[sizeof(yaml->err->text)];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	return nod_error_at(yaml->err, EINVAL, yaml->name, nod_yaml_line(node),
			    nod_yaml_column(node), "%s", text);
}

int nod_yaml_out_of_memory(struct nod_yaml *yaml)
{
	return nod_error_set(yaml->err, ENOMEM, "%s: out of memory", yaml->name);
}

/* ---- what the language allows and a map does not need ---- */

static int refuse(const struct nod_yaml *yaml, yaml_mark_t mark, const char *text)
{
	return nod_error_at(yaml->err, EINVAL, yaml->name, mark.line + 1, mark.column + 1, "%s",
			    text);
}

static int check_properties(const struct nod_yaml *yaml, const yaml_event_t *event,
			    const yaml_char_t *anchor, const yaml_char_t *tag)
{
	if (anchor)
		return refuse(yaml, event->start_mark,
			      "an anchor (`&name`) is not allowed in a vehicle file; write the "
			      "value out, or put it in quotes if it begins with &");
	if (tag)
		return refuse(yaml, event->start_mark,
			      "a tag (`!name`) is not allowed in a vehicle file; leave it out, or "
			      "put the value in quotes if it begins with !");
	return 0;
}

static int check_depth(const struct nod_yaml *yaml, const yaml_event_t *event, int depth)
{
	char text[80];

	if (depth <= NOD_YAML_DEPTH_MAX)
		return 0;
	snprintf(text, sizeof(text), "nested too deeply, expected at most %d levels",
		 NOD_YAML_DEPTH_MAX);
	return refuse(yaml, event->start_mark, text);
}

struct progress {
	int depth, documents;
};

static int check_event(const struct nod_yaml *yaml, const yaml_event_t *event, struct progress *p)
{
	int status;

	switch (event->type) {
	case YAML_ALIAS_EVENT:
		return refuse(yaml, event->start_mark,
			      "a reference (`*name`) is not allowed in a vehicle file; write the "
			      "value out, or put it in quotes if it begins with *");
	case YAML_DOCUMENT_START_EVENT:
		if (++p->documents > 1)
			return refuse(yaml, event->start_mark,
				      "a second document begins here, expected one vehicle in a "
				      "file");
		return 0;
	case YAML_SCALAR_EVENT:
		return check_properties(yaml, event, event->data.scalar.anchor,
					event->data.scalar.tag);
	case YAML_MAPPING_START_EVENT:
		status = check_properties(yaml, event, event->data.mapping_start.anchor,
					  event->data.mapping_start.tag);
		return status ? status : check_depth(yaml, event, ++p->depth);
	case YAML_SEQUENCE_START_EVENT:
		status = check_properties(yaml, event, event->data.sequence_start.anchor,
					  event->data.sequence_start.tag);
		return status ? status : check_depth(yaml, event, ++p->depth);
	case YAML_MAPPING_END_EVENT:
	case YAML_SEQUENCE_END_EVENT:
		p->depth--;
		return 0;
	default:
		return 0;
	}
}

/* ---- what is not YAML at all ---- */

/* Where a byte offset is: the reader of libyaml tells only that. */
static yaml_mark_t mark_of_offset(const char *text, size_t length, size_t offset)
{
	yaml_mark_t mark = {0, 0, 0};

	for (size_t i = 0; i < offset && i < length; i++) {
		mark.column = text[i] == '\n' ? 0 : mark.column + ((text[i] & 0xC0) != 0x80);
		mark.line += text[i] == '\n';
	}
	return mark;
}

/* What a person most often did, for the messages of libyaml that do not say. */
static const char *advice(const char *problem)
{
	static const struct {
		const char *problem, *advice;
	} known[] = {
		{"cannot start any token", "; indent with blanks, not tabs, and put text that "
					   "begins with a special character in quotes"},
		{"mapping values are not allowed", "; put text that contains `: ` in quotes"},
		{"could not find expected ':'", "; a key needs a colon after it"},
		{"did not find expected key", "; keys of one block begin in the same column"},
		{"did not find expected ',' or", "; is a bracket closed, and are the items parted "
						 "by commas?"},
	};

	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++)
		if (strstr(problem, known[i].problem))
			return known[i].advice;
	return "";
}

static int parser_error(const struct nod_yaml *yaml, const yaml_parser_t *parser, const char *text,
			size_t length)
{
	const char *problem = parser->problem; /* NULL when memory ran out, whatever error says */
	yaml_mark_t mark = parser->problem_mark;
	char context[100] = "";

	if (!problem)
		return nod_error_set(yaml->err, ENOMEM, "%s: out of memory", yaml->name);
	if (parser->error == YAML_READER_ERROR)
		mark = mark_of_offset(text, length, parser->problem_offset);
	if (parser->context)
		snprintf(context, sizeof(context), " (%s that begins on line %zu)", parser->context,
			 parser->context_mark.line + 1);
	return nod_error_at(yaml->err, EINVAL, yaml->name, mark.line + 1, mark.column + 1,
			    "not YAML: %s%s%s", problem, context, advice(problem));
}

/* Goes through the whole text once: what passes has one document, no
 * references and a bounded depth. */
static int check_events(const struct nod_yaml *yaml, yaml_parser_t *parser, const char *text,
			size_t length)
{
	struct progress progress = {0, 0};
	bool done = false;
	int status = 0;

	while (!status && !done) {
		yaml_event_t event;
		if (!yaml_parser_parse(parser, &event))
			return parser_error(yaml, parser, text, length);
		status = check_event(yaml, &event, &progress);
		done = event.type == YAML_STREAM_END_EVENT;
		yaml_event_delete(&event);
	}
	return status;
}

/* Runs one parser over the text: to check it, or to load the document. */
static int parse(struct nod_yaml *yaml, const char *text, size_t length, bool load)
{
	yaml_parser_t parser;
	int status = 0;

	if (!yaml_parser_initialize(&parser))
		return nod_yaml_out_of_memory(yaml);
	yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
	if (!load)
		status = check_events(yaml, &parser, text, length);
	else if (!yaml_parser_load(&parser, &yaml->document))
		status = parser_error(yaml, &parser, text, length);
	yaml_parser_delete(&parser);
	return status;
}

int nod_yaml_load(struct nod_yaml *yaml, const char *text, size_t length, const char *name,
		  struct nod_error *err)
{
	memset(yaml, 0, sizeof(*yaml));
	yaml->name = name;
	yaml->err = err;
	if (length > NOD_YAML_BYTES_MAX)
		return nod_error_set(err, EFBIG, "%s: larger than %u MiB, expected a vehicle file",
				     name, NOD_YAML_BYTES_MAX >> 20);
	int status = parse(yaml, text, length, false);
	return status ? status : parse(yaml, text, length, true);
}

void nod_yaml_clear(struct nod_yaml *yaml)
{
	yaml_document_delete(&yaml->document);
}

/* ---- nodes ---- */

/* C0, DEL and C1 (as UTF-8), which could drive the terminal that shows them. */
static bool has_control(const char *text, size_t length)
{
	for (size_t i = 0; i < length; i++) {
		unsigned char c = (unsigned char)text[i];
		if (c < 0x20 || c == 0x7F)
			return true;
		if (c == 0xC2 && i + 1 < length && (unsigned char)text[i + 1] < 0xA0)
			return true;
	}
	return false;
}

static const char *bounded_text(struct nod_yaml *yaml, const yaml_node_t *node, const char *what,
				size_t max)
{
	const char *text = (const char *)node->data.scalar.value;
	size_t length = node->data.scalar.length;

	if (node->type != YAML_SCALAR_NODE) {
		nod_yaml_error(yaml, node, "expected %s, found a %s", what,
			       node->type == YAML_MAPPING_NODE ? "mapping" : "list");
		return NULL;
	}
	if (length > max) {
		nod_yaml_error(yaml, node, "expected %s of at most %zu bytes, found %zu", what, max,
			       length);
		return NULL;
	}
	if (has_control(text, length)) {
		nod_yaml_error(yaml, node, "expected %s in one line, found a control character",
			       what);
		return NULL;
	}
	return text;
}

const char *nod_yaml_text(struct nod_yaml *yaml, const yaml_node_t *node, const char *what)
{
	return bounded_text(yaml, node, what, NOD_YAML_TEXT_MAX);
}

static bool is_empty(const yaml_node_t *node)
{
	return node->type == YAML_SCALAR_NODE && !node->data.scalar.length;
}

/* The key of a pair that no pair before it has; NULL with a message. */
static const char *new_key(struct nod_yaml *yaml, struct nod_name_table *seen,
			   const yaml_node_pair_t *pair)
{
	const yaml_node_t *node = yaml_document_get_node(&yaml->document, pair->key);
	const char *key = bounded_text(yaml, node, "a key", NOD_YAML_KEY_MAX);

	if (!key)
		return NULL;
	if (!*key) {
		nod_yaml_error(yaml, node, "expected a name before the colon, found nothing");
		return NULL;
	}
	int first = nod_name_table_find(seen, key);
	if (first == NOD_NAME_UNKNOWN)
		return key;
	nod_yaml_error(yaml, node, "`%s` stands twice; first on line %u", key,
		       nod_yaml_line(yaml_document_get_node(&yaml->document, first)));
	return NULL;
}

static int take_pairs(struct nod_yaml *yaml, const yaml_node_t *node, struct nod_name_table *seen,
		      nod_yaml_pair *take, void *context)
{
	int status = 0;

	for (const yaml_node_pair_t *p = node->data.mapping.pairs.start;
	     !status && p < node->data.mapping.pairs.top; p++) {
		const char *key = new_key(yaml, seen, p);
		if (!key)
			return -EINVAL;
		if (nod_name_table_add(seen, key, p->key))
			return nod_yaml_out_of_memory(yaml);
		status = take(context, key, yaml_document_get_node(&yaml->document, p->key),
			      yaml_document_get_node(&yaml->document, p->value));
	}
	return status;
}

int nod_yaml_each_pair(struct nod_yaml *yaml, const yaml_node_t *node, const char *what,
		       nod_yaml_pair *take, void *context)
{
	struct nod_name_table seen = {0};

	if (is_empty(node))
		return 0;
	if (node->type != YAML_MAPPING_NODE)
		return nod_yaml_error(yaml, node, "expected %s as `key: value` lines, found a %s",
				      what,
				      node->type == YAML_SCALAR_NODE ? "single value" : "list");
	int status = take_pairs(yaml, node, &seen, take, context);
	nod_name_table_clear(&seen);
	return status;
}

int nod_yaml_each_item(struct nod_yaml *yaml, const yaml_node_t *node, nod_yaml_item *take,
		       void *context)
{
	if (node->type != YAML_SEQUENCE_NODE)
		return is_empty(node) ? 0 : take(context, node);
	for (const yaml_node_item_t *i = node->data.sequence.items.start;
	     i < node->data.sequence.items.top; i++) {
		int status = take(context, yaml_document_get_node(&yaml->document, *i));
		if (status)
			return status;
	}
	return 0;
}
