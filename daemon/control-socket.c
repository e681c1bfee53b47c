/* SPDX-License-Identifier: MIT */
#include "control-socket.h"

#include <errno.h>
#include <grp.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

/* What connecting there says: 0 (somebody answers) or a negative errno. */
static int try_connecting(const struct sockaddr_un *address)
{
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	int status = fd < 0 || connect(fd, (const struct sockaddr *)address, sizeof(*address))
			     ? -errno
			     : 0;

	if (fd >= 0)
		close(fd);
	return status;
}

/* Removes a socket that nobody answers; everything else at that path is somebody's. */
static int clear_path(const struct sockaddr_un *address, struct nod_error *err)
{
	const char *path = address->sun_path;
	struct stat found;

	if (lstat(path, &found))
		return errno == ENOENT ? 0
				       : nod_error_set(err, errno, "cannot open the socket %s: %s",
						       path, strerror(errno));
	if (!S_ISSOCK(found.st_mode))
		return nod_error_set(err, EEXIST,
				     "%s is there already and is no socket: not touched", path);
	if (try_connecting(address) != -ECONNREFUSED) /* also: its queue is full, or not for us */
		return nod_error_set(err, EADDRINUSE, "another nodoffd answers at %s", path);
	if (unlink(path))
		return nod_error_set(err, errno, "cannot remove the old socket %s: %s", path,
				     strerror(errno));
	return 0;
}

static int set_owner(const char *path, const char *group, struct nod_error *err)
{
	const struct group *entry;
	struct stat now;

	if (!group)
		return 0;
	entry = getgrnam(group);
	if (!entry)
		return nod_error_set(err, ENOENT, "there is no group `%s`", group);
	/* a service in that group has it already, and may have no right to chown */
	if (stat(path, &now) ||
	    (now.st_gid != entry->gr_gid && chown(path, (uid_t)-1, entry->gr_gid)) ||
	    chmod(path, 0660))
		return nod_error_set(err, errno, "cannot give %s to group %s: %s", path, group,
				     strerror(errno));
	return 0;
}

static int bind_socket(int fd, const char *path, const char *group, int backlog,
		       struct nod_error *err)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	mode_t mask;
	int status;

	if (strlen(path) >= sizeof(address.sun_path))
		return nod_error_set(err, ENAMETOOLONG, "the path of the socket is too long: %s",
				     path);
	strcpy(address.sun_path, path);
	status = clear_path(&address, err);
	if (status)
		return status;
	mask = umask(0177); /* nobody else before its group is set */
	status = bind(fd, (struct sockaddr *)&address, sizeof(address)) ? errno : 0;
	umask(mask);
	if (status)
		return nod_error_set(err, status, "cannot open the socket %s: %s", path,
				     strerror(status));
	status = set_owner(path, group, err);
	if (!status && listen(fd, backlog))
		status = nod_error_set(err, errno, "cannot listen on %s: %s", path,
				       strerror(errno));
	if (status)
		unlink(path);
	return status;
}

int nod_control_socket_open(const char *path, const char *group, int backlog, struct nod_error *err)
{
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	int status = fd < 0 ? nod_error_set(err, errno, "cannot open a socket: %s", strerror(errno))
			    : bind_socket(fd, path, group, backlog, err);

	if (status && fd >= 0)
		close(fd);
	return status ? status : fd;
}
