/* SPDX-License-Identifier: MIT */
#include "option.h"

#include <assert.h>
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "nearest-word.h"
#include "terminal.h"
#include "zone.h"

/* Chosen: the longest table has 15 rows. */
#define ROWS_MAX 30

/* What getopt_long() returns for --zone, and for row i. */
#define ZONE 999
#define ROW 1000

struct walk {
	const struct nod_options *options;
	void *self;
	struct option names[ROWS_MAX + 3]; /* --help, --zone, and the end */
	char letters[2 * ROWS_MAX + 4];
};

static bool has_value(const struct nod_option *o)
{
	return o->kind != NOD_OPTION_FLAG;
}

static void describe(struct walk *w)
{
	const struct nod_option *o = w->options->list;
	size_t row = 0, letter = 0;

	if (w->options->words_last)
		w->letters[letter++] = '+';
	w->letters[letter++] = ':'; /* a missing value is told apart from an unknown option */
	w->letters[letter++] = 'h';
	for (; o && o->name; o++, row++) {
		assert(row < ROWS_MAX);
		w->names[row] = (struct option){o->name, has_value(o), NULL, ROW + (int)row};
		if (o->letter) {
			w->letters[letter++] = o->letter;
			if (has_value(o))
				w->letters[letter++] = ':';
		}
	}
	w->names[row++] = (struct option){"help", no_argument, NULL, 'h'};
	w->names[row] = (struct option){"zone", required_argument, NULL, ZONE};
}

static const struct nod_option *find(const struct walk *w, int met)
{
	const struct nod_option *o = w->options->list;

	if (met >= ROW)
		return &o[met - ROW];
	while (o->letter != met)
		o++;
	return o;
}

int nod_given_quantity(const struct nod_given *g, struct nod_quantity *q)
{
	struct nod_error err = {""};
	char name[64];

	snprintf(name, sizeof(name), "--%s", g->option->name);
	if (!nod_quantity_parse_as(q, g->value, g->option->unit, name, &err))
		return NOD_EXIT_OK;
	return nod_usage(g->command, "%s", err.text);
}

int64_t *nod_given_micro(void *self, const struct nod_given *g)
{
	return (int64_t *)(void *)((char *)self + g->option->offset);
}

int nod_given_wrong(const struct nod_given *g, const char *expected)
{
	return nod_usage(g->command, "--%s: `%s` is not %s", g->option->name, g->value, expected);
}

/* A quantity of one of the three kinds. */
static int take_quantity(void *self, const struct nod_given *g)
{
	int64_t *place = nod_given_micro(self, g);
	struct nod_quantity q;
	int status = nod_given_quantity(g, &q);

	if (status)
		return status;
	*place = q.micro;
	if (g->option->kind == NOD_OPTION_SECONDS)
		*place = q.micro / 1000000;
	if (g->option->kind == NOD_OPTION_SHARE) {
		*place = q.micro / 100;
		if (q.micro < 0 || q.micro > 100000000)
			return nod_given_wrong(g, "between 0 % and 100 %");
	}
	return NOD_EXIT_OK;
}

static int take(void *self, const struct nod_given *g)
{
	void *place = (char *)self + g->option->offset;

	switch (g->option->kind) {
	case NOD_OPTION_FLAG:
		*(bool *)place = true;
		return NOD_EXIT_OK;
	case NOD_OPTION_TEXT:
		*(const char **)place = g->value;
		return NOD_EXIT_OK;
	case NOD_OPTION_MICRO:
	case NOD_OPTION_SECONDS:
	case NOD_OPTION_SHARE:
		return take_quantity(self, g);
	case NOD_OPTION_TAKE:
		return g->option->take(self, g);
	}
	return NOD_EXIT_USAGE;
}

static int unknown(const struct walk *w, const char *text)
{
	char word[NOD_NEAREST_LENGTH_MAX];
	struct nod_nearest nearest = {word, NULL, 0};

	if (strncmp(text, "--", 2))
		return nod_usage(w->options->command, "there is no option `-%c`", optopt);
	snprintf(word, sizeof(word), "%.*s", (int)strcspn(text + 2, "="), text + 2);
	for (const struct option *o = w->names; o->name; o++) {
		if (!strcmp(o->name, word)) /* glibc: it has no value and was given one */
			return nod_usage(w->options->command, "--%s takes no value", word);
		nod_nearest_offer(&nearest, o->name);
	}
	return nod_usage(w->options->command, "there is no option `--%s`%s%s%s", word,
			 nearest.best ? "; did you mean --" : "", nearest.best ? nearest.best : "",
			 nearest.best ? "?" : "");
}

static int help(const struct nod_options *o)
{
	nod_terminal_page(); /* some are longer than a screen */
	if (o->print_help)
		return o->print_help();
	fputs(o->help, stdout);
	return nod_option_finish();
}

static int take_zone(const char *command, const char *zone)
{
	struct nod_error err = {""};

	return nod_zone_use(zone, &err) ? nod_usage(command, "--zone: %s", err.text) : NOD_EXIT_OK;
}

/* Returns true when the walk goes on. */
static bool step(const struct walk *w, int met, char **argv, int *status)
{
	if (met == 'h') {
		*status = help(w->options);
		return false;
	}
	if (met == ':')
		*status = nod_usage(w->options->command, "`%s` lacks its value", argv[optind - 1]);
	else if (met == '?')
		*status = unknown(w, argv[optind - 1]);
	else if (met == ZONE)
		*status = take_zone(w->options->command, optarg);
	else
		*status = take(w->self,
			       &(struct nod_given){w->options->command, find(w, met), optarg});
	return !*status;
}

int nod_options_walk(const struct nod_options *options, void *self, int argc, char **argv,
		     int *status)
{
	struct walk w = {.options = options, .self = self};
	int met;

	describe(&w);
	*status = NOD_EXIT_OK;
	opterr = 0;
	while ((met = getopt_long(argc, argv, w.letters, w.names, NULL)) != -1)
		if (!step(&w, met, argv, status))
			return 0;
	return optind;
}

/* json_object_update_missing() does not say when there was no memory. */
static int add_missing(json_t *whole, json_t *object)
{
	const char *key;
	json_t *value;

	json_object_foreach(object, key, value)
		if (!json_object_get(whole, key) && json_object_set(whole, key, value))
			return -ENOMEM;
	return 0;
}

static int print_json(json_t *object, size_t flags)
{
	json_t *whole = json_pack("{s:i}", "nodoff", NOD_JSON_VERSION);

	if (!object || !whole || add_missing(whole, object)) {
		json_decref(object);
		json_decref(whole);
		return nod_unreadable("out of memory");
	}
	errno = 0;
	int failed = json_dumpf(whole, stdout,
				flags | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(6));
	int code = errno;
	putchar('\n');
	json_decref(object);
	json_decref(whole);
	return failed ? nod_unreadable("cannot write the output: %s",
				       strerror(code ? code : ENOMEM))
		      : NOD_EXIT_OK;
}

int nod_option_print_json(json_t *object)
{
	int code = print_json(object, JSON_INDENT(2));

	return code ? code : nod_option_finish();
}

int nod_option_print_json_line(json_t *object)
{
	return print_json(object, JSON_COMPACT);
}

int nod_option_finish(void)
{
	if (!fflush(stdout) && !ferror(stdout))
		return NOD_EXIT_OK;
	return nod_unreadable("cannot write the output: %s", strerror(errno));
}
