/* SPDX-License-Identifier: MIT */
/* What `nodoff mark` and `nodoff session mark` have in common. */
#ifndef NOD_MARK_WORDS_H
#define NOD_MARK_WORDS_H

#include "journal.h"
#include "option.h"

/* Puts the words of a command line together as a journal line has them and reads it; the
 * subject points into line. Says what is missing or wrong. Returns an exit status. */
int nod_mark_of_words(struct nod_mark *mark, char line[NOD_MARK_LINE_MAX], char **words,
		      const char *command);

/* Moves the words of a mark behind the options, wherever these stand, so that "-0.3 mV" is
 * none. Returns how many arguments are the options', the command's name included. */
int nod_mark_part_words(int argc, char **argv, const struct nod_option *list);

/* The kinds that a person enters (all: those that nodoffd writes, too), a line each, on
 * standard output. */
void nod_mark_print_kinds(bool all);

/* --ago: a length with its unit, before now; --at: a time of day, or what when.h takes. Each may
 * be NULL; not both. `time` stays as it is without either. Returns an exit status. */
int nod_mark_time_of_options(nod_time *time, const char *ago, const char *at, const char *command);

#endif
