/* SPDX-License-Identifier: MIT */
/* What the terminal is, and the pager before it. */
#ifndef NOD_TERMINAL_H
#define NOD_TERMINAL_H

#include <stdbool.h>

#include "option.h"

/* Colours on standard output when nothing is said: on a terminal that can, unless
 * NO_COLOR is set and not empty (no-color.org). */
bool nod_terminal_has_colour(void);

/* For .take of "color" and "colour": always, never or auto, into the bool at the
 * row's member. */
int nod_terminal_take_colour(void *self, const struct nod_given *given);
#define NOD_COLOUR(type, member)                                                            \
	{"color",                                                                           \
	 0,                                                                                 \
	 NOD_OPTION_TAKE,                                                                   \
	 NOD_UNIT_NONE,                                                                     \
	 NOD_PLACE(type, member, bool),                                                     \
	 nod_terminal_take_colour},                                                         \
	{                                                                                   \
		"colour", 0, NOD_OPTION_TAKE, NOD_UNIT_NONE, NOD_PLACE(type, member, bool), \
			nod_terminal_take_colour                                            \
	}

/* Sends what is printed from here on through $NODOFF_PAGER, else $PAGER, else less, where
 * standard output is a terminal; less leaves again what fits the screen. Call it
 * after what can be said on standard error was said. */
void nod_terminal_page(void);

/* From here to nod_terminal_let_go(), the first Ctrl-C asks to stop (and a read that
 * waits returns with EINTR), a second one ends the program. */
void nod_terminal_catch_interrupt(void);
bool nod_terminal_is_interrupted(void);
void nod_terminal_let_go(void);

#endif
