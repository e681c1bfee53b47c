/* SPDX-License-Identifier: MIT */
/* Tries every way to send on a CAN socket under nodoffd's own filter.
 *
 * usage: try-to-send INTERFACE
 *
 * Sends one frame before the filter is installed, to show that it can, then
 * installs it and tries again in every way known. Prints what each attempt
 * did; exit status 0 when every one was refused with EPERM. */
#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <linux/can/raw.h>
#include <net/if.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/sendfile.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

#include "lockdown.h"

static struct can_frame frame = {.can_id = 0x666, .len = 2, .data = {0xDE, 0xAD}};
static struct iovec vector = {&frame, sizeof(frame)};
static int can, file, pipe_ends[2];

/* With bits above the 32 that the kernel looks at. */
#define HIGH_BITS(fd) ((long)((fd) | 0x7LL << 32))

static long try_write(void)
{
	return write(can, &frame, sizeof(frame));
}
static long try_write_high_bits(void)
{
	return syscall(SYS_write, HIGH_BITS(can), &frame, sizeof(frame));
}
static long try_writev(void)
{
	return writev(can, &vector, 1);
}
static long try_pwrite(void)
{
	return pwrite(can, &frame, sizeof(frame), 0);
}
static long try_pwritev2(void)
{
	return pwritev2(can, &vector, 1, -1, 0);
}
static long try_send(void)
{
	return send(can, &frame, sizeof(frame), 0);
}

static long try_sendto(void)
{
	struct sockaddr_can to = {.can_family = AF_CAN, .can_ifindex = 2};

	return sendto(can, &frame, sizeof(frame), 0, (struct sockaddr *)&to, sizeof(to));
}

static long try_sendmsg(void)
{
	struct msghdr message = {.msg_iov = &vector, .msg_iovlen = 1};

	return sendmsg(can, &message, 0);
}

static long try_sendmmsg(void)
{
	struct mmsghdr message = {.msg_hdr = {.msg_iov = &vector, .msg_iovlen = 1}};

	return sendmmsg(can, &message, 1, 0);
}

static long try_sendfile(void)
{
	return sendfile(can, file, NULL, sizeof(frame));
}
static long try_splice(void)
{
	return splice(pipe_ends[0], NULL, can, NULL, sizeof(frame), 0);
}
static long try_copy(void)
{
	return copy_file_range(file, NULL, can, NULL, sizeof(frame), 0);
}
static long try_dup(void)
{
	return dup(can);
}
static long try_dup2(void)
{
	return dup2(can, 20);
}
static long try_dup3(void)
{
	return dup3(can, 20, O_CLOEXEC);
}
static long try_dupfd(void)
{
	return fcntl(can, F_DUPFD, 3);
}
static long try_dupfd_high_bits(void)
{
	return syscall(SYS_fcntl, can, HIGH_BITS(F_DUPFD), 3);
}
static long try_can_socket(void)
{
	return socket(PF_CAN, SOCK_RAW, CAN_RAW);
}
static long try_broadcast_socket(void)
{
	return socket(PF_CAN, SOCK_DGRAM, CAN_BCM);
}
static long try_packet_socket(void)
{
	return socket(AF_PACKET, SOCK_RAW, 0);
}
static long try_high_bits_socket(void)
{
	return syscall(SYS_socket, HIGH_BITS(PF_CAN), SOCK_RAW, CAN_RAW);
}
static long try_io_uring(void)
{
	return syscall(SYS_io_uring_setup, 4, NULL);
}
static long try_aio(void)
{
	return syscall(SYS_io_setup, 4, NULL);
}
static long try_pidfd(void)
{
	return syscall(SYS_pidfd_open, getpid(), 0);
}

static long try_program(void)
{
	char *arguments[] = {"cansend", "can0", "666#DEAD", NULL};

	return execv("/bin/cansend", arguments);
}

static const struct {
	const char *name;
	long (*attempt)(void);
} attempts[] = {
	{"write", try_write},
	{"write, high bits", try_write_high_bits},
	{"writev", try_writev},
	{"pwrite", try_pwrite},
	{"pwritev2", try_pwritev2},
	{"send", try_send},
	{"sendto", try_sendto},
	{"sendmsg", try_sendmsg},
	{"sendmmsg", try_sendmmsg},
	{"sendfile", try_sendfile},
	{"splice", try_splice},
	{"copy_file_range", try_copy},
	{"dup", try_dup},
	{"dup2", try_dup2},
	{"dup3", try_dup3},
	{"F_DUPFD", try_dupfd},
	{"F_DUPFD, high bits", try_dupfd_high_bits},
	{"another CAN socket", try_can_socket},
	{"a broadcast manager socket", try_broadcast_socket},
	{"a packet socket", try_packet_socket},
	{"another CAN socket, high bits", try_high_bits_socket},
	{"io_uring", try_io_uring},
	{"asynchronous I/O", try_aio},
	{"a descriptor of the process", try_pidfd},
	{"another program", try_program},
};

static int open_can(const char *interface)
{
	struct sockaddr_can address = {.can_family = AF_CAN,
				       .can_ifindex = (int)if_nametoindex(interface)};
	int fd = socket(PF_CAN, SOCK_RAW, CAN_RAW);

	if (fd < 0 || bind(fd, (struct sockaddr *)&address, sizeof(address))) {
		perror(interface);
		exit(2);
	}
	return nod_lockdown_reserve(fd);
}

int main(int argc, char **argv)
{
	struct nod_error err;
	int sent = 0;

	if (argc != 2)
		return 2;
	can = open_can(argv[1]);
	file = open("/proc/self/exe", O_RDONLY);
	if (pipe(pipe_ends) || write(pipe_ends[1], &frame, sizeof(frame)) != sizeof(frame))
		return 2;
	printf("before the filter: %s\n", try_write() == sizeof(frame) ? "sent" : strerror(errno));
	if (nod_lockdown(NOD_LOCKDOWN_NO_SOCKETS, &err)) {
		puts(err.text);
		return 2;
	}
	for (size_t i = 0; i < sizeof(attempts) / sizeof(attempts[0]); i++) {
		long result = attempts[i].attempt();
		int refused = result < 0 && errno == EPERM;
		printf("%s: %s\n", attempts[i].name, result < 0 ? strerror(errno) : "DONE");
		sent += !refused;
	}
	return sent ? 1 : 0;
}
