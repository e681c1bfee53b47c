/* SPDX-License-Identifier: MIT */
/* The two processes and what each may still do. CAN interfaces are on the
 * bench; here it is the loopback interface that must not be touched. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <errno.h>
#include <linux/capability.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "link-request.h"
#include "lockdown.h"
#include "switcher.h"

static const struct nod_interface_settings classical = {.bitrate = 500000};

static const struct nod_account myself = {.name = NULL, .joins = (gid_t)-1};

/* The hexadecimal number of a line of /proc/PID/status; ~0 when it cannot be read. */
static unsigned long long status_line(pid_t pid, const char *key)
{
	char path[64], line[256];
	unsigned long long value = ~0ULL;
	size_t length = strlen(key);
	FILE *file;

	snprintf(path, sizeof(path), "/proc/%d/status", (int)pid);
	file = fopen(path, "re");
	while (file && fgets(line, sizeof(line), file))
		if (!strncmp(line, key, length) && line[length] == ':')
			value = strtoull(line + length + 1, NULL, 16);
	if (file)
		fclose(file);
	return value;
}

/* All capabilities, in a user namespace of our own where we have none.
 * Exits the child with 77 where the kernel allows neither. */
static void become_capable(void)
{
	if (!nod_privileges_has(CAP_NET_ADMIN) && unshare(CLONE_NEWUSER))
		_exit(77);
	if (!nod_privileges_has(CAP_NET_ADMIN) || !nod_privileges_has(CAP_SETPCAP))
		_exit(77);
}

/* Runs a statement list in a child: it returns the number of the first that
 * does not hold, 0 when all do. */
static void in_a_child(int (*statements)(void))
{
	int status;
	pid_t child = fork();

	if (!child)
		_exit(statements());
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	if (WEXITSTATUS(status) == 77)
		skip(); /* no user namespaces for us here */
	assert_int_equal(WEXITSTATUS(status), 0);
}

static int dropping(void)
{
	struct nod_error err;

	become_capable();
	if (nod_privileges_drop(&myself, NOD_PRIVILEGES_NONE, &err))
		return 1;
	if (status_line(getpid(), "CapPrm") || status_line(getpid(), "CapEff") ||
	    status_line(getpid(), "CapInh") || status_line(getpid(), "CapAmb"))
		return 2;
	if (status_line(getpid(), "CapBnd"))
		return 3;
	if (status_line(getpid(), "NoNewPrivs") != 1)
		return 4;
	if (nod_privileges_has(CAP_NET_ADMIN) || !unshare(CLONE_NEWNET))
		return 5;
	return nod_privileges_drop(&myself, NOD_PRIVILEGES_NONE, &err) ? 6 : 0; /* again */
}

static void gives_everything_up(void **state)
{
	(void)state;
	in_a_child(dropping);
}

static int two_processes(void)
{
	struct nod_switcher switcher;
	struct nod_link lo = {.index = 1, .name = "lo"},
			none = {.index = 2000000000, .name = "can9"};
	unsigned long long only = 1ULL << CAP_NET_ADMIN;
	struct nod_error err;
	int status;

	become_capable();
	if (nod_switcher_start(&switcher, &myself, &err) || switcher.fd < 0)
		return 1;
	if (nod_privileges_drop(&myself, NOD_PRIVILEGES_NONE, &err))
		return 2;
	if (status_line(switcher.pid, "CapPrm") != only ||
	    status_line(switcher.pid, "CapEff") != only)
		return 3;
	if (status_line(switcher.pid, "CapInh") || status_line(switcher.pid, "CapAmb") ||
	    status_line(switcher.pid, "CapBnd"))
		return 4;
	if (status_line(switcher.pid, "Seccomp") != 2 ||
	    status_line(switcher.pid, "NoNewPrivs") != 1)
		return 5;
	if (nod_switcher_listen(&switcher, &lo, &classical, &err) != -EINVAL)
		return 6; /* no CAN interface */
	if (nod_switcher_off(&switcher, &lo, &err) != -EINVAL)
		return 7;
	if (nod_switcher_listen(&switcher, &none, &classical, &err) != -ENODEV)
		return 8;
	if (kill(switcher.pid, SIGTERM) || kill(switcher.pid, SIGINT) ||
	    nod_switcher_off(&switcher, &none, &err) != -ENODEV)
		return 9; /* it ends with us, not before */
	nod_switcher_stop(&switcher);
	if (waitpid(switcher.pid, &status, 0) != switcher.pid || status)
		return 10;
	return 0;
}

static void keeps_one_capability_in_the_other_process(void **state)
{
	(void)state;
	in_a_child(two_processes);
}

static int switcher_is_killed(void)
{
	struct nod_switcher switcher;
	struct nod_link lo = {.index = 1, .name = "lo"};
	struct nod_error err;

	become_capable();
	if (nod_switcher_start(&switcher, &myself, &err))
		return 1;
	kill(switcher.pid, SIGKILL);
	if (nod_switcher_listen(&switcher, &lo, &classical, &err) != -EPIPE ||
	    !strstr(err.text, "start nodoffd again"))
		return 2;
	return 0;
}

static void says_when_the_other_process_has_ended(void **state)
{
	(void)state;
	in_a_child(switcher_is_killed);
}

static void needs_none_without_a_capability(void **state)
{
	struct nod_switcher switcher = NOD_SWITCHER_NONE;
	struct nod_link link = {.index = 1, .name = "can0"};
	struct nod_error err;

	(void)state;
	assert_int_equal(nod_switcher_listen(&switcher, &link, &classical, &err), -EPERM);
	assert_non_null(strstr(err.text, "needs CAP_NET_ADMIN"));
	nod_switcher_stop(&switcher);
}

/* Requests of the wrong size end it; unknown ones are refused. */
static void takes_two_requests_only(void **state)
{
	struct nod_switcher_request requests[] = {
		{1, 0, 1, classical},
		{2, 3, 1, classical},
		{3, NOD_SWITCHER_LISTEN, -1, classical},
		{4, NOD_SWITCHER_OFF, 0, classical},
	};
	struct nod_switcher_answer answer;
	int ends[2], status, netlink = nod_link_request_open();
	pid_t child;

	(void)state;
	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, ends), 0);
	child = fork();
	if (!child) {
		close(ends[0]);
		_exit(nod_switcher_serve(ends[1], netlink) == -EPROTO ? 0 : 1);
	}
	close(ends[1]);
	for (size_t i = 0; i < sizeof(requests) / sizeof(requests[0]); i++) {
		assert_int_equal(send(ends[0], &requests[i], sizeof(requests[i]), 0),
				 sizeof(requests[i]));
		assert_int_equal(recv(ends[0], &answer, sizeof(answer), 0), sizeof(answer));
		assert_int_equal(answer.serial, i + 1);
		assert_int_equal(answer.status, -EINVAL);
	}
	assert_int_equal(send(ends[0], "short", 5, 0), 5);
	assert_int_equal(recv(ends[0], &answer, sizeof(answer), 0), 0);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
	close(ends[0]);
	close(netlink);
}

static int pair[2];

static void try_write(void)
{
	(void)!write(pair[0], "x", 1);
}
static void try_other_descriptor(void)
{
	send(pair[1], "x", 1, 0);
}
static void try_socket(void)
{
	socket(AF_CAN, SOCK_RAW, 1);
}
static void try_open(void)
{
	fopen("/dev/null", "re");
}
static void try_dup(void)
{
	dup2(pair[1], pair[0]);
}
static void try_message(void)
{
	struct msghdr message = {0};
	sendmsg(pair[0], &message, 0);
}

/* Everything but its two calls on its two descriptors kills the process. */
static void the_filter_kills(void **state)
{
	void (*const attempts[])(void) = {try_write, try_other_descriptor, try_socket, try_open,
					  try_dup,   try_message};
	int status;

	(void)state;
	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
	for (size_t i = 0; i < sizeof(attempts) / sizeof(attempts[0]); i++) {
		pid_t child = fork();
		if (!child) {
			if (nod_lockdown_switcher(pair[0], 99, NULL))
				_exit(2);
			if (send(pair[0], "ok", 2, 0) != 2)
				_exit(3);
			attempts[i]();
			_exit(1);
		}
		assert_int_equal(waitpid(child, &status, 0), child);
		assert_true(WIFSIGNALED(status));
		assert_int_equal(WTERMSIG(status), SIGSYS);
	}
	close(pair[0]);
	close(pair[1]);
}

static void finds_accounts(void **state)
{
	struct nod_account account;
	struct nod_error err;

	(void)state;
	assert_int_equal(nod_account_find(&account, NULL, NULL, &err), 0);
	assert_int_equal(account.uid, geteuid());
	assert_int_equal(nod_account_find(&account, "no such user", NULL, &err), -ENOENT);
	assert_string_equal(err.text, "there is no user `no such user`");
	assert_int_equal(nod_account_find(&account, NULL, "no such group", &err), -ENOENT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(gives_everything_up),
		cmocka_unit_test(keeps_one_capability_in_the_other_process),
		cmocka_unit_test(says_when_the_other_process_has_ended),
		cmocka_unit_test(needs_none_without_a_capability),
		cmocka_unit_test(takes_two_requests_only),
		cmocka_unit_test(the_filter_kills),
		cmocka_unit_test(finds_accounts),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
