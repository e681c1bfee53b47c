/* SPDX-License-Identifier: MIT */
/* A person's own defaults, $XDG_CONFIG_HOME/nodoff/settings: lines "key: value", "#" begins a
 * comment. Options and the environment go before them.
 *
 *     socket: /run/nodoff/nodoff.sock
 *     sessions: ~/cars
 *     maps: ~/cars/maps
 *     cars: ~/cars
 *     colour: never
 *     pager: less -R */
#ifndef NOD_SETTINGS_H
#define NOD_SETTINGS_H

enum nod_setting {
	NOD_SETTING_SOCKET,
	NOD_SETTING_SESSIONS,
	NOD_SETTING_MAPS,
	NOD_SETTING_CARS,
	NOD_SETTING_COLOUR,
	NOD_SETTING_PAGER,
	NOD_SETTINGS
};

/* Reads the file; that there is none is no error. Says on stderr what is wrong with it and
 * leaves that line out. */
void nod_settings_read(void);

/* Frees what nod_find_...() returned. */
void nod_settings_free(void);

/* A value, "~/" at its beginning replaced; NULL: not set. */
const char *nod_setting(enum nod_setting setting);

/* Where a recording or a vehicle file is that was named on the command line: as given when
 * there is such a file, or the name holds a '/' or is "-"; else the one of that name in the
 * person's directory, then in the service's. Returns `name` when there is none; what it
 * returns is good until nod_settings_free(). */
const char *nod_find_session(const char *name);
const char *nod_find_map(const char *name);

#endif
