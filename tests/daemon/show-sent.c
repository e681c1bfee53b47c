/* SPDX-License-Identifier: MIT */
/* Loaded into another program (LD_PRELOAD): writes the bytes it hands to sendmsg() to standard
 * error, in hex, a line for each, and hands them on. */
#include <dlfcn.h>
#include <stdio.h>
#include <sys/socket.h>

ssize_t sendmsg(int fd, const struct msghdr *message, int flags)
{
	ssize_t (*real)(int, const struct msghdr *, int);

	*(void **)&real = dlsym(RTLD_NEXT, "sendmsg");
	for (size_t i = 0; i < message->msg_iovlen; i++)
		for (size_t k = 0; k < message->msg_iov[i].iov_len; k++)
			fprintf(stderr, "%02x", ((unsigned char *)message->msg_iov[i].iov_base)[k]);
	fputc('\n', stderr);
	return real(fd, message, flags);
}
