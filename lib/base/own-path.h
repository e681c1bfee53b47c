/* SPDX-License-Identifier: MIT */
/* Where things are: those of the service, and a person's own, by the XDG Base Directory
 * Specification (freedesktop.org, version 0.8; from memory): a variable that is not set, or
 * is no absolute path, counts as its default below the home directory. */
#ifndef NOD_OWN_PATH_H
#define NOD_OWN_PATH_H

#include <limits.h>

/* The service's, as nodoffd.service has them. */
#define NOD_SERVICE_SOCKET "/run/nodoff/nodoff.sock"
#define NOD_SERVICE_SESSIONS "/var/lib/nodoff"
#define NOD_SERVICE_MAPS NOD_SERVICE_SESSIONS "/maps"

enum nod_own {
	NOD_OWN_SETTINGS, /* $XDG_CONFIG_HOME, ~/.config */
	NOD_OWN_DATA,     /* $XDG_DATA_HOME, ~/.local/share */
	NOD_OWN_CACHE,    /* $XDG_CACHE_HOME, ~/.cache */
	NOD_OWN_RUNTIME,  /* $XDG_RUNTIME_DIR, which has no default */
};

/* Writes DIRECTORY/nodoff/NAME. Returns 0, -ENOENT (there is no such directory; buf is
 * empty) or -ENAMETOOLONG. */
int nod_own_path(char buf[PATH_MAX], enum nod_own own, const char *name);

/* Makes the directory that holds `path`, and those that hold it, for nobody else. Returns 0
 * or a negative errno. */
int nod_own_make_place(const char *path);

#endif
