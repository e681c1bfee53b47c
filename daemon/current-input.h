/* SPDX-License-Identifier: MIT */
/* Samples of the battery current while it happens: lines of numbers from a
 * file or pipe, a serial line or a socket, or a sysfs channel that is read
 * again and again. Only reads; a serial line is never written to. */
#ifndef NOD_CURRENT_INPUT_H
#define NOD_CURRENT_INPUT_H

#include <ev.h>
#include <stdint.h>

#include "error.h"
#include "lockdown.h"

struct nod_current_input;

/* Called for every sample; microamps, positive out of the battery. */
typedef void nod_current_function(void *context, int64_t microamps);

/* Opens a source:
 *     PATH             a file, pipe or FIFO of lines ("-": standard input)
 *     /dev/tty...@BAUD a serial line, 8N1
 *     tcp:HOST:PORT, unix:PATH
 *     /sys/...         a hwmon curr*_input (milliamps) or IIO *_raw (with its
 *                      *_scale and *_offset, milliamps) channel, read ten times
 *                      a second (see Documentation/ABI/testing/sysfs-bus-iio)
 * A line is a number with a unit ("0.43 A", "430 mA"); without one it is
 * amperes. Lines that are no such thing, or more than a current log takes
 * (NOD_CURRENT_MOST), are counted and left out. A source that ends or breaks is
 * opened again once a second. NULL with errno and err set when it cannot be
 * opened at first. */
struct nod_current_input *nod_current_input_new(struct ev_loop *loop, const char *source,
						nod_current_function *function, void *context,
						struct nod_error *err);
/* The sockets that such a source is opened by, now and again; NULL: there is no source. */
enum nod_lockdown_sockets nod_current_input_sockets(const char *source);

void nod_current_input_free(struct nod_current_input *input);

#endif
