/* SPDX-License-Identifier: MIT */
/* A message as it stands in a vehicle file. Internal. */
#ifndef NOD_MESSAGE_WRITE_H
#define NOD_MESSAGE_WRITE_H

#include <stdio.h>

#include "vehicle.h"

/* Under `messages:`; the vehicle gives the names of its networks. */
void nod_message_write(const struct nod_message *message, const struct nod_vehicle *vehicle,
		       FILE *out);

/* One line under `signals:`, indented by `indent` blanks. */
void nod_signal_write(const struct nod_message *message, const struct nod_signal *signal,
		      int indent, FILE *out);

#endif
