/* SPDX-License-Identifier: MIT */
#include "sysfs-channel.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "current-log.h"

#define VALUE_LENGTH 64 /* a page of sysfs holds one number */

struct nod_sysfs_channel {
	double scale, offset; /* milliamps = (value + offset) * scale */
	char path[PATH_MAX];
};

static int read_number(const char *path, double *number)
{
	char text[VALUE_LENGTH], *end;
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	ssize_t length;

	if (fd < 0)
		return -errno;
	length = read(fd, text, sizeof(text) - 1);
	close(fd);
	if (length <= 0)
		return -EIO;
	text[length] = 0;
	*number = strtod(text, &end);
	return end == text || !isfinite(*number) ? -EINVAL : 0;
}

/* The file that ends in `suffix` instead of "_raw", or the same for all
 * channels of the kind ("in_current_scale"). */
static double beside(const char *path, const char *suffix, double absent)
{
	char name[PATH_MAX + 16];
	size_t stem = strlen(path) - strlen("_raw");
	double number;

	snprintf(name, sizeof(name), "%.*s%s", (int)stem, path, suffix);
	if (!read_number(name, &number))
		return number;
	while (stem && path[stem - 1] >= '0' && path[stem - 1] <= '9')
		stem--;
	snprintf(name, sizeof(name), "%.*s%s", (int)stem, path, suffix);
	return read_number(name, &number) ? absent : number;
}

struct nod_sysfs_channel *nod_sysfs_channel_new(const char *path)
{
	struct nod_sysfs_channel *channel = calloc(1, sizeof(*channel));
	size_t length = strlen(path);
	int64_t microamps;
	int status;

	if (!channel || length >= sizeof(channel->path)) {
		free(channel);
		errno = ENAMETOOLONG;
		return NULL;
	}
	strcpy(channel->path, path);
	channel->scale = 1;
	if (length > 4 && !strcmp(path + length - 4, "_raw")) {
		channel->scale = beside(path, "_scale", 1);
		channel->offset = beside(path, "_offset", 0);
	}
	status = nod_sysfs_channel_read(channel, &microamps);
	if (status) {
		free(channel);
		errno = -status;
		return NULL;
	}
	return channel;
}

void nod_sysfs_channel_free(struct nod_sysfs_channel *channel)
{
	free(channel);
}

int nod_sysfs_channel_read(struct nod_sysfs_channel *channel, int64_t *microamps)
{
	double number;
	int status = read_number(channel->path, &number);

	if (status)
		return status;
	number = (number + channel->offset) * channel->scale * 1000;
	if (!(fabs(number) <= (double)NOD_CURRENT_MOST)) /* or it is no number */
		return -ERANGE;
	*microamps = llround(number);
	return 0;
}
