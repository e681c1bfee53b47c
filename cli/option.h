/* What several commands take and print in the same way. */
#ifndef NOD_OPTION_H
#define NOD_OPTION_H

#include <jansson.h>
#include <stdbool.h>

#include "quantity.h"

/* Parses an option's value in `unit`. False after saying on stderr what is
 * wrong; the command then returns NOD_EXIT_USAGE. */
bool nod_option_quantity(struct nod_quantity *q, const char *command, const char *option,
			 const char *text, enum nod_unit unit);

/* The same for a share in percent, 0 to 100; *ppm in parts per million. */
bool nod_option_share(int64_t *ppm, const char *command, const char *option, const char *text);

/* Writes an object to stdout and lets go of it. Returns an exit status. */
int nod_option_print_json(json_t *object);

/* Flushes stdout: NOD_EXIT_OK, or NOD_EXIT_UNREADABLE after saying that it
 * could not be written. */
int nod_option_finish(void);

#endif
