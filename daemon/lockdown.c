/* SPDX-License-Identifier: MIT */
#include "lockdown.h"

#include <errno.h>
#include <fcntl.h>
#include <seccomp.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* The kernel takes a descriptor or a family as 32 bits; seccomp sees 64. */
#define LOW_WORD UINT64_C(0xFFFFFFFF)

/* Allowed whatever their arguments: none of them can carry data to a socket,
 * copy a descriptor, or start a program. */
/* clang-format off */
static const int harmless[] = {
	/* reading */
	SCMP_SYS(read), SCMP_SYS(readv), SCMP_SYS(pread64), SCMP_SYS(recvfrom), SCMP_SYS(recvmsg),
	SCMP_SYS(recvmmsg), SCMP_SYS(lseek),
	/* files */
	SCMP_SYS(open), SCMP_SYS(openat), SCMP_SYS(close), SCMP_SYS(stat), SCMP_SYS(fstat),
	SCMP_SYS(lstat), SCMP_SYS(newfstatat), SCMP_SYS(statx), SCMP_SYS(statfs),
	SCMP_SYS(fstatfs), SCMP_SYS(access), SCMP_SYS(faccessat), SCMP_SYS(faccessat2),
	SCMP_SYS(getdents64), SCMP_SYS(mkdir), SCMP_SYS(mkdirat), SCMP_SYS(rename),
	SCMP_SYS(renameat), SCMP_SYS(renameat2), SCMP_SYS(unlink), SCMP_SYS(unlinkat),
	SCMP_SYS(rmdir), SCMP_SYS(fsync), SCMP_SYS(fdatasync), SCMP_SYS(sync_file_range),
	SCMP_SYS(ftruncate), SCMP_SYS(fallocate), SCMP_SYS(fadvise64), SCMP_SYS(flock),
	SCMP_SYS(readlink), SCMP_SYS(readlinkat), SCMP_SYS(getcwd), SCMP_SYS(umask),
	SCMP_SYS(link), SCMP_SYS(linkat), SCMP_SYS(chmod), SCMP_SYS(fchmod), SCMP_SYS(fchmodat),
	/* sockets: making and ending connections */
	SCMP_SYS(bind), SCMP_SYS(listen), SCMP_SYS(accept), SCMP_SYS(accept4),
	SCMP_SYS(shutdown), SCMP_SYS(getsockname), SCMP_SYS(getpeername), SCMP_SYS(getsockopt),
	SCMP_SYS(setsockopt), SCMP_SYS(ioctl),
	/* waiting and time */
	SCMP_SYS(epoll_create1), SCMP_SYS(epoll_ctl), SCMP_SYS(epoll_wait), SCMP_SYS(epoll_pwait),
	SCMP_SYS(epoll_pwait2), SCMP_SYS(poll), SCMP_SYS(ppoll), SCMP_SYS(select),
	SCMP_SYS(pselect6), SCMP_SYS(eventfd2), SCMP_SYS(timerfd_create), SCMP_SYS(timerfd_settime),
	SCMP_SYS(pipe2), SCMP_SYS(clock_gettime), SCMP_SYS(clock_getres), SCMP_SYS(gettimeofday),
	SCMP_SYS(time), SCMP_SYS(clock_nanosleep), SCMP_SYS(nanosleep),
	/* memory, signals, identity, ending */
	SCMP_SYS(brk), SCMP_SYS(mmap), SCMP_SYS(munmap), SCMP_SYS(mremap), SCMP_SYS(mprotect),
	SCMP_SYS(madvise), SCMP_SYS(futex), SCMP_SYS(rt_sigaction), SCMP_SYS(rt_sigprocmask),
	SCMP_SYS(rt_sigreturn), SCMP_SYS(sigaltstack), SCMP_SYS(restart_syscall),
	SCMP_SYS(getpid), SCMP_SYS(gettid), SCMP_SYS(getuid), SCMP_SYS(geteuid), SCMP_SYS(getgid),
	SCMP_SYS(getegid), SCMP_SYS(tgkill), SCMP_SYS(getrandom), SCMP_SYS(sysinfo),
	SCMP_SYS(uname), SCMP_SYS(getrusage), SCMP_SYS(prlimit64), SCMP_SYS(sched_yield),
	SCMP_SYS(sched_getaffinity), SCMP_SYS(rseq), SCMP_SYS(exit), SCMP_SYS(exit_group),
};
/* clang-format on */

/* Allowed only for descriptors below the reserved numbers. */
static const int carrying[] = {
	SCMP_SYS(write),    SCMP_SYS(writev), SCMP_SYS(pwrite64), SCMP_SYS(pwritev),
	SCMP_SYS(pwritev2), SCMP_SYS(sendto), SCMP_SYS(sendmsg),  SCMP_SYS(sendmmsg),
};

static const int tcp_families[] = {AF_INET, AF_INET6};

static const int fcntl_commands[] = {F_GETFD, F_SETFD, F_GETFL, F_SETFL, F_SETLK, F_OFD_SETLK};

int nod_lockdown_reserve(int fd)
{
	int moved = fcntl(fd, F_DUPFD_CLOEXEC, NOD_LOCKDOWN_FIRST_CAN_FD);
	int code = errno;

	close(fd);
	return moved < 0 ? -code : moved;
}

static int allow_all(scmp_filter_ctx filter, const int *calls, size_t count)
{
	int status = 0;

	for (size_t i = 0; i < count && !status; i++) {
		if (calls[i] < 0)
			continue; /* this machine does not have it */
		status = seccomp_rule_add(filter, SCMP_ACT_ALLOW, calls[i], 0);
	}
	return status;
}

/* Allows a call only when the bits of `mask` in argument `arg` equal `value`. */
static int allow_masked(scmp_filter_ctx filter, int call, unsigned arg, uint64_t mask,
			uint64_t value)
{
	struct scmp_arg_cmp comparison = {arg, SCMP_CMP_MASKED_EQ, mask, value};

	if (call < 0)
		return 0;
	return seccomp_rule_add_array(filter, SCMP_ACT_ALLOW, call, 1, &comparison);
}

/* Sockets to connect to where the battery current comes from, and no others. */
static int allow_sockets(scmp_filter_ctx filter, enum nod_lockdown_sockets sockets)
{
	static const int connecting[] = {SCMP_SYS(connect)};
	int status = sockets == NOD_LOCKDOWN_NO_SOCKETS ? 0 : allow_all(filter, connecting, 1);

	if (!status && sockets == NOD_LOCKDOWN_UNIX_SOCKETS)
		status = allow_masked(filter, SCMP_SYS(socket), 0, LOW_WORD, AF_UNIX);
	for (size_t i = 0; i < COUNT(tcp_families) && !status; i++)
		if (sockets == NOD_LOCKDOWN_TCP_SOCKETS)
			status = allow_masked(filter, SCMP_SYS(socket), 0, LOW_WORD,
					      (uint64_t)tcp_families[i]);
	return status;
}

static int fill(scmp_filter_ctx filter, enum nod_lockdown_sockets sockets)
{
	uint64_t reserved = LOW_WORD & ~(uint64_t)(NOD_LOCKDOWN_FIRST_CAN_FD - 1);
	int status = allow_all(filter, harmless, COUNT(harmless));

	for (size_t i = 0; i < COUNT(carrying) && !status; i++)
		status = allow_masked(filter, carrying[i], 0, reserved, 0);
	if (!status)
		status = allow_sockets(filter, sockets);
	for (size_t i = 0; i < COUNT(fcntl_commands) && !status; i++)
		status = allow_masked(filter, SCMP_SYS(fcntl), 1, LOW_WORD,
				      (uint64_t)fcntl_commands[i]);
	return status;
}

static int low_can_socket(void)
{
	for (int fd = 0; fd < NOD_LOCKDOWN_FIRST_CAN_FD; fd++) {
		int domain = 0;
		socklen_t length = sizeof(domain);
		if (!getsockopt(fd, SOL_SOCKET, SO_DOMAIN, &domain, &length) &&
		    (domain == AF_CAN || domain == AF_PACKET))
			return fd;
	}
	return -1;
}

/* Loads and frees a filter whose making ended with `status`. */
static int install(scmp_filter_ctx filter, int status, struct nod_error *err)
{
	if (!status)
		status = seccomp_load(filter);
	seccomp_release(filter);
	if (status)
		return nod_error_set(err, -status, "cannot install the filter against sending: %s",
				     strerror(-status));
	return 0;
}

int nod_lockdown(enum nod_lockdown_sockets sockets, struct nod_error *err)
{
	scmp_filter_ctx filter;
	int status, fd = low_can_socket();

	if (fd >= 0)
		return nod_error_set(err, EBADF, "descriptor %d is a CAN socket", fd);
	filter = seccomp_init(SCMP_ACT_ERRNO(EPERM));
	if (!filter)
		return nod_error_set(err, ENOMEM, "out of memory");
	status = fill(filter, sockets);
	return install(filter, status, err);
}

int nod_lockdown_switcher(int channel, int netlink, struct nod_error *err)
{
	static const int calls[] = {SCMP_SYS(recvfrom), SCMP_SYS(sendto)};
	static const int ending[] = {SCMP_SYS(exit_group)};
	scmp_filter_ctx filter = seccomp_init(SCMP_ACT_KILL_PROCESS);
	int status;

	if (!filter)
		return nod_error_set(err, ENOMEM, "out of memory");
	status = allow_all(filter, ending, COUNT(ending));
	for (size_t i = 0; i < COUNT(calls) && !status; i++) {
		status = allow_masked(filter, calls[i], 0, LOW_WORD, (uint64_t)channel);
		if (!status)
			status = allow_masked(filter, calls[i], 0, LOW_WORD, (uint64_t)netlink);
	}
	return install(filter, status, err);
}
