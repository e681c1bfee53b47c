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
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "lockdown.h"

static int low, reserved;

static int refused(long result)
{
	return result < 0 && errno == EPERM;
}

/* Returns the number of the first statement that does not hold; 0: all do. */
static int under_the_filter(void)
{
	long high_bits = (long)reserved | 1L << 32;

	if (nod_lockdown(NULL))
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
	return 0;
}

static void refuses_what_could_send(void **state)
{
	int ends[2], status;
	pid_t child;

	(void)state;
	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
	low = ends[0];
	reserved = nod_lockdown_reserve(dup(ends[0]));
	assert_true(reserved >= NOD_LOCKDOWN_FIRST_CAN_FD);
	child = fork();
	if (!child)
		_exit(under_the_filter());
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), 0);
	close(ends[0]);
	close(ends[1]);
	close(reserved);
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(refuses_what_could_send)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
