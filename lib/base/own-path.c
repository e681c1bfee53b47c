/* SPDX-License-Identifier: MIT */
#include "own-path.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const struct {
	const char *variable, *below_home;
} owns[] = {
	[NOD_OWN_SETTINGS] = {"XDG_CONFIG_HOME", "/.config"},
	[NOD_OWN_DATA] = {"XDG_DATA_HOME", "/.local/share"},
	[NOD_OWN_CACHE] = {"XDG_CACHE_HOME", "/.cache"},
	[NOD_OWN_RUNTIME] = {"XDG_RUNTIME_DIR", NULL},
};

int nod_own_path(char buf[PATH_MAX], enum nod_own own, const char *name)
{
	const char *directory = getenv(owns[own].variable), *below = "";

	*buf = '\0';
	if (!directory || *directory != '/') {
		directory = getenv("HOME");
		below = owns[own].below_home;
	}
	if (!directory || *directory != '/' || !below)
		return -ENOENT;
	if (snprintf(buf, PATH_MAX, "%s%s/nodoff/%s", directory, below, name) < PATH_MAX)
		return 0;
	*buf = '\0';
	return -ENAMETOOLONG;
}

int nod_own_make_place(const char *path)
{
	char part[PATH_MAX];

	if (snprintf(part, sizeof(part), "%s", path) >= PATH_MAX)
		return -ENAMETOOLONG;
	for (char *slash = strchr(part + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
		*slash = '\0';
		if (mkdir(part, 0700) && errno != EEXIST)
			return -errno;
		*slash = '/';
	}
	return 0;
}
