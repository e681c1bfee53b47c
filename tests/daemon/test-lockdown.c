/* SPDX-License-Identifier: MIT */
/* The filter itself, on sockets that every kernel has. What it does to CAN
 * sockets is shown in the bench. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "lockdown.h"
#include "lockdown-files.h"
#include "../lib/scratch.h"

static int low, reserved;

static int refused(long result)
{
	return result < 0 && errno == EPERM;
}

/* Returns the number of the first statement that does not hold; 0: all do. */
static int under_the_filter(void)
{
	long high_bits = (long)(reserved | 1LL << 32);

	if (nod_lockdown(NOD_LOCKDOWN_NO_SOCKETS, NULL))
		return 1;
	if (!refused(write(reserved, "x", 1)))
		return 2;
	if (!refused(syscall(SYS_write, high_bits, "x", 1)))
		return 3;
	if (!refused(send(reserved, "x", 1, 0)))
		return 4;
	if (!refused(dup(reserved)) || !refused(dup2(reserved, low)))
		return 5;
	if (!refused(fcntl(reserved, F_DUPFD, 0)) || !refused(fcntl(reserved, F_DUPFD_CLOEXEC, 0)))
		return 6;
	if (!refused(socket(AF_CAN, SOCK_RAW, 1)) || !refused(socket(AF_PACKET, SOCK_RAW, 0)))
		return 7;
	if (!refused(execl("/bin/true", "true", NULL)))
		return 8;
	if (write(low, "y", 1) != 1)
		return 9; /* what the daemon does write must still work */
	if (!refused(socket(AF_UNIX, SOCK_STREAM, 0)) || !refused(socket(AF_INET, SOCK_STREAM, 0)))
		return 10; /* to another program that would send */
	if (!refused(connect(low, NULL, 0)))
		return 11;
	char byte; /* its number is 0 */
	if (read(low, &byte, 0) < 0)
		return 12;
	return 0;
}

/* The current comes over such a socket: it can be opened again, another cannot. */
static int with_unix_sockets(void)
{
	struct sockaddr_un nowhere = {.sun_family = AF_UNIX, .sun_path = "/nowhere"};

	if (nod_lockdown(NOD_LOCKDOWN_UNIX_SOCKETS, NULL))
		return 1;
	int fd = socket(AF_UNIX, SOCK_STREAM, 0);
	if (fd < 0 || !connect(fd, (struct sockaddr *)&nowhere, sizeof(nowhere)) || errno != ENOENT)
		return 2;
	return !refused(socket(AF_INET, SOCK_STREAM, 0)) ||
			       !refused(socket(AF_INET6, SOCK_STREAM, 0))
		       ? 3
		       : 0;
}

static int with_tcp_sockets(void)
{
	if (nod_lockdown(NOD_LOCKDOWN_TCP_SOCKETS, NULL))
		return 1;
	return socket(AF_INET, SOCK_STREAM, 0) < 0 || !refused(socket(AF_UNIX, SOCK_STREAM, 0)) ? 2
												: 0;
}

/* ---- files ---- */

static struct scratch place;
static char serial[64], socket_path[600], session[600];

static int cannot_write(const char *path)
{
	return open(path, O_WRONLY | O_NOCTTY) < 0 && errno == EACCES &&
	       open(path, O_RDWR | O_NOCTTY) < 0 && errno == EACCES;
}

/* A serial adapter sends what is written to it. */
static int without_other_files(void)
{
	char path[700];
	int before = dup(STDERR_FILENO);
	close(before);
	int status = nod_lockdown_files(session, socket_path, NULL);

	if (status)
		return status > 0 ? 77 : 1;
	int after = dup(STDERR_FILENO);
	close(after);
	if (after != before)
		return 9; /* what it has opened for it stays open */
	if (!cannot_write(serial))
		return 2;
	int reading = open(serial, O_RDONLY | O_NOCTTY | O_NONBLOCK); /* a logger of the current */
	struct termios settings;
	if (reading < 0 || tcgetattr(reading, &settings) || tcsetattr(reading, TCSANOW, &settings))
		return 3;
	snprintf(path, sizeof(path), "%s/made", place.path);
	if (open(path, O_WRONLY | O_CREAT, 0600) >= 0 || mkdir(path, 0700) != -1 ||
	    mknod(path, S_IFIFO | 0600, 0) != -1)
		return 4;
	if (!cannot_write(scratch_path(&place, "text")))
		return 5;
	snprintf(path, sizeof(path), "%s/new", session);
	if (mkdir(path, 0700))
		return 6;
	strcat(path, "/journal.log");
	if (open(path, O_WRONLY | O_CREAT | O_APPEND, 0600) < 0 || rename(path, session) != -1 ||
	    unlink(path))
		return 7;
	return unlink(socket_path) ? 8 : 0; /* at the end */
}

/* A socket that could send, below the reserved descriptors. The test has no right to make
 * one, so the kernel's answer about another is changed (--wrap). */
static int claimed_domain;

int __real_getsockopt(int fd, int level, int name, void *value, socklen_t *length);
int __wrap_getsockopt(int fd, int level, int name, void *value, socklen_t *length);

int __wrap_getsockopt(int fd, int level, int name, void *value, socklen_t *length)
{
	int status = __real_getsockopt(fd, level, name, value, length);

	if (!status && level == SOL_SOCKET && name == SO_DOMAIN && claimed_domain)
		memcpy(value, &claimed_domain, sizeof(claimed_domain));
	return status;
}

static int with_a_low_socket(void)
{
	struct nod_error err = {""};

	return nod_lockdown(NOD_LOCKDOWN_NO_SOCKETS, &err) != -EBADF ||
	       !strstr(err.text, "descriptor");
}

static int run_in_child(int (*function)(void))
{
	int status;
	pid_t child = fork();

	if (!child)
		_exit(function());
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

static void connects_only_to_where_the_current_comes_from(void **state)
{
	(void)state;
	assert_int_equal(run_in_child(with_unix_sockets), 0);
	assert_int_equal(run_in_child(with_tcp_sockets), 0);
}

static void refuses_to_start_with_a_socket_that_can_send(void **state)
{
	int ends[2];

	(void)state;
	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
	claimed_domain = AF_CAN;
	assert_int_equal(run_in_child(with_a_low_socket), 0);
	claimed_domain = AF_PACKET;
	assert_int_equal(run_in_child(with_a_low_socket), 0);
	claimed_domain = 0;
	close(ends[0]);
	close(ends[1]);
}

static void writes_only_sessions(void **state)
{
	int terminal = posix_openpt(O_RDWR | O_NOCTTY);

	(void)state;
	assert_true(terminal >= 0 && !grantpt(terminal) && !unlockpt(terminal));
	assert_int_equal(ptsname_r(terminal, serial, sizeof(serial)), 0);
	scratch_make(&place);
	scratch_puts(&place, "text", "x");
	scratch_puts(&place, "socket", "");
	strcpy(socket_path, place.file);
	char data[300];
	snprintf(data, sizeof(data), "%s/data", place.path);
	snprintf(session, sizeof(session), "%s/sessions", data);
	assert_int_equal(mkdir(data, 0700), 0);
	assert_int_equal(mkdir(session, 0700), 0);
	int status = run_in_child(without_other_files);
	scratch_remove_directory(data);
	scratch_remove(&place);
	close(terminal);
	if (status == 77)
		skip(); /* this kernel has no Landlock */
	assert_int_equal(status, 0);
}

static void refuses_what_could_send(void **state)
{
	int ends[2];

	(void)state;
	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
	low = ends[0];
	reserved = nod_lockdown_reserve(dup(ends[0]));
	assert_true(reserved >= NOD_LOCKDOWN_FIRST_CAN_FD);
	assert_int_equal(run_in_child(under_the_filter), 0);
	close(ends[0]);
	close(ends[1]);
	close(reserved);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(refuses_what_could_send),
		cmocka_unit_test(connects_only_to_where_the_current_comes_from),
		cmocka_unit_test(refuses_to_start_with_a_socket_that_can_send),
		cmocka_unit_test(writes_only_sessions),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
