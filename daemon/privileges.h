/* SPDX-License-Identifier: MIT */
/* Who nodoffd runs as, and giving privileges up for good. */
#ifndef NOD_PRIVILEGES_H
#define NOD_PRIVILEGES_H

#include <stdbool.h>
#include <sys/types.h>

#include "error.h"

struct nod_account {
	const char *name; /* NULL: stay who we are */
	uid_t uid;
	gid_t gid;
	gid_t joins; /* a group it belongs to as well, (gid_t)-1: none */
};

/* Finds an account by name; NULL: stay who we are. `group` (NULL: none) is one
 * that it is to belong to as well, so that it can give it the control socket.
 * Returns 0, or a negative errno with err set (-ENOENT: there is none; -EPERM:
 * only root can become somebody else). */
int nod_account_find(struct nod_account *account, const char *name, const char *group,
		     struct nod_error *err);

/* True when this process has the capability (CAP_..., linux/capability.h). */
bool nod_privileges_has(int capability);

#define NOD_PRIVILEGES_NONE (-1)

/* Becomes `account` and gives up every capability but `keep` (CAP_... that the
 * process has, or NOD_PRIVILEGES_NONE) in all sets: permitted, effective,
 * inheritable, ambient, and, where the kernel lets us (CAP_SETPCAP), bounding.
 * No program that is started later can get any back (no_new_privs). Checks
 * afterwards that it is so. Returns 0, or a negative errno with err set; the
 * process must then not go on. */
int nod_privileges_drop(const struct nod_account *account, int keep, struct nod_error *err);

/* Makes a directory (its last part only) for that account, mode 0755, when it
 * is not there. That it cannot be made is not an error: what is put there will
 * say so. */
void nod_privileges_make_directory(const struct nod_account *account, const char *path);

#endif
