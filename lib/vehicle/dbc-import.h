/* SPDX-License-Identifier: MIT */
/* A vehicle file out of a DBC file. */
#ifndef NOD_DBC_IMPORT_H
#define NOD_DBC_IMPORT_H

#include "vehicle.h"

struct nod_dbc_import {
	const char *network;   /* what the messages are on; NULL: they may be on any */
	const char *interface; /* how recordings call it; NULL: not said */
	/* Told what was left out or could not be taken as it stands; may be NULL. */
	void (*note)(void *context, const char *text);
	void *context;
};

/* Larger files are refused. Chosen: the largest that are exchanged have some 10 MB. */
#define NOD_DBC_BYTES_MAX (32u << 20)

/* Takes a DBC file in UTF-8 or Windows-1252 as it was read: nodes become modules, messages
 * and signals what they are; an ID with one sender belongs to its module, one with several has them
 * listed as `senders`. What comes out is what a vehicle file with the same content gives when it is
 * loaded. NULL with errno and err set: file, line, column and what was expected. */
struct nod_vehicle *nod_dbc_import(const char *text, size_t length, const char *name,
				   const struct nod_dbc_import *how, struct nod_error *err);

#endif
