/* SPDX-License-Identifier: MIT */
/* The control socket's file: made, given to its group, and never in somebody else's place. */
#ifndef NOD_CONTROL_SOCKET_H
#define NOD_CONTROL_SOCKET_H

#include "error.h"

/* Opens and binds the socket, mode 0600, or 0660 and owned by `group` when one is given
 * (NULL: none), and listens on it. A socket that nobody answers any more is replaced;
 * anything else at that path is left alone. Returns the descriptor, or a negative errno
 * with err set: -EADDRINUSE when somebody answers there (or may), -EEXIST when there is
 * something that is no socket. */
int nod_control_socket_open(const char *path, const char *group, int backlog,
			    struct nod_error *err);

#endif
