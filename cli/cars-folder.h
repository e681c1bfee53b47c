/* SPDX-License-Identifier: MIT */
/* The recordings in a folder, however deep. */
#ifndef NOD_CARS_FOLDER_H
#define NOD_CARS_FOLDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct nod_cars_session {
	char *path;
	int64_t stamp; /* of names, sizes and times of its files: another one, another content */
	bool endless;  /* a pipe or a device is among them: reading it may never end */
};

struct nod_cars_sessions {
	struct nod_cars_session *list; /* by path */
	size_t count, room;
};

/* Finds the directories that hold frames; links are not followed, hidden ones and what cannot be
 * entered are left out. `seed` goes into every stamp. Returns 0 or a negative errno; free in any
 * case. */
int nod_cars_folder_read(struct nod_cars_sessions *sessions, const char *folder, int64_t seed);
void nod_cars_folder_free(struct nod_cars_sessions *sessions);

#endif
