/* SPDX-License-Identifier: MIT */
/* The options of the programs here: long ones only, each with a place for its value. */
#ifndef ARGUMENTS_H
#define ARGUMENTS_H

#include <getopt.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>

#define ARGUMENTS_MAX 8

/* One option. Of the places one is set; a flag takes no value. */
struct argument {
	const char *name; /* NULL ends a list */
	unsigned long long *whole;
	unsigned *number;
	int64_t *integer;
	double *real;
	const char **text;
	bool *flag;
};

static inline void arguments_put(const struct argument *a, const char *value)
{
	if (a->whole)
		*a->whole = strtoull(value, NULL, 10);
	if (a->number)
		*a->number = (unsigned)strtoul(value, NULL, 10);
	if (a->integer)
		*a->integer = strtoll(value, NULL, 10);
	if (a->real)
		*a->real = strtod(value, NULL);
	if (a->text)
		*a->text = value;
	if (a->flag)
		*a->flag = !*a->flag;
}

/* The index of the first word that is no option; 0 when one is wrong, which was said. */
static inline int arguments_take(const struct argument *list, int argc, char **argv)
{
	struct option names[ARGUMENTS_MAX + 1] = {{0}};
	int at;

	for (int i = 0; i < ARGUMENTS_MAX && list[i].name; i++)
		names[i] = (struct option){list[i].name, !list[i].flag, NULL, i + 1};
	while ((at = getopt_long(argc, argv, "", names, NULL)) != -1)
		if (at == '?')
			return 0;
		else
			arguments_put(&list[at - 1], optarg);
	return optind;
}

#endif
