/* SPDX-License-Identifier: MIT */
/* The command line: one table of options a command, one walker for all of them,
 * and what several commands print in the same way.
 *
 *     static const struct nod_option list[] = {
 *             NOD_TEXT('v', "vehicle", struct analyse, judge.vehicle),
 *             NOD_FLAG('j', "json", struct analyse, json),
 *             NOD_TAKE('e', "earlier", add_earlier),
 *             {0}};
 *     static const struct nod_options options = {.command = "analyse", .help = help, .list = list};
 *
 *     struct analyse a = {0};
 *     int status, first = nod_options_walk(&options, &a, argc, argv, &status);
 *     if (!first)
 *             return status;
 *
 * -h, --help and --zone, which sets the zone in which times are told and taken, belong to
 * every command and stand in no table. */
#ifndef NOD_OPTION_H
#define NOD_OPTION_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quantity.h"

enum nod_option_kind {
	NOD_OPTION_FLAG,    /* bool, set to true */
	NOD_OPTION_TEXT,    /* const char *, as given */
	NOD_OPTION_MICRO,   /* int64_t, millionths of .unit */
	NOD_OPTION_SECONDS, /* int64_t, whole seconds */
	NOD_OPTION_SHARE,   /* int64_t, parts per million, 0 to 100 % */
	NOD_OPTION_TAKE,    /* .take is called with the value */
};

struct nod_option;

/* One option as it was met. */
struct nod_given {
	const char *command;
	const struct nod_option *option;
	const char *value; /* NULL: none */
};

struct nod_option {
	const char *name; /* NULL ends a table */
	char letter;      /* 0: there is only the long form */
	enum nod_option_kind kind;
	enum nod_unit unit;
	size_t offset; /* of its member in the command's own struct */
	/* Returns an exit status after saying what is wrong, or NOD_EXIT_OK. */
	int (*take)(void *self, const struct nod_given *given);
};

/* clang-format off */
/* Rows of a table. A member of another type than the row's does not compile. */
#define NOD_PLACE(type, member, wanted)                                                            \
	_Generic(((type *)NULL)->member, wanted: offsetof(type, member)) /* NOLINT: a type */
#define NOD_FLAG(letter, name, type, member) \
	{name, letter, NOD_OPTION_FLAG, NOD_UNIT_NONE, NOD_PLACE(type, member, bool), NULL}
#define NOD_TEXT(letter, name, type, member) \
	{name, letter, NOD_OPTION_TEXT, NOD_UNIT_NONE, NOD_PLACE(type, member, const char *), NULL}
#define NOD_MICRO(name, unit, type, member) \
	{name, 0, NOD_OPTION_MICRO, unit, NOD_PLACE(type, member, int64_t), NULL}
#define NOD_SECONDS(name, type, member) \
	{name, 0, NOD_OPTION_SECONDS, NOD_UNIT_SECOND, NOD_PLACE(type, member, int64_t), NULL}
#define NOD_SHARE(name, type, member) \
	{name, 0, NOD_OPTION_SHARE, NOD_UNIT_PERCENT, NOD_PLACE(type, member, int64_t), NULL}
#define NOD_TAKE(letter, name, take) {name, letter, NOD_OPTION_TAKE, NOD_UNIT_NONE, 0, take}
/* .take fills the member itself, which it finds by nod_given_micro(). */
#define NOD_TAKE_MICRO(name, unit, type, member, take) \
	{name, 0, NOD_OPTION_TAKE, unit, NOD_PLACE(type, member, int64_t), take}
/* clang-format on */

struct nod_options {
	const char *command;           /* for messages: "session make" */
	const char *help;              /* NULL: print_help */
	int (*print_help)(void);       /* returns an exit status */
	const struct nod_option *list; /* NULL: there is only --help */
	bool words_last;               /* the first word ends the options */
};

/* Takes the options into *self. Returns the index of the first word that is no
 * option (argc: there is none; the words are moved behind the options), or 0
 * when the command is at its end with *status: help was printed, or what is wrong was said. */
int nod_options_walk(const struct nod_options *options, void *self, int argc, char **argv,
		     int *status);

/* For .take: the value as a quantity in the row's unit. */
int nod_given_quantity(const struct nod_given *given, struct nod_quantity *quantity);
int64_t *nod_given_micro(void *self, const struct nod_given *given);
/* Says "--name: expected ..., not `value`". Returns NOD_EXIT_USAGE. */
int nod_given_wrong(const struct nod_given *given, const char *expected);

/* The form of what every --json prints, its member "nodoff". Within a version members are added,
 * and none is taken away, renamed or given another type; see cli/schema. */
#define NOD_JSON_VERSION 1

/* Writes an object to stdout, with its version, and lets go of it; NULL: there was no memory
 * for it. _line: on one line, which is not flushed. Returns an exit status. */
int nod_option_print_json(json_t *object);
int nod_option_print_json_line(json_t *object);

/* Flushes stdout: NOD_EXIT_OK, or NOD_EXIT_UNREADABLE after saying that it
 * could not be written. */
int nod_option_finish(void);

#endif
