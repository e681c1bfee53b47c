/* SPDX-License-Identifier: MIT */
/* One command of the CLI: a function in a file of its own, cli/cmd-NAME.c,
 * and a row in the table of main.c. */
#ifndef NOD_COMMAND_H
#define NOD_COMMAND_H

#include <stdbool.h>

/* Exit statuses, the same for every command. A finding is not an error. */
enum nod_exit {
	NOD_EXIT_OK = 0,         /* done, whatever was found */
	NOD_EXIT_FAILED = 1,     /* a regression gate or check found a difference */
	NOD_EXIT_USAGE = 2,      /* the command line is wrong */
	NOD_EXIT_UNREADABLE = 4, /* an input cannot be read or an output not written */
};

struct nod_command {
	const char *name;
	const char *summary;               /* one line for `nodoff help` */
	int (*run)(int argc, char **argv); /* argv[0] is the command's name */
	bool has_parts;                    /* `session make`: parts with a help of their own */
};

/* Says on stderr what is wrong with the command line and where help is
 * (command NULL: several commands say this). Returns NOD_EXIT_USAGE. */
__attribute__((format(printf, 2, 3))) int nod_usage(const char *command, const char *format, ...);

/* Says on stderr what could not be read or written. Returns
 * NOD_EXIT_UNREADABLE. */
__attribute__((format(printf, 1, 2))) int nod_unreadable(const char *format, ...);

#endif
