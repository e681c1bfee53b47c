/* SPDX-License-Identifier: MIT */
#include "lockdown-files.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <linux/landlock.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

/* What a recording needs. */
#define RECORDING                                                        \
	(LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_REMOVE_DIR | \
	 LANDLOCK_ACCESS_FS_REMOVE_FILE | LANDLOCK_ACCESS_FS_MAKE_DIR |  \
	 LANDLOCK_ACCESS_FS_MAKE_REG)

/* What is given up everywhere else; all of the first version of Landlock but reading. */
#define GIVEN_UP                                                                 \
	(RECORDING | LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_MAKE_CHAR | \
	 LANDLOCK_ACCESS_FS_MAKE_SOCK | LANDLOCK_ACCESS_FS_MAKE_FIFO |           \
	 LANDLOCK_ACCESS_FS_MAKE_BLOCK | LANDLOCK_ACCESS_FS_MAKE_SYM)

static int allow_below(int rules, const char *directory, uint64_t access)
{
	struct landlock_path_beneath_attr below = {
		.allowed_access = access,
		.parent_fd = open(directory, O_PATH | O_DIRECTORY | O_CLOEXEC)};
	int status = below.parent_fd < 0 || syscall(SYS_landlock_add_rule, rules,
						    LANDLOCK_RULE_PATH_BENEATH, &below, 0)
			     ? -errno
			     : 0;

	if (below.parent_fd >= 0)
		close(below.parent_fd);
	return status == -ENOENT ? 0 : status; /* nothing can be written there anyway */
}

/* Below the directory that holds the one of the sessions, since a disk may be mounted there
 * anew (what lies on it now is another directory to Landlock); not below the root. */
static int allow_recording(int rules, const char *sessions)
{
	char above[PATH_MAX];
	struct stat root, parent;

	snprintf(above, sizeof(above), "%s/..", sessions);
	if (stat("/", &root) || stat(above, &parent) ||
	    (root.st_dev == parent.st_dev && root.st_ino == parent.st_ino))
		return allow_below(rules, sessions, RECORDING);
	return allow_below(rules, above, RECORDING);
}

static int allow_removing_beside(int rules, const char *socket)
{
	char directory[PATH_MAX];
	const char *slash = strrchr(socket, '/');

	snprintf(directory, sizeof(directory), "%.*s", slash ? (int)(slash - socket) + 1 : 1,
		 slash ? socket : ".");
	return allow_below(rules, directory, LANDLOCK_ACCESS_FS_REMOVE_FILE);
}

int nod_lockdown_files(const char *sessions, const char *socket, struct nod_error *err)
{
	struct landlock_ruleset_attr given_up = {.handled_access_fs = GIVEN_UP};
	int rules = (int)syscall(SYS_landlock_create_ruleset, &given_up, sizeof(given_up), 0);
	int status = 0;

	if (rules < 0 && (errno == ENOSYS || errno == EOPNOTSUPP || errno == EPERM))
		return 1; /* EPERM: somebody confined us without knowing of it */
	if (rules < 0)
		status = -errno;
	if (!status && sessions)
		status = allow_recording(rules, sessions);
	if (!status && socket)
		status = allow_removing_beside(rules, socket);
	if (!status && (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) ||
			syscall(SYS_landlock_restrict_self, rules, 0)))
		status = -errno;
	if (rules >= 0)
		close(rules);
	if (status)
		return nod_error_set(err, -status, "cannot give up writing elsewhere: %s",
				     strerror(-status));
	return 0;
}
