/* SPDX-License-Identifier: MIT */
/* A current that a driver measures, read from sysfs.
 *
 * hwmon: currN_input holds milliamps (Documentation/hwmon/sysfs-interface).
 * IIO: in_currentN_raw holds counts; (raw + offset) * scale is milliamps
 * (Documentation/ABI/testing/sysfs-bus-iio). */
#ifndef NOD_SYSFS_CHANNEL_H
#define NOD_SYSFS_CHANNEL_H

#include <stdint.h>

struct nod_sysfs_channel;

/* Opens the channel by the path of its value. NULL with errno set. */
struct nod_sysfs_channel *nod_sysfs_channel_new(const char *path);
void nod_sysfs_channel_free(struct nod_sysfs_channel *channel);

/* Reads it now. Returns 0 or a negative errno. */
int nod_sysfs_channel_read(struct nod_sysfs_channel *channel, int64_t *microamps);

#endif
