/* SPDX-License-Identifier: MIT */
/* The one place where text leaves nodoff for a terminal, a log or another program: stdout
 * and stderr.
 *
 * Names of files and interfaces, journals, vehicle files and captures come from outside and
 * are shown in many places. Whatever a terminal would act on in them (ESC and all other
 * control characters but newline and tab, those of U+0080 to U+009F as well, and bytes
 * that are no UTF-8) leaves as '?'. */
#ifndef NOD_DOOR_H
#define NOD_DOOR_H

#include <stdarg.h>
#include <stdio.h>

/* Puts the door before stdout and stderr; takes it away again (flushed). Opening returns 0
 * or -ENOMEM; then they are as they were. */
int nod_door_open(void);
void nod_door_close(void);

/* From here on the sequences of NOD_DOOR_COLOURS may pass through stdout. */
void nod_door_allow_colours(void);

/* What lib/show/answer.c and page-code.c write. */
#define NOD_DOOR_COLOURS \
	"\033[0m", "\033[1m", "\033[1;31m", "\033[1;32m", "\033[1;33m", "\033[30;47m"

/* Writes formatted text of up to 4095 bytes (cut beyond). A newline in it is one of a name or an
 * argument and becomes '?', but for one that ends the format. */
__attribute__((format(printf, 2, 3))) void nod_door_line(FILE *out, const char *format, ...);
void nod_door_vline(FILE *out, const char *format, va_list args);

/* Writes a control sequence of our own (stdout or stderr), behind what was written before. */
void nod_door_control(FILE *out, const char *sequence);

#endif
