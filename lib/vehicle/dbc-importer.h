/* SPDX-License-Identifier: MIT */
/* What the parts of the import share. Internal to dbc-import*.c. */
#ifndef NOD_DBC_IMPORTER_H
#define NOD_DBC_IMPORTER_H

#include "dbc-import.h"
#include "dbc.h"

struct nod_dbc_importer {
	struct nod_dbc *dbc;
	struct nod_vehicle *vehicle;
	const struct nod_dbc_import *how;
	const char *name; /* of the file */
	int network;      /* NOD_NONE: any */
	bool j1939;       /* by the protocol, or a message */
};

/* Tells what could not be taken as it stands. */
__attribute__((format(printf, 2, 3))) void nod_dbc_note(const struct nod_dbc_importer *im,
							const char *format, ...);

/* Takes a text out of the DBC; an empty one is none. */
char *nod_dbc_take(char **text);

/* The first of `name`, "name (suffix)", "name (suffix, 2)", ... that is not taken; NULL:
 * out of memory. */
typedef bool nod_dbc_is_taken(const void *among, const char *name);
char *nod_dbc_free_name(const char *name, const char *suffix, nod_dbc_is_taken *taken,
			const void *among);

/* The module of a node's name; one that BU_ forgot is made. NOD_NONE: out of memory. */
int nod_dbc_module_of(struct nod_dbc_importer *im, const char *name);

/* True for a message that is known by its PGN, not by its ID. */
bool nod_dbc_is_j1939(const struct nod_dbc_importer *im, const struct nod_dbc_message *message);

/* Adds all messages to the vehicle. 0 or -ENOMEM. */
int nod_dbc_add_messages(struct nod_dbc_importer *im);

#endif
