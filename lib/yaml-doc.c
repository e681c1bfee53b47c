#include "yaml-doc.h"

#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* Nesting that a vehicle file can need, with room. */
#define DEPTH_MAX 16

unsigned nod_yaml_line(const yaml_node_t *node)
{
	return (unsigned)node->start_mark.line + 1;
}

int nod_yaml_error(struct nod_yaml *yaml, const yaml_node_t *node, const char *format, ...)
{
	char text[400];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	return nod_error_at(yaml->err, EINVAL, yaml->name, node->start_mark.line + 1,
			    node->start_mark.column + 1, "%s", text);
}

static int refuse(const struct nod_yaml *yaml, const yaml_mark_t *mark, const char *text)
{
	return nod_error_at(yaml->err, EINVAL, yaml->name, mark->line + 1, mark->column + 1, "%s",
			    text);
}

/* One pass over the events: aliases, depth and the number of documents. */
static int check_event(const struct nod_yaml *yaml, const yaml_event_t *event, int *depth,
		       int *documents)
{
	switch (event->type) {
	case YAML_ALIAS_EVENT:
		return refuse(yaml, &event->start_mark,
			      "a reference (`*name`) is not allowed in a vehicle file; write the "
			      "value out");
	case YAML_DOCUMENT_START_EVENT:
		if (++*documents > 1)
			return refuse(yaml, &event->start_mark,
				      "a second document (`---`) begins here; a vehicle file has one");
		return 0;
	case YAML_MAPPING_START_EVENT:
	case YAML_SEQUENCE_START_EVENT:
		if (++*depth > DEPTH_MAX)
			return refuse(yaml, &event->start_mark, "nested too deeply");
		return 0;
	case YAML_MAPPING_END_EVENT:
	case YAML_SEQUENCE_END_EVENT:
		--*depth;
		return 0;
	default:
		return 0;
	}
}

static int parser_error(const struct nod_yaml *yaml, const yaml_parser_t *parser)
{
	if (parser->error == YAML_MEMORY_ERROR)
		return nod_error_set(yaml->err, ENOMEM, "%s: out of memory", yaml->name);
	return nod_error_at(yaml->err, EINVAL, yaml->name, parser->problem_mark.line + 1,
			    parser->problem_mark.column + 1, "not YAML: %s",
			    parser->problem ? parser->problem : "cannot be read");
}

static int check_events(const struct nod_yaml *yaml, const char *text, size_t length)
{
	yaml_parser_t parser;
	int status = 0, depth = 0, documents = 0;
	bool done = false;

	if (!yaml_parser_initialize(&parser))
		return -ENOMEM;
	yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
	while (!status && !done) {
		yaml_event_t event;
		if (!yaml_parser_parse(&parser, &event)) {
			status = parser_error(yaml, &parser);
			break;
		}
		status = check_event(yaml, &event, &depth, &documents);
		done = event.type == YAML_STREAM_END_EVENT;
		yaml_event_delete(&event);
	}
	yaml_parser_delete(&parser);
	return status;
}

int nod_yaml_load(struct nod_yaml *yaml, const char *text, size_t length, const char *name,
		  struct nod_error *err)
{
	yaml_parser_t parser;

	memset(yaml, 0, sizeof(*yaml));
	yaml->name = name;
	yaml->err = err;
	if (length > NOD_YAML_BYTES_MAX)
		return nod_error_set(err, EFBIG, "%s: larger than %u bytes", name,
				     NOD_YAML_BYTES_MAX);
	int status = check_events(yaml, text, length);
	if (status)
		return status;
	if (!yaml_parser_initialize(&parser))
		return -ENOMEM;
	yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
	if (!yaml_parser_load(&parser, &yaml->document))
		status = parser_error(yaml, &parser);
	yaml_parser_delete(&parser);
	return status;
}

void nod_yaml_clear(struct nod_yaml *yaml)
{
	yaml_document_delete(&yaml->document);
}

const char *nod_yaml_text(struct nod_yaml *yaml, const yaml_node_t *node, const char *what)
{
	if (node->type != YAML_SCALAR_NODE) {
		nod_yaml_error(yaml, node, "expected %s, found a %s", what,
			       node->type == YAML_MAPPING_NODE ? "mapping" : "list");
		return NULL;
	}
	const char *text = (const char *)node->data.scalar.value;
	if (strlen(text) != node->data.scalar.length) {
		nod_yaml_error(yaml, node, "expected %s, found a zero byte", what);
		return NULL;
	}
	return text;
}

static bool is_empty(const yaml_node_t *node)
{
	return node->type == YAML_SCALAR_NODE && !node->data.scalar.length;
}

static int check_new_key(struct nod_yaml *yaml, const yaml_node_t *node,
			 const yaml_node_pair_t *pair, const char *key)
{
	for (const yaml_node_pair_t *p = node->data.mapping.pairs.start; p < pair; p++) {
		const yaml_node_t *other = yaml_document_get_node(&yaml->document, p->key);
		if (!strcasecmp((const char *)other->data.scalar.value, key))
			return nod_yaml_error(yaml,
					      yaml_document_get_node(&yaml->document, pair->key),
					      "`%s` stands twice; first on line %u", key,
					      nod_yaml_line(other));
	}
	return 0;
}

int nod_yaml_each_pair(struct nod_yaml *yaml, const yaml_node_t *node, const char *what,
		       nod_yaml_pair *take, void *context)
{
	if (is_empty(node))
		return 0;
	if (node->type != YAML_MAPPING_NODE)
		return nod_yaml_error(yaml, node, "expected %s as `key: value` lines, found %s", what,
				      node->type == YAML_SCALAR_NODE ? "a single value" : "a list");
	for (const yaml_node_pair_t *p = node->data.mapping.pairs.start;
	     p < node->data.mapping.pairs.top; p++) {
		const yaml_node_t *key_node = yaml_document_get_node(&yaml->document, p->key);
		const yaml_node_t *value = yaml_document_get_node(&yaml->document, p->value);
		const char *key = nod_yaml_text(yaml, key_node, "a key");
		if (!key)
			return -EINVAL;
		int status = check_new_key(yaml, node, p, key);
		if (!status)
			status = take(context, key, key_node, value);
		if (status)
			return status;
	}
	return 0;
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
